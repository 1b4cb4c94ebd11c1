"""How much a hypothesis explains better than 'the unit's own level and noise'.

A cell's residuals under a hypothesis are r_i = level + slope · s_i + noise_i, where s is the
hypothesis's shape in time, level ~ N(0, spread²) and slope ~ N(b, (wobble · b)²): the fault's
effect on the feature, known only so far. Both are integrated out, so the evidence of a cell is the
ratio of two normal densities in closed form (Bayesian linear regression with a conjugate prior,
e.g. Bishop 2006, section 3.5, with the noise known).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CellSums", "cell_sums", "log_evidence"]

WOBBLE = 0.25


@dataclass(frozen=True)
class CellSums:
    """All that the evidence needs of the observations: weighted sums, by cell (and shape)."""

    precision: NDArray  # (cells,) Σ w
    r: NDArray  # (cells,) Σ w r
    s: NDArray  # (cells, shapes) Σ w s
    ss: NDArray  # (cells, shapes) Σ w s²
    rs: NDArray  # (cells, shapes) Σ w r s
    spread: NDArray  # (cells,)


def cell_sums(
    r: NDArray, weight: NDArray, shape: NDArray, starts: NDArray, spread: NDArray
) -> CellSums:
    """Sum observations into cells.

    `r` and `weight` (1/variance) are (n,), `shape` is (n, shapes); `starts` are the first rows of
    the cells in them, and `spread` is (cells,).
    """
    ws = weight[:, None] * shape
    return CellSums(
        precision=np.add.reduceat(weight, starts),
        r=np.add.reduceat(weight * r, starts),
        s=np.add.reduceat(ws, starts, axis=0),
        ss=np.add.reduceat(ws * shape, starts, axis=0),
        rs=np.add.reduceat(ws * r[:, None], starts, axis=0),
        spread=spread,
    )


def log_evidence(sums: CellSums, slope: NDArray, wobble: float = WOBBLE) -> NDArray:
    """Return the log evidence ratio (cells, shapes) of a prior slope per cell, (cells,).

    A slope of 0 says that the feature does not move: the ratio is then exactly 1.
    """
    b = slope[:, None]
    a = 1 / sums.spread[:, None] ** 2 + sums.precision[:, None]
    u_level = sums.r[:, None] - b * sums.s
    u_slope = sums.rs - b * sums.ss
    square = -2 * b * sums.rs + b**2 * sums.ss  # of the residuals, less that without the slope
    variance = (wobble * b) ** 2
    # Of the 2 × 2 precision matrix [[a, s], [s, 1/variance + ss]], times variance: no division by 0.
    determinant = a * (1 + variance * sums.ss) - variance * sums.s**2
    explained = (
        (1 + variance * sums.ss) * u_level**2
        - 2 * variance * sums.s * u_level * u_slope
        + variance * a * u_slope**2
    ) / determinant
    explained_without = sums.r[:, None] ** 2 / a
    return -0.5 * (np.log(determinant / a) + square - explained + explained_without)
