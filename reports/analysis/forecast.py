"""When, not only whether: the day a threshold is passed, with an interval from the hypotheses."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["bank_dates", "bank_need", "charge_dates", "weighted_quantiles"]

NEEDED_CHARGE = 0.80
NEEDED_H = 8.0
# What every bank loses a year of its age, and how well what one may lose is known. From memory.
FADE, ALLOWED_NOISE = 0.025, 0.05


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


def bank_need(sound_h: NDArray, exponent: NDArray) -> NDArray:
    """Return the part of its capacity that a bank may lose and still carry 8 h.

    `sound_h` is what it carried when new; hours go by capacity to the power of Peukert's exponent.
    """
    return 1 - (NEEDED_H / sound_h) ** (1 / exponent)


def bank_dates(
    onset_t: NDArray, rate: NDArray, allowed: NDArray, new_t: NDArray
) -> tuple[NDArray, NDArray]:
    """Return times at which banks that fade from new and wear from the onset have lost `allowed`.

    Shape (units, 3 k), and which of the k hypotheses each is: what a bank may lose is known to
    ± `ALLOWED_NOISE` only, taken at its middle and 1.22 of it either side (three equal parts).
    """
    dates = []
    for off in (-1.22, 0.0, 1.22):
        may = np.maximum(allowed + off * ALLOWED_NOISE, 0.0)[:, None]
        dates.append((may + FADE * new_t[:, None] + rate * onset_t) / (FADE + rate))
    k = onset_t.shape[1]
    return np.concatenate(dates, axis=1), np.tile(np.arange(k), 3)


def weighted_quantiles(value: NDArray, weight: NDArray, share: tuple[float, ...]) -> NDArray:
    """Return (rows, shares) quantiles of each row's values under its weights."""
    return np.array([_quantiles(v, w, share) for v, w in zip(value, weight, strict=True)])


def _quantiles(value: NDArray, weight: NDArray, share: tuple[float, ...]) -> NDArray:
    # Values that differ by rounding alone are one: their order must not matter.
    value, which = np.unique(np.round(value, 6), return_inverse=True)
    weight = np.bincount(which, weight)
    middle = np.cumsum(weight) - 0.5 * weight
    return np.interp(share, middle / max(weight.sum(), 1e-300), value)
