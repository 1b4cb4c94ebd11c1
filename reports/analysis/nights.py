"""Overnights folded by month: the capacity that the bank shows.

`bank_capacity_ah` is ln of the 20-hour capacity at 25 °C over the rated one. A night draws some
ampere-hours and ends at some voltage under load, by the switch or by the cutoff; the voltage tells
what part of the bank is used up, and the ampere-hours over that part are the bank's. Peukert and
temperature are allowed for. How voltage falls with use is a table before any fleet is seen; the
fleet's own nights bend it.

Nights within a month share weather and driver, so a month counts as one observation, the deeper
nights for more; one of few or shallow nights is a coarser one.
"""

import numpy as np
import pandas as pd

from installs.engineering import battery

__all__ = ["night_features"]

MONTH_T = 1 / 12
COLUMNS = ["unit", "tractor", "t", "ambient", "coarseness", "feature", "y"]
# A shorter or smaller night says little of the bank; nor does a voltage near full or empty.
LEAST_RUN_H, LEAST_DRAWN_AH, LEAST_USED = 1.5, 15.0, 0.15
# The part used up is told to so much by one night's voltages: 30 mV of 1.3 V at the end, and a bank
# that was full give or take 2.5 %. What the nights of a month share, and what is usual of a month.
USED_NOISE, SHARED_NOISE, USUAL_NOISE = 0.035, 0.02, 0.03
BINS = 16
# So many banks must agree before half of what they share is believed to be the month's.
FEW_BANKS = 10


def night_features(nights: pd.DataFrame) -> pd.DataFrame:
    """Return one row a unit and month from overnights merged with their bank."""
    nights = nights[
        (nights["run_h"] >= LEAST_RUN_H)
        & (nights["drawn_ah"] >= LEAST_DRAWN_AH)
        & nights["battery_count"].notna()
    ].copy()
    cutoff_v = nights["cutoff_v"].fillna(11.0 * nights["system_v"] / 12)
    nights["end_v"] = nights["end_v"].fillna(cutoff_v.where(nights["ended_by"] == "cutoff"))
    nights = nights[nights["end_v"].notna()]
    if nights.empty:
        return pd.DataFrame(columns=COLUMNS)
    nights["rated_ah"] = battery.bank_ah(
        nights["battery_count"], nights["battery_ah"], nights["system_v"], nights["battery_type"]
    )
    by_type = [_of_type(group, kind) for kind, group in nights.groupby("battery_type")]
    return _freed_of_the_month(pd.concat(by_type, ignore_index=True))[COLUMNS]


def _freed_of_the_month(folded: pd.DataFrame) -> pd.DataFrame:
    """What a month does to all banks alike is its weather, and no bank's fault."""
    own = folded["y"] - folded.groupby(["unit", "tractor"])["y"].transform("median")
    by_month = own.groupby(folded["month"])
    banks = by_month.transform("size")
    shared = by_month.transform("median") * banks / (banks + FEW_BANKS)
    return folded.assign(y=folded["y"] - shared)


def _of_type(nights: pd.DataFrame, battery_type: str) -> pd.DataFrame:
    block_v = nights["end_v"] * 12 / nights["system_v"]
    used = pd.Series(battery.usable_fraction(block_v, battery_type), nights.index)
    told = used >= LEAST_USED
    if battery_type == "lifepo4":
        # Its voltage is flat until the end: only a night that reached the end tells anything.
        told &= nights["ended_by"] == "cutoff"
    nights, used, block_v = nights[told], used[told], block_v[told]
    amps = nights["drawn_ah"] / nights["run_h"]
    warm = battery.capacity_factor(nights["ambient_c"].fillna(25.0), battery_type)
    shown_ah = battery.capacity_at_20h(
        nights["drawn_ah"] / used, amps, battery.PEUKERT_EXPONENT[battery_type]
    )
    y = _bent(np.log(shown_ah / warm / nights["rated_ah"]), block_v)
    return _by_month(nights.assign(y=y, used=used))


def _bent(y: pd.Series, block_v: pd.Series) -> pd.Series:
    """Take off what nights that end at one voltage show more than those that end lowest."""
    if len(y) < 10 * BINS:
        return y
    ranks = pd.qcut(block_v, BINS, labels=False, duplicates="drop")
    curve = pd.DataFrame({"v": block_v, "y": y}).groupby(ranks).median()
    if len(curve) < 2:
        return y
    return y - np.interp(block_v, curve["v"], curve["y"]) + curve["y"].iloc[0]


def _by_month(nights: pd.DataFrame) -> pd.DataFrame:
    nights["month"] = np.floor(nights["t"] / MONTH_T)
    keys = ["unit", "tractor", "month"]
    noise = USED_NOISE / nights["used"]
    middle = nights.groupby(keys)["y"].transform("median")
    nights["w"] = noise**-2
    nights["wy"] = nights["w"] * (middle + (nights["y"] - middle).clip(-3 * noise, 3 * noise))
    by_month = nights.groupby(keys, as_index=False)
    folded = by_month[["t", "ambient_c"]].median()
    sums = by_month[["w", "wy"]].sum()
    return folded.assign(
        feature="bank_capacity_ah",
        y=sums["wy"] / sums["w"],
        coarseness=np.sqrt(SHARED_NOISE**2 + 1 / sums["w"]) / USUAL_NOISE,
    ).rename(columns={"ambient_c": "ambient"})
