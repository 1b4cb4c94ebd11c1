"""The days on which a unit's series begin anew or were touched, each with its words."""

from collections.abc import Iterator
from itertools import groupby

import pandas as pd
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.quantities import System
from fleetcool.wording import amount
from reports.exports.charts import Epoch
from reports.frames import day_of
from reports.knowledge import DAY_T, FleetFrames

__all__ = ["bank_epochs", "circuit_epochs", "gauge_epochs", "one_a_day"]

MOVED = {
    "charged": gettext_lazy("charged %(mass)s"),
    "added": gettext_lazy("topped up %(mass)s"),
    "recovered": gettext_lazy("recovered %(mass)s"),
}


def circuit_epochs(frames: FleetFrames, system: System) -> list[Epoch]:
    """Installs and what was put in or taken out of one unit's circuit, in a person's units."""
    moved = [
        _epoch(t, MOVED[kind] % {"mass": amount(mass_g, "mass", system)}, kind)
        for t, kind, mass_g in _rows(frames.movements, "t", "movement", "mass_g")
    ]
    return one_a_day([*_installs(frames), *moved])


def bank_epochs(frames: FleetFrames) -> list[Epoch]:
    """Installs of one unit, and what was renewed of the bank while it stood in that truck."""
    spans = frames.installs
    renewed = [
        _epoch(t, _("batteries renewed"))
        for tractor, t in _rows(frames.renewals, "tractor", "t")
        if (
            (spans["tractor"] == tractor)
            & (spans["installed_t"] - DAY_T <= t)
            & ~(spans["removed_t"] < t)
        ).any()
    ]
    return one_a_day([*_installs(frames), *renewed])


def gauge_epochs(readings: pd.DataFrame) -> list[Epoch]:
    """The readings of one unit that were taken with another gauge than the one before."""
    named = readings[readings["gauge"] != ""].sort_values("t")
    changed = named[(named["gauge"] != named["gauge"].shift()) & named["gauge"].shift().notna()]
    return [
        Epoch(day_of(t), _("gauge %(gauge)s") % {"gauge": gauge}, "tool")
        for t, gauge in _rows(changed, "t", "gauge")
    ]


def one_a_day(epochs: list[Epoch]) -> list[Epoch]:
    """One epoch a day, with all its words; what was put in gives it its shape."""
    days = groupby(sorted(epochs), key=lambda epoch: epoch.day)
    merged = []
    for day, same in days:
        same = list(same)
        words = dict.fromkeys(epoch.word for epoch in same)
        shapes = {epoch.shape for epoch in same}
        merged.append(Epoch(day, ", ".join(words), "added" if "added" in shapes else "break"))
    return merged


def _installs(frames: FleetFrames) -> Iterator[Epoch]:
    """Where the unit came into a truck; a truck that was sold with it in it begins nothing."""
    before, left_t = None, None
    spans = frames.installs.sort_values("installed_t")
    for t, removed_t, tractor in _rows(spans, "installed_t", "removed_t", "tractor"):
        if tractor != before or t != left_t:
            moved = before is not None and tractor != before
            yield _epoch(t, _("moved to another truck") if moved else _("installed"))
        before, left_t = tractor, removed_t


def _epoch(t: float, word: str, kind: str = "") -> Epoch:
    return Epoch(day_of(t), str(word), "added" if kind == "added" else "break")


def _rows(frame: pd.DataFrame, *columns: str) -> Iterator[tuple]:
    return zip(*(frame[name] for name in columns), strict=True)
