"""When, not only whether: the day a threshold is passed, with an interval from the hypotheses."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["bank_need", "charge_dates", "loss_dates", "weighted_quantiles"]

NEEDED_CHARGE = 0.80
NEEDED_H = 8.0


def loss_dates(onset_t: NDArray, rate: NDArray, allowed: NDArray) -> NDArray:
    """Return (units, k) times at which a loss that grows at `rate` from `onset_t` passes `allowed`."""
    return onset_t + np.maximum(allowed, 0.0)[:, None] / rate


def charge_dates(onset_t: NDArray, rate: NDArray, missing: NDArray, added: NDArray) -> NDArray:
    """Return (units, k) times at which the charge falls below 80 % of the nameplate.

    `missing` is the part not filled in at the last weighed charge, `added` what came since.
    """
    return loss_dates(onset_t, rate, 1 - NEEDED_CHARGE - missing + added)


def bank_need(usable_ah: NDArray, draw_low_a: NDArray) -> NDArray:
    """Return the part of a sound bank's usable ampere-hours that it may lose and carry 8 h at low."""
    return 1 - NEEDED_H * draw_low_a / usable_ah


def weighted_quantiles(value: NDArray, weight: NDArray, share: tuple[float, ...]) -> NDArray:
    """Return (rows, shares) quantiles of each row's values under its weights."""
    order = np.argsort(value, axis=1)
    value = np.take_along_axis(value, order, axis=1)
    cumulated = np.cumsum(np.take_along_axis(weight, order, axis=1), axis=1)
    middle = cumulated - 0.5 * np.take_along_axis(weight, order, axis=1)
    middle /= np.maximum(cumulated[:, -1:], 1e-300)
    return np.array([np.interp(share, m, v) for m, v in zip(middle, value, strict=True)])
