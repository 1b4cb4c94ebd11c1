"""Overnights folded by month: what they say of the bank.

- `night_end_v`: the voltage at the end of a night that was switched off, of one 12 V block, freed
  of how deep the bank was drawn (a line over all nights), V
- `bank_capacity_ah`: ln of the 20-hour capacity that a night ended by the cutoff shows, over the
  rated capacity: Peukert, temperature and the part usable above the cutoff allowed for

Nights within a month share weather and driver, so a month counts as one observation.
"""

import numpy as np
import pandas as pd

from installs.engineering import battery

__all__ = ["night_features"]

MONTH_T = 1 / 12
COLUMNS = ["unit", "tractor", "t", "battery_type", "feature", "y"]
# A shorter or smaller night says little of the bank.
LEAST_RUN_H, LEAST_DRAWN_AH = 1.5, 15.0


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
    nights["depth"] = nights["drawn_ah"] / nights["rated_ah"]
    by_type = [_of_type(group, kind) for kind, group in nights.groupby("battery_type")]
    return pd.concat(by_type, ignore_index=True)[COLUMNS]


def _of_type(nights: pd.DataFrame, battery_type: str) -> pd.DataFrame:
    cut = nights["ended_by"] == "cutoff"
    switched = nights[~cut & nights["end_v"].notna()]
    ended = switched.assign(
        feature="night_end_v",
        y=_freed_of_depth(switched["end_v"] * 12 / switched["system_v"], switched["depth"]),
    )
    emptied = nights[cut]
    emptied = emptied.assign(feature="bank_capacity_ah", y=_capacity(emptied, battery_type))
    both = pd.concat([ended, emptied])
    both["month"] = np.floor(both["t"] / MONTH_T)
    keys = ["unit", "tractor", "feature", "month"]
    folded = both.groupby(keys, as_index=False)[["t", "y"]].median()
    return folded.assign(battery_type=battery_type)


def _freed_of_depth(end_v: pd.Series, depth: pd.Series) -> pd.Series:
    """What a line of end voltage over depth leaves, at half depth; robust by its medians."""
    if len(end_v) < 20 or depth.std() < 1e-6:
        return end_v
    low, high = depth.quantile([1 / 3, 2 / 3])
    deep, shallow = depth >= high, depth <= low
    run = depth[deep].median() - depth[shallow].median()
    slope = (end_v[deep].median() - end_v[shallow].median()) / run if run > 0.02 else 0.0
    return end_v - min(slope, 0.0) * (depth - 0.5)


def _capacity(nights: pd.DataFrame, battery_type: str) -> pd.Series:
    """ln of the capacity shown over the rated capacity."""
    amps = nights["drawn_ah"] / nights["run_h"]
    cutoff_v = nights["cutoff_v"].fillna(11.0 * nights["system_v"] / 12)
    usable = battery.usable_fraction(cutoff_v, battery_type, nights["system_v"])
    whole_ah = nights["drawn_ah"] / usable
    shown = battery.capacity_at_20h(whole_ah, amps, battery.PEUKERT_EXPONENT[battery_type])
    shown = shown / battery.capacity_factor(nights["ambient_c"].fillna(25.0), battery_type)
    return np.log(shown / nights["rated_ah"])
