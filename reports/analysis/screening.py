"""A fleet is many tests: how many of the trucks named would be named by chance alone."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import false_discovery_control

__all__ = ["benjamini_hochberg", "expected_false", "surest"]


def benjamini_hochberg(p: ArrayLike) -> NDArray:
    """Return the adjusted p-values of a screen of many units, shape (N,).

    Naming all units at or below q keeps the expected share of false ones among the named at or
    below q (Benjamini and Hochberg 1995). A NaN is a test that was not made: it stays NaN and
    does not count among the tests. Raises ValueError for a p outside 0 to 1.
    """
    p = np.asarray(p, dtype=float)
    made = ~np.isnan(p)
    adjusted = np.full(p.shape, np.nan)
    if made.any():
        adjusted[made] = false_discovery_control(p[made], method="bh")
    return adjusted


def surest(probability: ArrayLike, false_share: float, least: float = 0.5) -> NDArray:
    """Return a mask (N,) of the tests to name, so that at most `false_share` of them are false.

    1 - probability is a test's local false-discovery rate; the surest are named for as long as
    the mean of their rates stays at or below `false_share` (Efron 2001; the step-up over ordered
    local rates is Sun and Cai 2007, the counterpart of Benjamini and Hochberg's over p-values and
    never less powerful). A posterior probability means the same however often one has looked, so
    monthly looks cost nothing more. None below `least` is named. NaN is a test not made.
    """
    doubt = 1 - np.asarray(probability, dtype=float)
    order = np.argsort(doubt, kind="stable")  # NaN comes last
    mean = np.cumsum(doubt[order]) / np.arange(1, len(doubt) + 1)
    kept = (mean <= false_share) & (doubt[order] <= 1 - least)
    named = np.zeros(len(doubt), dtype=bool)
    named[order[kept]] = True
    return named


def expected_false(probabilities: ArrayLike) -> float:
    """Return how many of the findings with these probabilities of being true will be false."""
    return float(np.sum(1 - np.asarray(probabilities, dtype=float)))
