"""A fleet is many tests: how many of the trucks named would be named by chance alone."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import false_discovery_control

__all__ = ["benjamini_hochberg", "expected_false", "p_from_evidence"]


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


def p_from_evidence(log_ratio: ArrayLike) -> NDArray:
    """Return the p-value of the greatest evidence a series has ever shown, min(1, 1 / e).

    log_ratio: natural log of the running maximum of a likelihood ratio (an e-process: its mean
    stays at or below 1 while all is well). It may be looked at after every reading: the chance
    that it ever reaches 1 / alpha is at most alpha (Ville's inequality, Ville 1939; Vovk and Wang
    2021; Wang and Ramdas 2022).
    """
    return np.exp(-np.maximum(log_ratio, 0.0))


def expected_false(probabilities: ArrayLike) -> float:
    """Return how many of the findings with these probabilities of being true will be false."""
    return float(np.sum(1 - np.asarray(probabilities, dtype=float)))
