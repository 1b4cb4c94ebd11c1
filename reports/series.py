"""One unit's features over time, and the epochs that divide them, for its page and its card."""

from dataclasses import dataclass
from datetime import date, datetime

import pandas as pd

from fleetcool.models import Person
from installs.models import Unit
from reports.analysis.features import reading_features
from reports.epochs import bank_epochs, circuit_epochs
from reports.exports.charts import Epoch
from reports.frames import fleet_frames, moment_of
from reports.knowledge import FleetFrames

__all__ = ["DRAWN", "UnitSeries", "measured", "unit_series"]

DRAWN = "drawn_ah"


@dataclass(frozen=True)
class UnitSeries:
    """`features` maps a feature name, or `drawn_ah` (a night's), to its (time, value) pairs.

    Only what was taken is there; values are in internal units. `epochs` are the days on which a
    series begins anew, each with its reason: those of the circuit, and those of the bank.
    """

    features: dict[str, list[tuple[datetime, float]]]
    circuit_epochs: list[Epoch]
    bank_epochs: list[Epoch]


def unit_series(unit: Unit, user: Person, as_of: date) -> UnitSeries:
    """Return what a person may see of one unit up to the end of a day."""
    frames = fleet_frames(Unit.objects.filter(pk=unit.pk), as_of, user)
    readings, values = measured(frames)
    features = {name: _pairs(readings["t"], values[name]) for name in values}
    nights = frames.overnights.sort_values("t")
    features[DRAWN] = _pairs(nights["t"], nights["drawn_ah"])
    taken = {name: pairs for name, pairs in features.items() if pairs}
    return UnitSeries(taken, circuit_epochs(frames, user.unit_system), bank_epochs(frames))


def measured(frames: FleetFrames) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the readings in order of time, and beside them the features they give."""
    readings = frames.readings.merge(
        frames.units[["unit", "refrigerant", "system_v"]], on="unit"
    ).sort_values("t")
    return readings, reading_features(readings)


def _pairs(t: pd.Series, values: pd.Series) -> list[tuple[datetime, float]]:
    taken = values.notna().to_numpy()
    return [
        (moment_of(when), float(value)) for when, value in zip(t[taken], values[taken], strict=True)
    ]
