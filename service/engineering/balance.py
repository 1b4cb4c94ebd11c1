"""The balance of the refrigerant book over a period, and whether a cylinder ever gave too much.

Arrays in, arrays out. A *line* is one thing that changed what a cylinder holds; its mass is signed,
above zero where the cylinder gained. Times are any numbers that grow.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["COLUMNS", "FLOWS", "SIGNS", "balance", "lowest", "peak_from"]

# What changes a cylinder between opening and closing, and which way a mass of the kind goes.
SIGNS = {
    "opening": 1,
    "bought": 1,
    "recovered": 1,
    "charged": -1,
    "added": -1,
    "disposed": -1,
    "decanted_in": 1,
    "decanted_out": -1,
    "difference": 1,
}
FLOWS = tuple(SIGNS)
# Held at the start, what came into the book and the other flows, held at the end, what is left over.
COLUMNS = ("held_before", *FLOWS, "held_after", "residual")


def balance(
    account: ArrayLike,
    kind: ArrayLike,
    mass_g: ArrayLike,
    t: ArrayLike,
    period: tuple[float, float],
    held_g: ArrayLike,
) -> NDArray:
    """Return each account's balance over a period: (A, len(COLUMNS)), g.

    account, kind, mass_g, t: (N,) the lines, with the index 0 to A-1 of the account of each, a kind
    of FLOWS and a signed mass. period is (start, end): a line at the start is inside, one at the
    end is not. held_g: (A,) what each account holds now by the count that is kept beside the lines.

    What was held before is counted forward from the first line; what is held after is counted back
    from held_g. The residual, held before + all flows - held after, is therefore zero only where
    lines and count agree. Flows are shown without sign, but for differences.
    """
    account, kind = np.asarray(account, dtype=int), np.asarray(kind, dtype=object)
    mass_g, t = np.asarray(mass_g, dtype=float), np.asarray(t, dtype=float)
    held_g = np.asarray(held_g, dtype=float)
    start, end = period

    def total(where: NDArray) -> NDArray:
        return np.bincount(account[where], weights=mass_g[where], minlength=len(held_g))

    inside = (t >= start) & (t < end)
    before, after = total(t < start), held_g - total(t >= end)
    flows = [total(inside & (kind == name)) * sign for name, sign in SIGNS.items()]
    residual = before + total(inside) - after
    return np.column_stack([before, *flows, after, residual])


def lowest(mass_g: ArrayLike, t: ArrayLike) -> tuple[float, int]:
    """Return the least that one cylinder ever held, g, and the line after which it did (-1: none).

    At one moment what comes in comes before what goes out.
    """
    order, held = _running(mass_g, t)
    if not len(held) or held.min() >= 0:
        return 0.0, -1
    at = int(held.argmin())
    return float(held[at]), int(order[at])


def peak_from(mass_g: ArrayLike, t: ArrayLike, since: float) -> float:
    """Return the most that one cylinder ever held, g, at or after a time."""
    order, held = _running(mass_g, t)
    later = np.asarray(t, dtype=float)[order] >= since
    return float(held[later].max(initial=0.0))


def _running(mass_g: ArrayLike, t: ArrayLike) -> tuple[NDArray, NDArray]:
    mass_g, t = np.asarray(mass_g, dtype=float), np.asarray(t, dtype=float)
    order = np.lexsort((-mass_g, t))
    return order, np.cumsum(mass_g[order])
