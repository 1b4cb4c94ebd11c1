"""When, not only whether: the day a threshold is passed, with an interval from the hypotheses."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["bank_need", "charge_dates", "loss_dates", "weighted_quantiles"]

NEEDED_CHARGE = 0.80
NEEDED_H = 8.0


def loss_dates(onset_t: NDArray, rate: NDArray, allowed: NDArray) -> NDArray:
    """Return (units, k) times at which a loss that grows at `rate` from `onset_t` passes `allowed`."""
    return onset_t + np.maximum(allowed, 0.0)[:, None] / rate


def charge_dates(
    onset_t: NDArray, rate: NDArray, missing: NDArray, added_t: NDArray, added: NDArray
) -> NDArray:
    """Return (units, k) times since when the charge is, or from when it will be, below 80 %.

    `missing` (units,) is the part of the nameplate not filled in at the last weighed charge;
    `added_t` and `added` (units, m) the times of the additions since, inf for none, and what had
    been added by then. An addition that did not lift the charge above 80 % does not count.
    """
    allowed = 1 - NEEDED_CHARGE - missing
    dates = loss_dates(onset_t, rate, allowed)
    for t, by_then in zip(added_t.T, added.T, strict=True):
        after = loss_dates(onset_t, rate, allowed + by_then)
        dates = np.where((t[:, None] > dates) & (after <= t[:, None]), dates, after)
    return dates


def bank_need(usable_ah: NDArray, draw_low_a: NDArray) -> NDArray:
    """Return the part of a sound bank's usable ampere-hours that it may lose and carry 8 h at low."""
    return 1 - NEEDED_H * draw_low_a / usable_ah


def weighted_quantiles(value: NDArray, weight: NDArray, share: tuple[float, ...]) -> NDArray:
    """Return (rows, shares) quantiles of each row's values under its weights."""
    return np.array([_quantiles(v, w, share) for v, w in zip(value, weight, strict=True)])


def _quantiles(value: NDArray, weight: NDArray, share: tuple[float, ...]) -> NDArray:
    # Values that differ by rounding alone are one: their order must not matter.
    value, which = np.unique(np.round(value, 6), return_inverse=True)
    weight = np.bincount(which, weight)
    middle = np.cumsum(weight) - 0.5 * weight
    return np.interp(share, middle / max(weight.sum(), 1e-300), value)
