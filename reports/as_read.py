"""What the record holds behind each value that the screen sees: the plain feature, and its readings."""

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

import numpy as np
import pandas as pd
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetcool.quantities import System
from fleetcool.wording import amount
from reports.analysis.nights import MONTH_T
from reports.frames import moment_of
from reports.knowledge import FleetFrames
from reports.series import measured
from reports.timeline import READ

__all__ = ["AsRead", "Record"]

LABELS = {name: (kind, label) for name, kind, label in READ} | {
    "rest_h": ("hours", lambda: _("rested")),
    "battery_c": ("temperature", lambda: _("battery")),
}
INPUTS = {
    "condensing_lift_k": ("discharge_kpa", "ambient_c"),
    "evaporating_depression_k": ("suction_kpa", "return_air_c"),
    "superheat_k": ("suction_line_c", "suction_kpa"),
    "subcooling_k": ("liquid_line_c", "discharge_kpa"),
    "rest_v": ("rest_v", "rest_h", "battery_c"),
    "resistance_mohm": ("rest_v", "load_v", "load_a"),
}
BY_PRESSURE = ("suction_kpa", "discharge_kpa")
OF_NIGHTS = "bank_capacity_ah"


class AsRead(NamedTuple):
    """A value before weather, gauge and load are taken out, and the readings it comes from."""

    value: float
    words: str


class Record:
    """One unit's record as far as its frames hold it, that is, as far as a person may see it."""

    def __init__(self, frames: FleetFrames, system: System) -> None:
        self._system = system
        self._frames = frames
        self._readings, self._values = measured(frames)
        moments = map(moment_of, self._readings["t"])
        self._row = dict(zip(moments, range(len(self._readings)), strict=True))

    def behind(self, feature: str, t: float) -> AsRead | None:
        """What was read behind a feature's value at a time; None where this person sees none."""
        if feature == OF_NIGHTS:
            return self._nights(t)
        row = self._row.get(moment_of(t))
        if row is None or not np.isfinite(value := self._values[feature].iloc[row]):
            return None
        return AsRead(float(value), ", ".join(self._words(feature, self._readings.iloc[row])))

    def gauged(self, feature: str, moments: list[datetime]) -> pd.DataFrame:
        """The readings at these moments, if the feature rests on a pressure gauge."""
        if not set(INPUTS.get(feature, ())) & set(BY_PRESSURE):
            return self._readings[:0]
        return self._readings.iloc[[self._row[moment] for moment in moments]]

    def _words(self, feature: str, reading: pd.Series) -> Iterator[str]:
        for name in INPUTS[feature]:
            if pd.notna(reading[name]):
                kind, label = LABELS[name]
                yield f"{label()} {amount(float(reading[name]), kind, self._system)}"
        if reading["gauge"] and set(INPUTS[feature]) & set(BY_PRESSURE):
            yield _("gauge %(gauge)s") % {"gauge": reading["gauge"]}

    def _nights(self, t: float) -> AsRead | None:
        nights = self._frames.overnights
        month = np.floor(nights["t"] / MONTH_T) == np.floor(t / MONTH_T)
        read = nights.loc[month, "drawn_ah"].dropna()
        if read.empty:
            return None
        counted = ngettext("%(n)d night", "%(n)d nights", len(read)) % {"n": len(read)}
        return AsRead(float(read.median()), _("median drawn in %(n)s") % {"n": counted})
