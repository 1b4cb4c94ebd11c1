"""Overnights folded by month: what they say of the bank.

- `night_end_v`: the voltage at the end of a night that was switched off, of one 12 V block, freed
  of how deep the bank was drawn: as on a night of middling depth, V
- `bank_capacity_ah`: ln of the 20-hour capacity that a night ended by the cutoff shows, over the
  rated capacity: Peukert, temperature and the part usable above the cutoff allowed for

Nights within a month share weather and driver, so a month counts as one observation; one of few
nights is a coarser one.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from installs.engineering import battery

__all__ = ["night_features"]

MONTH_T = 1 / 12
COLUMNS = ["unit", "tractor", "t", "ambient", "coarseness", "feature", "y"]
# A shorter or smaller night says little of the bank.
LEAST_RUN_H, LEAST_DRAWN_AH = 1.5, 15.0
BINS = 16


def night_features(nights: pd.DataFrame) -> pd.DataFrame:
    """Return one row a unit, month and feature from overnights merged with their bank."""
    nights = nights[
        (nights["run_h"] >= LEAST_RUN_H)
        & (nights["drawn_ah"] >= LEAST_DRAWN_AH)
        & nights["battery_count"].notna()
    ].copy()
    if nights.empty:
        return pd.DataFrame(columns=COLUMNS)
    nights["rated_ah"] = battery.bank_ah(
        nights["battery_count"], nights["battery_ah"], nights["system_v"]
    )
    by_type = [_of_type(group, kind) for kind, group in nights.groupby("battery_type")]
    return pd.concat(by_type, ignore_index=True)[COLUMNS]


def _of_type(nights: pd.DataFrame, battery_type: str) -> pd.DataFrame:
    amps = nights["drawn_ah"] / nights["run_h"]
    exponent = battery.PEUKERT_EXPONENT[battery_type]
    warm = battery.capacity_factor(nights["ambient_c"].fillna(25.0), battery_type)
    cut = nights["ended_by"] == "cutoff"
    switched = nights[~cut & nights["end_v"].notna()]
    whole_ah = battery.hours(nights["rated_ah"] * warm, amps, exponent) * amps
    depth = (nights["drawn_ah"] / whole_ah)[switched.index]
    ended = switched.assign(
        feature="night_end_v",
        y=_freed_of_depth(switched["end_v"] * 12 / switched["system_v"], depth),
    )
    emptied = nights[cut]
    emptied = emptied.assign(
        feature="bank_capacity_ah", y=_capacity(emptied, amps[cut], warm[cut], battery_type)
    )
    both = pd.concat([ended, emptied])
    both["month"] = np.floor(both["t"] / MONTH_T)
    keys = ["unit", "tractor", "feature", "month"]
    by_month = both.groupby(keys, as_index=False)
    folded = by_month[["t", "y", "ambient_c"]].median()
    folded["coarseness"] = np.sqrt((1 + 3 / by_month.size()["size"]) / 1.75)
    return folded.rename(columns={"ambient_c": "ambient"})


def _freed_of_depth(end_v: pd.Series, depth: pd.Series) -> pd.Series:
    """End voltage as it would be on a night of middling depth, by the curve all nights draw."""
    if len(end_v) < 10 * BINS:
        return end_v
    ranks = pd.qcut(depth, BINS, labels=False, duplicates="drop")
    curve = pd.DataFrame({"depth": depth, "v": end_v}).groupby(ranks).median()
    middling_v = np.interp(depth.median(), curve["depth"], curve["v"])
    return end_v - np.interp(depth, curve["depth"], curve["v"]) + middling_v


def _capacity(nights: pd.DataFrame, amps: pd.Series, warm: NDArray, battery_type: str) -> pd.Series:
    """ln of the 20-hour capacity shown at 25 °C over the rated capacity."""
    cutoff_v = nights["cutoff_v"].fillna(11.0 * nights["system_v"] / 12)
    usable = battery.usable_fraction(cutoff_v, battery_type, nights["system_v"])
    whole_ah = nights["drawn_ah"] / usable
    shown = battery.capacity_at_20h(whole_ah, amps, battery.PEUKERT_EXPONENT[battery_type])
    return np.log(shown / warm / nights["rated_ah"])
