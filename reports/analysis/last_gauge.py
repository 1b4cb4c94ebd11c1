"""The gauge that read a unit last: what if that gauge is off, and not the unit?

A gauge set that was dropped makes a sound unit look short of refrigerant or restricted. The same
gauge was held to other units too, before long; their readings say whether it is off.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from reports.analysis.evidence import WOBBLE
from reports.analysis.gauges import SIDES

__all__ = ["TURNS", "LastGauge"]

# The gauge may be off since its last, last but one… or first reading of this unit.
TURNS = 4
# A single reading of another unit speaks for so many noises at most.
MOST = 3.0


@dataclass(frozen=True)
class LastGauge:
    """`felt` is (n, TURNS): K/kPa where an observation was made by its unit's last gauge in a turn.

    The rest is what other units' readings by the same gauge in the same turn hold, by side.
    """

    felt: NDArray
    _precision: dict[str, NDArray]
    _pull: dict[str, NDArray]

    @classmethod
    def of(cls, told: pd.DataFrame, row: NDArray) -> "LastGauge":
        """From learned observations; `row` (n,) says which unit each is of."""
        units = int(row.max()) + 1 if len(row) else 0
        if not (told["gauge"] != "").any():
            nothing = {side: np.zeros((units, TURNS)) for side in SIDES.values()}
            return cls(np.zeros((len(told), TURNS)), nothing, nothing)
        gauge, _ = pd.factorize(told["gauge"])
        gauge = np.where(told["gauge"] == "", -1, gauge)
        t, k = told["t"].to_numpy(float), told["k_per_kpa"].to_numpy(float)
        last_t = pd.Series(t).groupby(row).transform("max").to_numpy()
        present = np.full(units, -1)
        present[row[t == last_t]] = gauge[t == last_t]
        mine = (gauge == present[row]) & (gauge >= 0)
        turn = np.full(len(told), np.inf)
        turn[mine] = pd.Series(t[mine]).groupby(row[mine]).rank(method="dense", ascending=False)
        within = turn[:, None] <= np.arange(1, TURNS + 1)
        within[:, -1] = mine
        from_t = np.full((units, TURNS), np.inf)
        for column in range(TURNS):
            np.minimum.at(from_t[:, column], row[within[:, column]], t[within[:, column]])
        precision, pull = {}, {}
        for feature, side in SIDES.items():
            of_side = (told["feature"] == feature).to_numpy() & (gauge >= 0)
            variance = told["noise"].to_numpy() ** 2 + told["spread"].to_numpy() ** 2
            most = MOST * np.sqrt(variance)
            weight = np.where(of_side, told["weight"] / variance, 0.0)
            a = weight * k**2
            b = weight * k * np.clip(told["r"].to_numpy(float), -most, most)
            for sums, values in ((precision, a), (pull, b)):
                own = np.stack([np.bincount(row, values * w, units) for w in within.T], axis=1)
                sums[side] = _since(gauge, t, values, present, from_t) - own
        return cls(within * k[:, None], precision, pull)

    def log_ratio(self, sides: tuple[str, ...], error_kpa: float) -> NDArray:
        """Log evidence of the other units for an error of the gauge against none, (units, TURNS)."""
        precision = sum(self._precision[side] for side in sides)
        pull = sum(self._pull[side] for side in sides)
        prior = 1 / (WOBBLE * error_kpa) ** 2
        explained = (pull + prior * error_kpa) ** 2 / (precision + prior) - prior * error_kpa**2
        return 0.5 * (explained - np.log1p(precision / prior))


def _since(gauge: NDArray, t: NDArray, values: NDArray, asked: NDArray, from_t: NDArray) -> NDArray:
    """Sum of a gauge's values from a time on, (units, TURNS)."""
    # Gauges lie further apart than any two times, so one search serves all of them.
    apart = 1_000.0
    order = np.lexsort((t, gauge))
    key = gauge[order] * apart + t[order]
    running = np.concatenate([[0.0], np.cumsum(values[order])])
    start = np.searchsorted(key, asked[:, None] * apart + np.minimum(from_t, apart / 2), "left")
    end = np.searchsorted(key, (asked[:, None] + 0.5) * apart, "left")
    return np.where(asked[:, None] >= 0, running[end] - running[start], 0.0)
