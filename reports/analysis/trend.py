"""Slow drift of many short series at once: Theil-Sen slopes and the Mann-Kendall test.

A unit has a handful of noisy readings, one of them perhaps from a bad gauge. The median of the
slopes between all pairs of readings (Sen 1968) shrugs off nearly a third of bad ones, and the
count of rising against falling pairs (Mann 1945, Kendall 1975) says how likely it is that nothing
drifts. Series of equal length are stacked and worked through together.
"""

from functools import cache
from math import ceil
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

__all__ = ["Trend", "trends"]

# Gilbert 1987 and the tables use the exact distribution of S up to here.
EXACT_UP_TO = 10
# Pairs of readings worked on at once: some tens of megabytes.
BLOCK = 2_000_000


class Trend(NamedTuple):
    """One row a group, arrays of shape (G,), in ascending order of group.

    slope, slope_low, slope_high: units of y a year, with the two-sided interval; the ends are
        infinite where so few readings bound nothing at the confidence asked for.
    intercept: the line's y at t_years = 0.
    s, var_s, z, p: Mann-Kendall statistic, its variance with ties, its normal score, and the
        two-sided probability of at least this much of a trend where there is none.
    All but group and n are NaN where n < 2; slope, its ends and intercept also where every
    reading has the same time.
    """

    group: NDArray
    n: NDArray
    slope: NDArray
    slope_low: NDArray
    slope_high: NDArray
    intercept: NDArray
    s: NDArray
    var_s: NDArray
    z: NDArray
    p: NDArray


def trends(
    group: ArrayLike,
    t_years: ArrayLike,
    y: ArrayLike,
    *,
    confidence: float = 0.95,
    method: Literal["exact", "normal"] = "exact",
) -> Trend:
    """Return the robust trend of each group of readings.

    group, t_years, y: (N,) in any order; a row whose time or value is not finite is left out.
    'exact' takes interval and p from the exact distribution of S where n <= 10 (p only where
    nothing is tied; the interval always, which with ties is on the wide side) and from the normal
    approximation beyond; 'normal' takes the approximation throughout.
    """
    ids, series = np.unique(np.asarray(group), return_inverse=True)
    t, y = np.asarray(t_years, dtype=float), np.asarray(y, dtype=float)
    taken = np.isfinite(t) & np.isfinite(y)
    series, t, y = series[taken], t[taken], y[taken]
    order = np.lexsort((t, series))
    t, y = t[order], y[order]

    n = np.bincount(series, minlength=len(ids))
    first = np.cumsum(n) - n
    found = np.full((len(ids), len(Trend._fields) - 2), np.nan)
    for size in np.unique(n[n >= 2]):
        of_size = np.flatnonzero(n == size)
        for part in np.array_split(of_size, ceil(len(of_size) * size**2 / BLOCK)):
            rows = first[part][:, None] + np.arange(size)
            found[part] = _stack(t[rows], y[rows], confidence, method == "exact")
    return Trend(ids, n, *found.T)


def _stack(t: NDArray, y: NDArray, confidence: float, exact: bool) -> NDArray:
    """Return slope to p, (k, 8), of k series of n readings each, t and y (k, n), t ascending."""
    n = t.shape[1]
    exact = exact and n <= EXACT_UP_TO
    early, late = np.triu_indices(n, 1)
    run, rise = t[:, late] - t[:, early], y[:, late] - y[:, early]
    apart = run > 0
    s = (np.sign(rise) * apart).sum(axis=1)
    var_s, tied = _variance(t, y)
    z = np.divide(s - np.sign(s), np.sqrt(var_s), out=np.zeros(len(s)), where=var_s > 0)
    p = 2 * ndtr(-np.abs(z))
    if exact:
        p = np.where(tied, p, _exact_tail(n)[np.abs(s).astype(int)])

    pairs = apart.sum(axis=1)
    slopes = np.divide(rise, run, out=np.full_like(run, np.nan), where=apart)
    slopes.sort(axis=1)  # NaN, the pairs at one time, come last
    slope = (_pick(slopes, (pairs - 1) // 2) + _pick(slopes, pairs // 2)) / 2
    intercept = np.median(y, axis=1) - slope * np.median(t, axis=1)
    half = _exact_half_width(n, confidence) if exact else ndtri((1 + confidence) / 2) * var_s**0.5
    low, high = _interval(slopes, pairs, half, bounded=not exact)
    return np.column_stack([slope, low, high, intercept, s, var_s, z, p])


def _interval(
    slopes: NDArray, pairs: NDArray, half_width: ArrayLike, bounded: bool
) -> tuple[NDArray, NDArray]:
    """Return the slopes half_width, in units of S, to both sides of the middle (Sen 1968, 2.6)."""
    # Rounded to the nearest place, and from half-way to the wider side.
    below = np.ceil((pairs - half_width - 1) / 2).astype(int) - 1
    low, high = _pick(slopes, below), _pick(slopes, pairs - 1 - np.maximum(below, 0))
    if not bounded:
        endless = (below < 0) & (pairs > 0)
        low, high = np.where(endless, -np.inf, low), np.where(endless, np.inf, high)
    return low, high


def _pick(slopes: NDArray, place: NDArray) -> NDArray:
    return np.take_along_axis(slopes, np.maximum(place, 0)[:, None], axis=1)[:, 0]


def _variance(t: NDArray, y: NDArray) -> tuple[NDArray, NDArray]:
    """Return the variance of S with ties in time and value (Kendall 1975), and where any is tied.

    With c the number of equal values around each reading, a sum over groups of ties of c f(c) is
    a sum over readings of f(c).
    """
    n = t.shape[1]
    same_t, same_y = _equals(t), _equals(y)
    lost = sum(((c - 1) * (2 * c + 5)).sum(axis=1) for c in (same_t, same_y))
    twos = np.prod([(c - 1).sum(axis=1) for c in (same_t, same_y)], axis=0)
    threes = np.prod([((c - 1) * (c - 2)).sum(axis=1) for c in (same_t, same_y)], axis=0)
    var_s = (n * (n - 1) * (2 * n + 5) - lost) / 18 + twos / (2 * n * (n - 1))
    if n > 2:
        var_s = var_s + threes / (9 * n * (n - 1) * (n - 2))
    tied = (same_t > 1).any(axis=1) | (same_y > 1).any(axis=1)
    return np.where(var_s > 1e-9, var_s, 0.0), tied


def _equals(values: NDArray) -> NDArray:
    """Return how many of its own series each reading equals, itself included."""
    return (values[:, :, None] == values[:, None, :]).sum(axis=2)


@cache
def _exact_tail(n: int) -> NDArray:
    """Return the probability of |S| >= 0, 1, 2 … n(n-1)/2 if all orders are equally likely."""
    ways = np.ones(1)
    for size in range(2, n + 1):
        ways = np.convolve(ways, np.ones(size))
    s = np.abs(len(ways) - 1 - 2 * np.arange(len(ways)))
    return np.array([ways[s >= limit].sum() for limit in range(len(ways))]) / ways.sum()


@cache
def _exact_half_width(n: int, confidence: float) -> int:
    """Return the C of Hollander and Wolfe: two less than the least S rare enough, or too wide."""
    tail = _exact_tail(n)
    most = len(tail) - 1
    rare = (s for s in range(most % 2, most + 1, 2) if tail[s] <= 1 - confidence + 1e-12)
    return next(rare, most + 4) - 2
