"""How long parts last: survival, a Weibull law, what will fail next, and who stands out.

A lifetime runs from an age at which the part came under watch (late entry: left truncation) to an
age at which it failed or was last seen whole (right censoring). Ages are in years. Nothing is said
of fewer than `FEWEST_FAILURES` failures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize_scalar
from scipy.stats import norm

__all__ = [
    "FEWEST_FAILURES",
    "Coming",
    "Lifetimes",
    "Survival",
    "TooFew",
    "Weibull",
    "cumulative_hazard",
    "foreseen_cost",
    "foreseen_failures",
    "kaplan_meier",
    "weibull",
]

FEWEST_FAILURES = 3
SHAPES = np.geomspace(0.3, 8, 61)
SHAPES_SOUGHT = (0.1, 50.0)
DRAWS = 2000
MOST_CELLS = 2_000_000


class TooFew(ValueError):
    """There are too few failures to say anything of them."""


@dataclass(frozen=True)
class Lifetimes:
    """Parts of one kind: arrays of one length, ages in years; `failed` is False of a censored one.

    Raises ValueError for a lifetime of no length, which holds no evidence, or that is no number.
    """

    entry: NDArray[np.float64]
    exit: NDArray[np.float64]
    failed: NDArray[np.bool_]

    def __post_init__(self) -> None:
        if not self.entry.shape == self.exit.shape == self.failed.shape:
            raise ValueError("entry, exit and failed differ in length")
        if not np.all((self.entry >= 0) & (self.exit > self.entry) & np.isfinite(self.exit)):
            raise ValueError(
                "each lifetime ends after it enters, and enters at an age of 0 or more"
            )

    @classmethod
    def of(cls, exit: ArrayLike, failed: ArrayLike, entry: ArrayLike | None = None) -> Self:
        ends = np.asarray(exit, dtype=float)
        entered = np.zeros_like(ends) if entry is None else np.asarray(entry, dtype=float)
        return cls(entered, ends, np.asarray(failed, dtype=bool))

    @property
    def failures(self) -> int:
        return int(self.failed.sum())

    def take(self, chosen: NDArray) -> "Lifetimes":
        return Lifetimes(self.entry[chosen], self.exit[chosen], self.failed[chosen])

    def must_tell(self) -> None:
        """Raise TooFew where there are too few failures to say anything."""
        if self.failures < FEWEST_FAILURES:
            raise TooFew(f"{self.failures} failures; at least {FEWEST_FAILURES} are needed")


class Survival(NamedTuple):
    """The share that survives each age at which some failed, with pointwise bounds."""

    t: NDArray[np.float64]
    at_risk: NDArray[np.int64]
    failures: NDArray[np.int64]
    share: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    error: NDArray[np.float64]

    @property
    def median(self) -> float:
        """The first age that no more than half survive; NaN while more do."""
        below = self.t[self.share <= 0.5]
        return float(below[0]) if below.size else np.nan

    def at(self, age: float) -> float:
        reached = self.share[self.t <= age]
        return float(reached[-1]) if reached.size else 1.0


def kaplan_meier(lifetimes: Lifetimes, level: float = 0.95) -> Survival:
    """Return the product-limit estimate of Kaplan and Meier (1958) with late entry.

    At risk at an age are those who entered before it and had not left before it. The error is
    Greenwood's; the bounds are of the log-log form, log(-log S) being taken as normal.
    """
    t, at_risk, failures = _risk_sets(lifetimes)
    share = np.cumprod(1 - failures / at_risk)
    whole_gone = failures == at_risk
    terms = failures / (at_risk * np.where(whole_gone, 1, at_risk - failures))
    relative = np.sqrt(np.cumsum(np.where(whole_gone, 0.0, terms)))
    low, high = _log_log(share, relative, norm.isf((1 - level) / 2))
    return Survival(t, at_risk, failures, share, low, high, share * relative)


def _log_log(share: NDArray, relative: NDArray, z: float) -> tuple[NDArray, NDArray]:
    """Bounds; where none survive the form is not defined: down to zero, and the last upper bound."""
    inside = (share > 0) & (share < 1)
    log = np.log(np.where(inside, share, 0.5))
    spread = np.exp(z * relative / -log)
    low, high = np.exp(log * spread), np.exp(log / spread)
    low, high = np.where(inside, low, share), np.where(inside, high, share)
    if not inside.all():
        last = high[inside][-1] if inside.any() else 1.0
        high = np.where(share == 0, last, high)
    return low, high


def cumulative_hazard(lifetimes: Lifetimes, of: Lifetimes) -> NDArray[np.float64]:
    """Return how many failures each of some lifetimes was to expect at the hazard of others.

    The hazard is Nelson's and Aalen's: failures over those at risk, summed over ages.
    """
    t, at_risk, failures = _risk_sets(lifetimes)
    summed = np.concatenate([[0.0], np.cumsum(failures / at_risk)])
    ends = np.searchsorted(t, of.exit, side="right")
    begins = np.searchsorted(t, of.entry, side="right")
    return summed[ends] - summed[begins]


def _risk_sets(lifetimes: Lifetimes) -> tuple[NDArray, NDArray, NDArray]:
    """Ages of failure, those at risk just before each, and how many failed at it."""
    t, failures = np.unique(lifetimes.exit[lifetimes.failed], return_counts=True)
    entered = np.searchsorted(np.sort(lifetimes.entry), t, side="left")
    left = np.searchsorted(np.sort(lifetimes.exit), t, side="left")
    return t, entered - left, failures


class Weibull(NamedTuple):
    """A Weibull law, S(t) = exp(-(t/scale)^shape), with bounds of its two numbers.

    A shape below 1 is failing young, about 1 by chance, above 1 wearing out.
    """

    scale: float
    shape: float
    scale_low: float
    scale_high: float
    shape_low: float
    shape_high: float
    scale_error_log: float
    shape_error_log: float
    log_likelihood: float

    def survival(self, t: ArrayLike) -> NDArray[np.float64]:
        return np.exp(-((np.asarray(t, dtype=float) / self.scale) ** self.shape))

    def age_failed(self, share: float) -> float:
        """The age by which a share has failed; 0.1 gives the B10 life."""
        return float(self.scale * (-np.log1p(-share)) ** (1 / self.shape))


def weibull(lifetimes: Lifetimes, level: float = 0.95) -> Weibull:
    """Fit a Weibull law by maximum likelihood, late entry and censoring allowed for.

    For any shape the best scale has a closed form, so one number is searched for. The bounds take
    the logarithms of scale and shape as normal, with the observed information (Meeker and Escobar,
    1998, ch. 8). Raises TooFew, also where the lifetimes leave the shape open: late entries may.
    """
    lifetimes.must_tell()
    sums = _Sums.of(lifetimes)
    bounds = np.log(SHAPES_SOUGHT)
    best = minimize_scalar(
        lambda log_shape: -sums.profile(np.exp(log_shape)),
        bounds=bounds,
        method="bounded",
        options={"xatol": 1e-10},
    )
    shape = float(np.exp(best.x))
    if not 1.01 * SHAPES_SOUGHT[0] < shape < 0.99 * SHAPES_SOUGHT[1]:
        raise TooFew("these lifetimes settle no shape")
    scale_error, shape_error = sums.errors_of_logs(shape)
    scale = sums.unit * sums.scale(shape)
    z = norm.isf((1 - level) / 2)
    return Weibull(
        scale,
        shape,
        scale / np.exp(z * scale_error),
        scale * np.exp(z * scale_error),
        shape / np.exp(z * shape_error),
        shape * np.exp(z * shape_error),
        scale_error,
        shape_error,
        float(-best.fun - sums.count * np.log(sums.unit)),
    )


@dataclass(frozen=True)
class _Sums:
    """What the Weibull likelihood needs of lifetimes, their ages over `unit` (for its own scale)."""

    entry: NDArray[np.float64]
    exit: NDArray[np.float64]
    unit: float
    count: int
    log_t: float  # summed over failures

    @classmethod
    def of(cls, lifetimes: Lifetimes) -> Self:
        unit = float(lifetimes.exit.mean())
        failed = lifetimes.exit[lifetimes.failed] / unit
        entry, ends = lifetimes.entry / unit, lifetimes.exit / unit
        return cls(entry, ends, unit, failed.size, float(np.log(failed).sum()))

    def hazard(self, shape: float, power: int = 0) -> float:
        """The sum of exit^shape - entry^shape, or its first or second derivative by the shape."""
        of_entry = self.entry[self.entry > 0]
        ends = self.exit**shape * np.log(self.exit) ** power
        return float(ends.sum() - (of_entry**shape * np.log(of_entry) ** power).sum())

    def scale(self, shape: float) -> float:
        return (self.hazard(shape) / self.count) ** (1 / shape)

    def profile(self, shape: float) -> float:
        """The log-likelihood of a shape at its own best scale."""
        n = self.count
        return n * np.log(shape) - n * np.log(self.hazard(shape) / n) + (shape - 1) * self.log_t - n

    def errors_of_logs(self, shape: float) -> tuple[float, float]:
        """Standard errors of log scale and log shape at the maximum."""
        n, m = self.count, np.log(self.scale(shape))
        a, a1, a2 = (self.hazard(shape, power) for power in range(3))
        of_scale = shape**2 * n
        of_shape = n + shape**2 * n * (a2 - 2 * m * a1 + m**2 * a) / a
        of_both = -(shape**2) * n * (a1 - m * a) / a
        determinant = of_scale * of_shape - of_both**2
        return float(np.sqrt(of_shape / determinant)), float(np.sqrt(of_scale / determinant))


class Coming(NamedTuple):
    """What a window holds, failures or their cost: the mean, bounds, and the draws behind them."""

    mean: float
    low: int
    high: int
    draws: NDArray[np.int64]

    @classmethod
    def of(cls, draws: NDArray[np.int64], level: float = 0.90) -> Self:
        tail = (1 - level) / 2
        low, high = np.quantile(draws, [tail, 1 - tail], method="inverted_cdf")
        return cls(float(draws.mean()), int(low), int(high), draws)


def foreseen_failures(
    lifetimes: Lifetimes,
    ages: NDArray[np.float64],
    windows: Sequence[NDArray[np.float64]],
    rng: np.random.Generator,
    level: float = 0.90,
    draws: int = DRAWS,
) -> list[Coming]:
    """Foresee failures of parts that stand at some ages, one answer a window.

    A window is, by part, how many years from now count (0: none); each window holds the one before
    it. Every draw takes a Weibull law from what the lifetimes leave open and then a fate for each
    part, and for the new part in its place once. Of the law: Jeffreys' prior for the rate at a
    given shape, and every shape of `SHAPES` as likely as another before the data, which gives the
    rate as a gamma variate. Raises TooFew.
    """
    lifetimes.must_tell()
    sums = _Sums.of(lifetimes)
    drawn = rng.choice(SHAPES.size, size=draws, p=_odds_of_shapes(sums))
    hazards = np.array([sums.hazard(shape) for shape in SHAPES])
    rates = rng.gamma(sums.count + 0.5, 1 / hazards[drawn])
    counted = windows[-1] > 0
    now = ages[counted] / sums.unit
    ahead = np.array([window[counted] / sums.unit for window in windows])
    counts = np.zeros((len(windows), draws), dtype=int)
    # Draws of one shape go together: the powers are taken once for all of them.
    for number in np.unique(drawn):
        shape, those = SHAPES[number], np.flatnonzero(drawn == number)
        step = max(1, MOST_CELLS // max(now.size, 1))
        for begin in range(0, those.size, step):
            some = those[begin : begin + step]
            counts[:, some] = _fates(now, ahead, shape, rates[some], rng)
    return [Coming.of(row, level) for row in counts]


def foreseen_cost(
    counts: NDArray[np.int64], costs: NDArray[np.int64], rng: np.random.Generator
) -> Coming:
    """Return what drawn counts of failures cost; each costs as one of `costs` did.

    Costs are whole numbers, such as cents. Raises ValueError for no costs.
    """
    picked = rng.choice(costs, size=int(counts.sum()))
    of_draw = np.repeat(np.arange(counts.size), counts)
    # Floats hold whole numbers exactly to 2^53: ninety million million in cents.
    sums = np.bincount(of_draw, weights=picked, minlength=counts.size)
    return Coming.of(sums.astype(np.int64))


def _odds_of_shapes(sums: _Sums) -> NDArray[np.float64]:
    """How likely each of `SHAPES` is, the rate being integrated out."""
    n = sums.count
    log = [
        n * np.log(shape) + (shape - 1) * sums.log_t - (n + 0.5) * np.log(sums.hazard(shape))
        for shape in SHAPES
    ]
    odds = np.exp(np.array(log) - max(log))
    return odds / odds.sum()


def _fates(now: NDArray, ahead: NDArray, shape: float, rates: NDArray, rng) -> NDArray:
    """Count failures by window (rows) and rate (columns)."""
    begun = now**shape
    most = (now + ahead[-1]) ** shape - begun
    used = rng.exponential(size=(rates.size, now.size)) / rates[:, None]
    draw, part = np.nonzero(used < most)
    failed_in = (used[draw, part] + begun[part]) ** (1 / shape) - now[part]
    again_in = failed_in + (rng.exponential(size=draw.size) / rates[draw]) ** (1 / shape)
    counts = np.zeros((len(ahead), rates.size), dtype=int)
    for row, window in zip(counts, ahead, strict=True):
        for when in (failed_in, again_in):
            row += np.bincount(draw[when <= window[part]], minlength=rates.size)
    return counts
