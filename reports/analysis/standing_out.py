"""Lots and technicians whose parts fail more, or less, often than those of the rest.

What a group was to expect is counted at the hazard of all, age for age, so that an old lot is not
blamed for being old. Everything that is compared on a page is one family of tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binomtest, chi2, false_discovery_control

__all__ = ["FEWEST_UNITS", "Compared", "compare", "corrected", "poisson_bounds"]

FEWEST_UNITS = 5
SHARE_FALSE = 0.10


@dataclass(frozen=True)
class Compared:
    """One group: what it showed and what it was to expect.

    `ratio` is its rate over that of the rest, with exact bounds at 95 %; `p` is two-sided, and
    `p_corrected` allows for how many were compared. A group of fewer than `FEWEST_UNITS` units is
    not compared: NaN.
    """

    name: str
    units: int
    failures: int
    expected: float
    years: float
    ratio: float = np.nan
    ratio_low: float = np.nan
    ratio_high: float = np.nan
    p: float = np.nan
    p_corrected: float = np.nan

    @property
    def too_few(self) -> bool:
        return self.units < FEWEST_UNITS

    @property
    def stands_out(self) -> bool:
        return bool(self.p_corrected <= SHARE_FALSE)

    @property
    def rate(self) -> float:
        """Failures in a hundred part-years."""
        return 100 * self.failures / self.years

    @property
    def rate_bounds(self) -> tuple[float, float]:
        low, high = poisson_bounds(self.failures)
        return 100 * low / self.years, 100 * high / self.years


def poisson_bounds(count: int, level: float = 0.95) -> tuple[float, float]:
    """Return the exact bounds of a Poisson mean of which a count was seen (Garwood, 1936)."""
    tail = (1 - level) / 2
    low = chi2.ppf(tail, 2 * count) / 2 if count else 0.0
    return float(low), float(chi2.isf(tail, 2 * count + 2) / 2)


def compare(
    names: Sequence[str],
    units: NDArray,
    failed: NDArray[np.bool_],
    expected: NDArray[np.float64],
    years: NDArray[np.float64],
) -> list[Compared]:
    """Compare each named group with all the others, one row a lifetime; '' is in no group.

    Given all failures, those of one group are binomial with its share of the expected ones, which
    asks for no law of the ages and is exact.
    """
    names = np.asarray(names, dtype=object)
    total, all_expected = int(failed.sum()), float(expected.sum())
    told = []
    for name in sorted(set(names) - {""}):
        own = names == name
        group = Compared(
            str(name),
            len(set(units[own])),
            int(failed[own].sum()),
            float(expected[own].sum()),
            float(years[own].sum()),
        )
        told.append(_tested(group, total, group.expected / all_expected if total else 0.0))
    return told


def _tested(group: Compared, total: int, share: float) -> Compared:
    if group.too_few or not 0 < share < 1:
        return group
    test = binomtest(group.failures, total, share)
    bounds = test.proportion_ci(0.95, method="exact")
    odds = (1 - share) / share
    ratios = [
        np.inf if part == 1 else part / (1 - part) * odds
        for part in (group.failures / total, bounds.low, bounds.high)
    ]
    return replace(
        group,
        ratio=float(ratios[0]),
        ratio_low=float(ratios[1]),
        ratio_high=float(ratios[2]),
        p=float(test.pvalue),
    )


def corrected(groups: Sequence[Compared]) -> list[Compared]:
    """Correct a whole family for how many it compares (Benjamini and Hochberg, 1995)."""
    tested = [place for place, group in enumerate(groups) if np.isfinite(group.p)]
    told = list(groups)
    if tested:
        shares = false_discovery_control([min(groups[place].p, 1.0) for place in tested])
        for place, share in zip(tested, shares, strict=True):
            told[place] = replace(groups[place], p_corrected=float(share))
    return told
