"""Gauges that read off: what one gauge says of many units, against what other gauges say of them.

A gauge is taken in half-years, so that one that was dropped in June is doubted from June on. Its
effect is the median over units of how far its readings lie from the same unit's readings by other
gauges, drawn towards zero where few units speak.
"""

import numpy as np
import pandas as pd

from reports.analysis.features import PRESSURE

__all__ = ["corrected", "doubtful", "gauge_effects", "named_gauges"]

WINDOW_T = 0.5
LEAST_UNITS = 4
# Spread of honest gauges' effects, K; and what makes one doubtful: this far off, this surely.
SPREAD_K = 0.7
DOUBT_K, DOUBT_Z = 2.0, 5.0


def named_gauges(readings: pd.DataFrame) -> pd.Series:
    """Return each reading's gauge; where it was not noted, the one its technician uses most."""
    noted = readings[(readings["gauge"] != "") & readings["taken_by"].notna()]
    usual = noted.groupby("taken_by")["gauge"].agg(lambda gauges: gauges.mode().iloc[0])
    guessed = readings["taken_by"].map(usual).fillna("")
    return readings["gauge"].where(readings["gauge"] != "", guessed)


def gauge_effects(seen: pd.DataFrame) -> pd.DataFrame:
    """Return one row a gauge, feature and half-year: effect_k, z, units, and `window`.

    `seen` are learned observations (see baseline.learn).
    """
    columns = ["gauge", "feature", "window", "effect_k", "z", "units"]
    rows = seen[seen["feature"].isin(PRESSURE) & (seen["gauge"] != "")].copy()
    if rows.empty:
        return pd.DataFrame(columns=columns)
    rows["window"] = np.floor(rows["t"] / WINDOW_T)
    rows["wr"] = rows["weight"] * rows["r"]
    cell = rows.groupby("cell")[["wr", "weight"]].transform("sum")
    own = rows.groupby(["cell", "gauge"])[["wr", "weight"]].transform("sum")
    others = cell["weight"] - own["weight"]
    alone = others < 0.5
    level = ((cell["wr"] - own["wr"]) / others.where(~alone)).fillna(0.0)
    rows["off"] = rows["r"] - level
    around = np.where(alone, rows["spread"] ** 2, rows["noise"] ** 2 / others.where(~alone, 1.0))
    rows["variance"] = rows["noise"] ** 2 + around
    keys = ["gauge", "feature", "window"]
    by_unit = rows.groupby([*keys, "unit"], as_index=False)[["off", "variance"]].mean()
    table = by_unit.groupby(keys, as_index=False).agg(
        median=("off", "median"), variance=("variance", "mean"), units=("unit", "size")
    )
    table = table[table["units"] >= LEAST_UNITS]
    # The median of n normal values has 1.57 times the variance of their mean.
    error = 1.57 * table["variance"] / table["units"]
    table["effect_k"] = table["median"] * SPREAD_K**2 / (SPREAD_K**2 + error)
    table["z"] = table["median"] / np.sqrt(error)
    sure = (table["z"].abs() >= DOUBT_Z) & (table["median"].abs() >= DOUBT_K)
    table["effect_k"] = table["effect_k"].where(~sure, table["median"])
    return table[columns].reset_index(drop=True)


def corrected(observations: pd.DataFrame, effects: pd.DataFrame) -> pd.DataFrame:
    """Return the observations with each gauge's effect taken off."""
    window = np.floor(observations["t"] / WINDOW_T)
    keys = ["gauge", "feature", "window"]
    effect = observations.assign(window=window).merge(effects, on=keys, how="left")["effect_k"]
    return observations.assign(y=observations["y"] - effect.fillna(0.0).to_numpy())


def doubtful(effects: pd.DataFrame) -> pd.DataFrame:
    """Return, per doubtful gauge, its furthest effect: gauge, effect_k, z, units, since_t."""
    sure = effects[(effects["z"].abs() >= DOUBT_Z) & (effects["effect_k"].abs() >= DOUBT_K)]
    if sure.empty:
        return sure.assign(since_t=pd.Series(dtype=float))
    since = sure.groupby("gauge")["window"].min() * WINDOW_T
    furthest = sure.loc[sure.groupby("gauge")["z"].apply(lambda z: z.abs().idxmax())]
    return furthest.assign(since_t=furthest["gauge"].map(since))
