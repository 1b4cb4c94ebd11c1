"""What is normal: the level, spread and noise of each feature, learned from units of a kind.

Empirical Bayes. A cell's values are level + covariates + noise; levels of one group (unit model,
or battery type) scatter about the group's own level. Every estimate is one that a few bad
readings, or a minority of failing units, hardly move.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

__all__ = ["PRIORS", "Prior", "learn", "levelled"]


@dataclass(frozen=True)
class Prior:
    """What is expected of a feature before any fleet is seen. From memory, and wide."""

    noise: float  # standard deviation of one value about its cell's level
    least_noise: float  # no instrument in the trade is better than this
    spread: float  # standard deviation of levels within a group
    level: float | None = None  # the group's level, where physics says it beforehand
    level_spread: float = 0.0
    # A value this many noises from its neighbours in time counts for no more than that.
    slip: float = 3.8


PRIORS = {
    "condensing_lift_k": Prior(noise=1.5, least_noise=0.3, spread=1.5),
    "evaporating_depression_k": Prior(noise=1.8, least_noise=0.3, spread=1.5),
    "superheat_k": Prior(noise=1.5, least_noise=0.3, spread=1.5),
    "subcooling_k": Prior(noise=1.2, least_noise=0.3, spread=1.2),
    "rest_v": Prior(noise=0.03, least_noise=0.01, spread=0.05),
    "resistance_mohm": Prior(noise=0.08, least_noise=0.02, spread=0.25),
    # The next month comes soon: a drop may wait for it.
    "bank_capacity_ah": Prior(0.04, 0.01, spread=0.06, level=-0.05, level_spread=0.15, slip=2.0),
}
# Kelvins from 25 °C, whether at low or mid output, the part of surface charge that is left.
COVARIATES = ("ambient", "return_air", "low", "mid", "surface")
# How far each may move a feature, in noises of that feature a kelvin or at once.
COVARIATE_REACH = np.array([0.1, 0.1, 8.0, 5.0, 4.0])
# No common ageing is faster than this, in noises a year: a fleet worn all at once is still worn.
MOST_AGEING = 1.0
# Weights of the prior in values, and in cells.
PRIOR_VALUES, PRIOR_CELLS = 30, 3
# Units of a model differ at least by this part of what is expected.
LEAST_SPREAD = 0.4
# A value that no fault reaches between two visits counts ever less than its slip.
FAR = 9.0


def learn(observations: pd.DataFrame) -> pd.DataFrame:
    """Return the observations with `r`, `noise`, `spread`, `weight` and `level` beside each.

    `r` is the value less covariates and less its group's level; `weight` is 1, or less where a
    value stands alone against its neighbours in time.
    """
    if observations.empty:
        return observations.assign(r=0.0, noise=1.0, spread=1.0, weight=1.0, level=0.0)
    parts = [_of_feature(rows, PRIORS[name]) for name, rows in observations.groupby("feature")]
    return pd.concat(parts).sort_index()


def _of_feature(rows: pd.DataFrame, prior: Prior) -> pd.DataFrame:
    rows = rows.copy()
    rows["r"] = rows["y"] - _covariate_effects(rows, prior)
    rows["r"] -= _ageing(rows, prior) * rows["age"]
    return levelled(rows, prior)


def levelled(rows: pd.DataFrame, prior: Prior) -> pd.DataFrame:
    """Return rows of one feature with its level taken off `r`, and what it scatters about it."""
    rows = rows.copy()
    fleet_noise = _noise(rows, prior.noise, prior)
    noise = {group: _noise(part, fleet_noise, prior) for group, part in rows.groupby("group")}
    rows["noise"] = rows["group"].map(noise) * rows["coarseness"]
    early = _early_levels(rows)
    within = early["level"] - early.groupby("group")["level"].transform("median")
    fleet_spread = _spread(within, early["noise"], prior)
    level, spread = {}, {}
    for group, cells in early.groupby("group"):
        n = len(cells)
        own = _spread(cells["level"], cells["noise"], prior, fleet_spread)
        middle = cells["level"].median()
        unsure = 1.57 * own**2 / n
        if prior.level is not None:
            share = prior.level_spread**2 / (prior.level_spread**2 + own**2 / n)
            middle = share * middle + (1 - share) * prior.level
        level[group], spread[group] = middle, np.sqrt(own**2 + unsure)
    rows["level"] = rows["group"].map(level)
    rows["spread"] = rows["group"].map(spread)
    rows["r"] -= rows["level"]
    r, cell = rows["r"].to_numpy(), rows["cell"].to_numpy()
    rows["weight"] = _slip_weights(r, cell, rows["noise"], prior.slip)
    return rows


def _covariate_effects(rows: pd.DataFrame, prior: Prior) -> NDArray:
    """Effect of weather and output on a feature: a ridge within cells, pooled, then by group."""
    x = rows[list(COVARIATES)].to_numpy(float)
    if not x.any():
        return np.zeros(len(rows))
    y = rows["y"].to_numpy(float)
    penalty = 1 / COVARIATE_REACH**2
    pooled = _ridge(x, y, rows["cell"].to_numpy(), penalty, prior.noise)
    effect = x @ pooled
    for group in rows["group"].unique():
        own = (rows["group"] == group).to_numpy()
        cells = rows["cell"].to_numpy()[own]
        effect[own] += x[own] @ _ridge(x[own], (y - effect)[own], cells, 4 * penalty, prior.noise)
    return effect


def _ridge(x: NDArray, y: NDArray, cell: NDArray, penalty: NDArray, scale: float) -> NDArray:
    """Huber-weighted ridge of y on x within cells: cell means are taken out first."""
    weight = np.ones(len(y))
    beta = np.zeros(x.shape[1])
    _, cell = np.unique(cell, return_inverse=True)
    for _ in range(3):
        total = np.bincount(cell, weight)
        mean = np.bincount(cell, weight * y) / total
        middle = np.stack([np.bincount(cell, weight * column) / total for column in x.T], axis=1)
        xd, yd = x - middle[cell], y - mean[cell]
        gram = (xd * weight[:, None]).T @ xd + np.diag(penalty)
        beta = np.linalg.solve(gram, (xd * weight[:, None]).T @ yd)
        off = np.abs(yd - xd @ beta) / scale
        weight = np.minimum(1.0, 2.0 / np.maximum(off, 1e-9))
    return beta


def _ageing(rows: pd.DataFrame, prior: Prior) -> float:
    """What every bank does with age is nobody's fault: the weighted median of the cells' slopes."""
    age, cell = rows["age"].to_numpy(float), pd.factorize(rows["cell"])[0]
    count = np.bincount(cell)
    from_mean = age - (np.bincount(cell, age) / count)[cell]
    leverage = np.bincount(cell, from_mean**2)
    told = leverage > 0.02
    if told.sum() < PRIOR_CELLS:
        return 0.0
    slope = np.bincount(cell, from_mean * rows["r"].to_numpy(float))[told] / leverage[told]
    order = np.argsort(slope)
    upto = np.cumsum(leverage[told][order])
    middle = slope[order][np.searchsorted(upto, upto[-1] / 2)]
    return float(np.clip(middle, -MOST_AGEING * prior.noise, MOST_AGEING * prior.noise))


def _noise(rows: pd.DataFrame, before: float, prior: Prior) -> float:
    """Noise from differences of values of one cell, the largest left out.

    Neighbours in time tell the noise of one value. What wanders over the seasons shows only in
    values half a history apart, of which more are left out: there a trouble shows too.
    """
    cell, coarse = rows["cell"].to_numpy(), rows["coarseness"].to_numpy()
    r = rows["r"].to_numpy()
    _, start, size = np.unique(cell, return_index=True, return_counts=True)
    nth = np.arange(len(r)) - np.repeat(start, size)
    apart = np.repeat(size // 2, size)
    noises = []
    for lag, kept, mean in ((np.ones_like(apart), 0.9, 0.657), (apart, 0.8, 0.559)):
        # mean is that of |N(0, 1)| below its quantile `kept`; a difference has twice the variance.
        here = np.flatnonzero((nth >= lag) & (lag > 0))
        there = here - lag[here]
        scale = np.sqrt(coarse[here] ** 2 + coarse[there] ** 2)
        step = np.sort(np.abs(r[here] - r[there]) / scale)
        n = len(step)
        seen = step[: max(1, int(np.ceil(kept * n)))].mean() / mean if n else before
        noises.append(np.sqrt((n * seen**2 + PRIOR_VALUES * before**2) / (n + PRIOR_VALUES)))
    return max(*noises, prior.least_noise)


def _early_levels(rows: pd.DataFrame) -> pd.DataFrame:
    """Per cell: the median of its first three values, and the noise of that median."""
    first = rows[rows.groupby("cell").cumcount() < 3]
    cells = first.groupby("cell").agg(
        level=("r", "median"), group=("group", "first"), noise=("noise", "first"), n=("r", "size")
    )
    cells["noise"] = cells["noise"] / np.sqrt(cells["n"])
    return cells


def _spread(level: pd.Series, noise: pd.Series, prior: Prior, before: float | None = None) -> float:
    """Spread of the cells' own levels: what the scatter holds beyond the noise."""
    n, before = len(level), before or prior.spread
    seen = 1.4826 * (level - level.median()).abs().median()
    beyond = max(seen**2 - noise.median() ** 2, 0.0)
    pooled = np.sqrt((n * beyond + PRIOR_CELLS * before**2) / (n + PRIOR_CELLS))
    return float(max(pooled, LEAST_SPREAD * prior.spread))


def _slip_weights(r: NDArray, cell: NDArray, noise: NDArray, slip: float) -> NDArray:
    """Weights of values sorted by cell and time: below 1 where one stands against its neighbours.

    A value is held against the median of itself and up to two neighbours either side, so a slip
    loses its weight while a change that the next readings confirm keeps it.
    """
    n = len(r)
    window = np.full((n, 5), np.nan)
    for column, shift in enumerate(range(-2, 3)):
        source = np.arange(n) + shift
        inside = (source >= 0) & (source < n)
        same = inside.copy()
        same[inside] = cell[source[inside]] == cell[inside]
        window[same, column] = r[source[same]]
    off = np.abs(r - np.nanmedian(window, axis=1)) / np.asarray(noise)
    return (slip / np.maximum(off, slip)) ** 2 * (FAR / np.maximum(off, FAR)) ** 4
