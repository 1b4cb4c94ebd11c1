"""What someone at the truck found is true: no screen says again what was looked at and settled.

A cause that was refuted, or confirmed and mended, cannot have begun before that day. What was
read while a trouble ran that is mended now says nothing of the unit as it is.
"""

import pandas as pd

from reports.analysis.causes import Cause

__all__ = ["freed_of_mended", "gauges_settled_t", "settled_t"]

OVER = ("refuted", "confirmed_mended")


def settled_t(settled: pd.DataFrame, cause: str) -> pd.Series:
    """Return, per unit, when a cause was last refuted or mended; see knowledge.FleetFrames."""
    over = settled[settled["unit"].notna() & settled["outcome"].isin(OVER)]
    return over[over["cause"] == cause].groupby("unit")["t"].max()


def gauges_settled_t(settled: pd.DataFrame) -> pd.Series:
    """Return, per gauge, when it was last found sound or put right."""
    over = settled[(settled["gauge"] != "") & settled["outcome"].isin(OVER)]
    return over.groupby("gauge")["t"].max()


def freed_of_mended(
    observations: pd.DataFrame, settled: pd.DataFrame, family: tuple[Cause, ...]
) -> pd.DataFrame:
    """Return the observations without those made while a cause of the family ran that is mended."""
    mended = settled[
        settled["unit"].notna()
        & settled["cause"].isin({cause.name for cause in family})
        & (settled["outcome"] == "confirmed_mended")
    ]
    if mended.empty:
        return observations
    rows = (
        observations[["unit", "t"]]
        .reset_index()
        .merge(mended[["unit", "since_t", "t"]], on="unit", suffixes=("", "_mended"))
    )
    ill = rows.loc[(rows["t"] >= rows["since_t"]) & (rows["t"] < rows["t_mended"]), "index"]
    return observations.drop(index=ill.unique())
