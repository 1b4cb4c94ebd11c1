"""Gauges that read off: what one gauge says of many units, against what other gauges say of them.

A gauge is taken in half-years, so that one that was dropped in June is doubted from June on. Its
effect and the units' own levels are found together: readings = level of the unit + effect of the
gauge + noise, with both drawn towards zero by what is known of their spread (a crossed
random-effects model, solved by turns; Robinson 1991, 'That BLUP is a good thing', section 2).
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm

from reports.analysis.features import PRESSURE
from reports.analysis.screening import benjamini_hochberg

__all__ = ["corrected", "doubtful", "gauge_effects", "named_gauges"]

WINDOW_T = 0.5
LEAST_UNITS = 4
# Spread of honest gauges' effects, K; and what makes one doubtful: this far off, this surely.
SPREAD_K = 0.7
DOUBT_K, DOUBT_Z, FALSE_SHARE = 2.0, 4.0, 0.01
ROUNDS = 40
# A residual beyond this many noises speaks of the unit, not of the gauge.
MOST = 3.0
COLUMNS = ["gauge", "feature", "window", "effect_k", "z", "units"]


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
    rows = seen[seen["feature"].isin(PRESSURE) & (seen["gauge"] != "")]
    if rows.empty:
        return pd.DataFrame(columns=COLUMNS)
    rows = rows.assign(window=np.floor(rows["t"] / WINDOW_T))
    groups = rows.groupby(["gauge", "feature", "window"])
    table = groups.agg(units=("unit", "nunique")).reset_index()
    group, cell = groups.ngroup().to_numpy(), pd.factorize(rows["cell"])[0]
    effect, error = _solve(rows, group, cell, (table["units"] >= LEAST_UNITS).to_numpy())
    table["effect_k"], table["z"] = effect, effect / error
    return table.loc[table["units"] >= LEAST_UNITS, COLUMNS].reset_index(drop=True)


def _solve(
    rows: pd.DataFrame, group: NDArray, cell: NDArray, judged: NDArray
) -> tuple[NDArray, NDArray]:
    """Effects of the gauges' half-years and their standard errors, levels being found beside."""
    r, noise = rows["r"].to_numpy(float), rows["noise"].to_numpy(float)
    weight = rows["weight"].to_numpy(float) / noise**2
    of_level = 1 / rows["spread"].to_numpy(float)[np.unique(cell, return_index=True)[1]] ** 2
    in_group, in_cell = np.bincount(group, weight), np.bincount(cell, weight) + of_level
    effect = np.zeros(len(in_group))
    for _ in range(ROUNDS):
        level = np.bincount(cell, weight * (r - effect[group])) / in_cell
        off = r - level[cell]
        middle = effect[group]
        off = middle + np.clip(off - middle, -MOST * noise, MOST * noise)
        effect = np.where(
            judged, np.bincount(group, weight * off) / (in_group + 1 / SPREAD_K**2), 0
        )
    # A level that rests on this very gauge carries none of its error away.
    others = in_cell[cell] - weight
    error = np.sqrt(np.bincount(group, weight**2 * (1 / weight + 1 / others))) / in_group
    # What the shrinkage took is given back where a gauge is surely off.
    plain = effect * (in_group + 1 / SPREAD_K**2) / in_group
    sure = (np.abs(plain) >= DOUBT_Z * error) & (np.abs(plain) >= DOUBT_K)
    return np.where(sure, plain, effect), error


def corrected(observations: pd.DataFrame, effects: pd.DataFrame) -> pd.DataFrame:
    """Return the observations with each gauge's effect taken off."""
    window = np.floor(observations["t"] / WINDOW_T)
    keys = ["gauge", "feature", "window"]
    effect = observations.assign(window=window).merge(effects, on=keys, how="left")["effect_k"]
    return observations.assign(y=observations["y"] - effect.fillna(0.0).to_numpy())


def doubtful(effects: pd.DataFrame) -> pd.DataFrame:
    """Return, per doubtful gauge, its furthest effect: gauge, effect_k, z, units, since_t.

    Every half-year of every gauge is a test; the false-discovery rate is held over them all.
    """
    p = benjamini_hochberg(2 * norm.sf(effects["z"].abs().to_numpy(float)))
    sure = effects[(p <= FALSE_SHARE) & (effects["effect_k"].abs() >= DOUBT_K)]
    if sure.empty:
        return sure.assign(since_t=pd.Series(dtype=float))
    since = sure.groupby("gauge")["window"].min() * WINDOW_T
    furthest = sure.loc[sure.groupby("gauge")["z"].apply(lambda z: z.abs().idxmax())]
    return furthest.assign(since_t=furthest["gauge"].map(since))
