"""What readings still to come would be, under each hypothesis of what is wrong with a unit.

Given its readings a cell's level and slope are normal under a hypothesis (see evidence.py), so a
value at a later time is too: its variance is the noise's, and what is not known of level and slope
(the predictive distribution of Bayesian linear regression, e.g. Bishop 2006, section 3.3.2). A
feature that was never read has the level and the noise that are usual in the fleet.
"""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from reports.analysis.baseline import PRIORS, Prior
from reports.analysis.causes import Cause
from reports.analysis.detector import CAPACITY, NOT_OF_UNIT, Posterior, follows, moves
from reports.analysis.evidence import WOBBLE, CellSums, cell_sums
from reports.analysis.last_gauge import TURNS
from reports.analysis.sharing import PARTNER, SHARE

__all__ = ["MISSING", "Foreseen", "foreseen"]

# The part of the charge that a weighed recovery finds missing; no reading shows it. Scales, hoses
# and what stays in the oil are good to some 3 %: common practice, no source.
MISSING = "charge_missing"
USUAL = PRIORS | {MISSING: Prior(noise=0.03, least_noise=0.03, spread=0.001)}
# Overcharge mirrors a leak: so much of the charge too much for a kelvin of lift. From memory.
OVER_PER_K = 1 / 16
# The nights of a month speak for its middle.
MIDDLE_T = {CAPACITY: 0.5 / 12}
# The rest voltage of such a bank is flat and is not judged: reading it would tell nothing.
FLAT, FLAT_BANK, NO_TELLING = "rest_v", "lifepo4", 1e3
# So many hypotheses stand for all of a unit's faults, each as often as it is probable.
STANDING = 96


@dataclass(frozen=True)
class Foreseen:
    """Values to come, normal under each hypothesis that stands for the others.

    `mean` and `variance` are (units, features, times, k); `weight` and `cause` (units, k): how
    probable each is and the number of its cause of `causes`, the last of which is a sound unit.
    """

    mean: NDArray
    variance: NDArray
    weight: NDArray
    cause: NDArray
    causes: int

    def part(self, rows: slice) -> Self:
        return replace(
            self,
            mean=self.mean[rows],
            variance=self.variance[rows],
            weight=self.weight[rows],
            cause=self.cause[rows],
        )


@dataclass(frozen=True)
class Standing:
    """Each of a family's hypotheses (h,): the shape it has, how strong and scaled, of which cause."""

    column: NDArray
    strength: NDArray
    scale: NDArray
    cause: NDArray


def foreseen(posterior: Posterior, at: NDArray, features: list[str], ahead_t: NDArray) -> Foreseen:
    """Foresee the features of the units in rows `at` of a posterior, so many years from now."""
    unit = posterior.unit[at]
    mine = posterior.told["unit"].isin(unit).to_numpy()
    told, felt = posterior.told[mine], posterior.felt[mine]
    row = np.searchsorted(unit, told["unit"])
    background, grid = posterior.background, posterior.background.of(unit)
    future = _future(posterior.told, unit, features, background.as_of_t + ahead_t)
    of_unit = np.repeat(np.arange(len(unit)), len(features) * len(ahead_t))
    another_gauge = np.zeros((len(future), TURNS))
    family = [_weighable(cause) for cause, _probability in posterior.tried]
    seen = [moves(one, told, row, grid, background, felt)[0] for one in family]
    to_come = [moves(one, future, of_unit, grid, background, another_gauge)[0] for one in family]
    every = _every(family, [s.shape[1] for s in seen], posterior.causes)
    chosen, weight = _stand_ins(np.hstack([p[at] for _cause, p in posterior.tried]))
    column, strength, scale = (
        part[chosen][:, None] for part in (every.column, every.strength, every.scale)
    )
    sums, noise = _cells(posterior.told, told, row, features, np.hstack(seen), column)
    b = strength * follows(np.array(features)[:, None] == CAPACITY, scale)
    s = np.hstack(to_come).reshape(len(unit), len(features), len(ahead_t), -1)
    s = np.take_along_axis(s, column[:, :, None], axis=3)
    wobble = np.where(np.array(features) == MISSING, 0.0, WOBBLE)[:, None]
    mean, variance = _predicted(sums, b, wobble, s)
    return Foreseen(
        mean=mean,
        variance=variance + noise[:, :, None, None] ** 2,
        weight=weight,
        cause=every.cause[chosen],
        causes=len(posterior.causes) + 1,
    )


def _weighable(cause: Cause) -> Cause:
    """The cause with what a weighed recovery would show of it."""
    missing = {"loss": 1.0, "filling": -OVER_PER_K}.get(cause.shape, 0.0)
    return replace(cause, effects=cause.effects | {MISSING: missing})


def _future(told: pd.DataFrame, unit: NDArray, features: list[str], t: NDArray) -> pd.DataFrame:
    """The values that could be read, by unit, feature and time, as rows for `moves`."""
    taken_off = told.groupby("feature")["share"].first()
    usual = [taken_off.get(name, SHARE if name in PARTNER else 0.0) for name in features]
    own_t = t + np.array([[MIDDLE_T.get(name, 0.0)] for name in features])
    return pd.DataFrame(
        {
            "unit": np.repeat(unit, own_t.size),
            "feature": np.tile(np.repeat(features, len(t)), len(unit)),
            "t": np.tile(own_t.ravel(), len(unit)),
            "share": np.tile(np.repeat(usual, len(t)), len(unit)),
        }
    )


def _every(family: list[Cause], shapes: list[int], names: tuple[str, ...]) -> Standing:
    """All hypotheses in the order of their probabilities, and 'nothing is wrong' at the end."""
    number = {name: i for i, name in enumerate(names)} | {NOT_OF_UNIT: len(names)}
    first = np.cumsum([0, *shapes])
    rows = [
        (column, strength, scale, number[cause.name])
        for cause, start, k in zip(family, first, shapes, strict=False)
        for strength, scale in cause.strengths
        for column in range(start, start + k)
    ]
    column, strength, scale, cause = map(
        np.array, zip(*rows, (0, 0.0, 1.0, len(names)), strict=True)
    )
    return Standing(column, strength, scale, cause)


def _stand_ins(probability: NDArray) -> tuple[NDArray, NDArray]:
    """Choose hypotheses (units, STANDING + 1) evenly over all of them by probability, and weigh them.

    `probability` is (units, h); the last chosen, number h, is that nothing is wrong.
    """
    upto = np.cumsum(probability, axis=1)
    faulty = upto[:, -1:]
    steps = (np.arange(STANDING) + 0.5) / STANDING * faulty
    chosen = np.stack([np.searchsorted(*one) for one in zip(upto, steps, strict=True)])
    sound = np.full((len(chosen), 1), probability.shape[1])
    weight = np.repeat(faulty / STANDING, STANDING, axis=1)
    return np.hstack([chosen, sound]), np.hstack([weight, np.clip(1 - faulty, 0.0, 1.0)])


def _cells(
    all_told: pd.DataFrame,
    told: pd.DataFrame,
    row: NDArray,
    features: list[str],
    s: NDArray,
    column: NDArray,
) -> tuple[CellSums, NDArray]:
    """What each unit's newest cell of each feature holds, its shapes by `column`; and the noise.

    The sums are (units, features) and (units, features, k); a feature never read has sums of 0.
    """
    starts = np.flatnonzero(np.diff(told["cell"].to_numpy(), prepend=-1))
    ends = np.append(starts[1:], len(told)) - 1
    first, last = told.iloc[starts], told.iloc[ends]
    weight = (told["weight"] / told["noise"] ** 2).to_numpy(float)
    sums = cell_sums(told["r"].to_numpy(float), weight, s, starts, first["spread"].to_numpy(float))
    place = pd.Index(features).get_indexer(first["feature"])
    newest = np.full((len(column), len(features)), -1)
    in_time = np.argsort(last["t"].to_numpy(), kind="stable")
    for cell in in_time[place[in_time] >= 0]:
        newest[row[starts[cell]], place[cell]] = cell
    read = newest >= 0
    fleet = all_told.groupby("feature")[["noise", "spread"]].median().reindex(features)
    usual = pd.DataFrame({n: [USUAL[n].noise, USUAL[n].spread] for n in features}).T
    noise, spread = (
        np.where(read, first[name].to_numpy()[newest], fleet[name].fillna(usual[i]))
        for i, name in enumerate(("noise", "spread"))
    )
    if FLAT in features:
        flat = told.groupby(row)["group"].first().str.startswith(FLAT_BANK).to_numpy()
        noise[flat, features.index(FLAT)] = NO_TELLING
    here = {name: np.where(read, getattr(sums, name)[newest], 0.0) for name in ("precision", "r")}
    shaped = {
        name: np.where(
            read[:, :, None],
            np.take_along_axis(getattr(sums, name)[newest], column, axis=2),
            0.0,
        )
        for name in ("s", "ss", "rs")
    }
    return CellSums(**here, **shaped, spread=spread), noise


def _predicted(sums: CellSums, b: NDArray, wobble: NDArray, s: NDArray) -> tuple[NDArray, NDArray]:
    """Mean and variance of what has shape `s` (units, features, times, k) at slope b ± wobble · b."""
    a = (1 / sums.spread**2 + sums.precision)[:, :, None]
    variance = (wobble * b) ** 2
    determinant = a * (1 + variance * sums.ss) - variance * sums.s**2
    u_level = sums.r[:, :, None] - b * sums.s
    u_slope = sums.rs - b * sums.ss
    level = ((1 + variance * sums.ss) * u_level - variance * sums.s * u_slope) / determinant
    slope = b + variance * (a * u_slope - sums.s * u_level) / determinant
    level, slope, a, variance, determinant, s_, ss = (
        part[:, :, None] for part in (level, slope, a, variance, determinant, sums.s, sums.ss)
    )
    unsure = (1 + variance * ss - 2 * variance * s_ * s + variance * a * s**2) / determinant
    return level + slope * s, unsure
