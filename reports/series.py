"""One unit's features over time, and the epochs that divide them, for its page and its card."""

from dataclasses import dataclass
from datetime import date, datetime

import pandas as pd
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.models import Person
from installs.models import Unit
from reports.analysis.features import reading_features
from reports.frames import day_of, fleet_frames, moment_of

__all__ = ["UnitSeries", "unit_series"]

DRAWN = "drawn_ah"
MOVED = {
    "charged": gettext_lazy("charged"),
    "added": gettext_lazy("topped up"),
    "recovered": gettext_lazy("recovered"),
}


@dataclass(frozen=True)
class UnitSeries:
    """`features` maps a feature name, or `drawn_ah` (a night's), to its (time, value) pairs.

    Only what was taken is there; values are in internal units. `epochs` are the days on which a
    series begins anew, each with its reason: those of the circuit, and those of the bank.
    """

    features: dict[str, list[tuple[datetime, float]]]
    circuit_epochs: list[tuple[date, str]]
    bank_epochs: list[tuple[date, str]]


def unit_series(unit: Unit, user: Person, as_of: date) -> UnitSeries:
    """Return what a person may see of one unit up to the end of a day."""
    frames = fleet_frames(Unit.objects.filter(pk=unit.pk), as_of, user)
    readings = frames.readings.merge(
        frames.units[["unit", "refrigerant", "system_v"]], on="unit"
    ).sort_values("t")
    values = reading_features(readings)
    features = {name: _pairs(readings["t"], values[name]) for name in values}
    nights = frames.overnights.sort_values("t")
    features[DRAWN] = _pairs(nights["t"], nights["drawn_ah"])
    taken = {name: pairs for name, pairs in features.items() if pairs}
    installed = [(t, _("installed")) for t in frames.installs["installed_t"]]
    moved = [
        (t, MOVED[kind])
        for t, kind in zip(frames.movements["t"], frames.movements["movement"], strict=True)
    ]
    renewed = [(t, _("batteries renewed")) for t in frames.renewals["t"]]
    return UnitSeries(taken, _days(installed + moved), _days(installed + renewed))


def _pairs(t: pd.Series, values: pd.Series) -> list[tuple[datetime, float]]:
    taken = values.notna().to_numpy()
    return [
        (moment_of(when), float(value)) for when, value in zip(t[taken], values[taken], strict=True)
    ]


def _days(marks: list[tuple[float, str]]) -> list[tuple[date, str]]:
    days = sorted({(day_of(t), str(word)) for t, word in marks})
    return [(day, word) for day, word in days if day]
