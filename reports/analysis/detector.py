"""From a fleet's frames to the probability of each cause for each unit.

All hypotheses of a unit (cause × onset × strength) are weighed against 'nothing is wrong' by the
evidence of all its cells at once, for all units in one pass over arrays.
"""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logsumexp

from reports.analysis import causes
from reports.analysis.baseline import learn
from reports.analysis.causes import Cause, onset_grid
from reports.analysis.evidence import cell_sums, log_evidence
from reports.analysis.features import PRESSURE
from reports.analysis.gauges import SIDES
from reports.analysis.last_gauge import TURNS, LastGauge
from reports.analysis.mixing import Hypotheses, joint
from reports.analysis.sharing import PARTNER, beyond_partner

__all__ = ["Background", "Grid", "Posterior", "follows", "moves", "weigh"]

GAUGES = PRESSURE[:2]
CAPACITY = "bank_capacity_ah"
DAY_T = 1 / 365.25
# A gauge that is off explains a unit's readings as a cause does, but is no fault of the unit.
NOT_OF_UNIT = "doubtful_instrument"


@dataclass(frozen=True)
class Background:
    """What is known of the units beside their observations; each indexed by unit.

    `start_t`: since when a unit could have failed. `expansion`: its device. `added`: its additions
    (columns unit, t, part of the charge). `filled_t`: when refrigerant was last put in.
    `prior_ratio`: log evidence for a cause from elsewhere. `not_before_t`: since when a cause may
    have begun.
    """

    start_t: pd.Series
    as_of_t: float
    expansion: pd.Series | None = None
    added: pd.DataFrame | None = None
    filled_t: pd.Series | None = None
    prior_ratio: dict[str, pd.Series] = field(default_factory=dict)
    not_before_t: dict[str, pd.Series] = field(default_factory=dict)

    def of(self, unit: NDArray) -> "Grid":
        start = np.minimum(self.start_t.reindex(unit).to_numpy(float), self.as_of_t - DAY_T)
        filled = np.full(len(unit), -np.inf)
        if self.filled_t is not None:
            filled = self.filled_t.reindex(unit).fillna(-np.inf).to_numpy(float)
        device = np.full(len(unit), "")
        if self.expansion is not None:
            device = self.expansion.reindex(unit).to_numpy(str)
        return Grid(
            span=self.as_of_t - start,
            onset=onset_grid(start, self.as_of_t),
            filled_t=np.maximum(filled, start),
            device=device,
        )


@dataclass(frozen=True)
class Grid:
    """Where the hypotheses of some units lie, (units,) each: years watched, onsets tried, …"""

    span: NDArray
    onset: NDArray
    filled_t: NDArray
    device: NDArray


@dataclass(frozen=True)
class Posterior:
    """What is believed of each unit, rows in the order of `unit`.

    `probability` is (units, causes) for the named `causes`; the rest of 1 is health, or a gauge
    that is off. `hypothesis` holds, per cause, the onsets (t), rates and probabilities (units, k)
    within that cause. `n` counts each unit's times of observation. `tried` are the family's causes
    with the probability (units, k) of each of their hypotheses, and `told` what they were weighed
    on, against a `background` and with what was `felt` of each unit's last gauge (see last_gauge);
    `observations` are the same before pipe temperatures were freed of their pressures.
    """

    unit: NDArray
    causes: tuple[str, ...]
    probability: NDArray
    hypothesis: dict[str, tuple[NDArray, NDArray, NDArray]]
    n: NDArray
    observations: pd.DataFrame
    told: pd.DataFrame
    felt: NDArray
    tried: list[tuple[Cause, NDArray]]
    background: Background


def weigh(
    observations: pd.DataFrame, family: tuple[Cause, ...], background: Background
) -> Posterior:
    """Weigh a family of causes for every unit that has observations, sorted by cell and time."""
    seen = learn(observations)
    told = beyond_partner(seen)
    unit, row = np.unique(told["unit"].to_numpy(), return_inverse=True)
    names = tuple(dict.fromkeys(c.name for c in family if c.name != NOT_OF_UNIT))
    if not len(unit):
        nothing = np.zeros((0, len(names)))
        felt = np.zeros((0, TURNS))
        return Posterior(
            unit, names, nothing, {}, np.zeros(0, int), seen, told, felt, [], background
        )
    grid = background.of(unit)
    last_gauge = LastGauge.of(told, row)
    hypotheses = _hypotheses(told, unit, row, family, background, grid, last_gauge)
    log_joint = joint(hypotheses, grid.device)
    whole = logsumexp(np.column_stack([np.zeros(len(unit)), *log_joint]), axis=1)
    probability = [np.exp(one - whole[:, None]) for one in log_joint]
    hypothesis = {}
    for name in names:
        mine = [i for i, cause in enumerate(family) if cause.name == name]
        weight = np.concatenate([probability[i] for i in mine], axis=1)
        hypothesis[name] = (
            np.concatenate([hypotheses[i].onset for i in mine], axis=1),
            np.concatenate([hypotheses[i].rate for i in mine], axis=1),
            weight / np.maximum(weight.sum(axis=1, keepdims=True), 1e-300),
        )
    by_cause = {
        name: sum(p.sum(axis=1) for p, c in zip(probability, family, strict=True) if c.name == name)
        for name in names
    }
    return Posterior(
        unit=unit,
        causes=names,
        probability=np.stack(list(by_cause.values()), axis=1),
        hypothesis=hypothesis,
        n=told.groupby("unit")["t"].nunique().to_numpy(),
        observations=seen,
        told=told,
        felt=last_gauge.felt,
        tried=list(zip(family, probability, strict=True)),
        background=background,
    )


def _hypotheses(
    told, unit, row, family, background: Background, grid: Grid, last_gauge: LastGauge
) -> list[Hypotheses]:
    """All hypotheses of all causes, with the evidence of all cells for each."""
    r = told["r"].to_numpy(float)
    weight = (told["weight"] / told["noise"] ** 2).to_numpy(float)
    starts = np.flatnonzero(np.diff(told["cell"].to_numpy(), prepend=-1))
    first = told.iloc[starts]
    units_at = np.flatnonzero(np.diff(row[starts], prepend=-1))
    capacity = (first["feature"] == CAPACITY).to_numpy()
    out = []
    for cause in family:
        s, onset, rate = moves(cause, told, row, grid, background, last_gauge.felt)
        sums = cell_sums(r, weight, s, starts, first["spread"].to_numpy(float))
        ratios = []
        for strength, scale in cause.strengths:
            cells = log_evidence(sums, strength * follows(capacity, scale))
            ratio = np.add.reduceat(cells, units_at, axis=0)
            if cause.shape == "gauge":
                ratio += last_gauge.log_ratio(_sides(cause), strength)
            ratios.append(ratio)
        ratio, onset = np.concatenate(ratios, axis=1), np.tile(onset, len(cause.strengths))
        allowed = background.not_before_t.get(cause.name)
        if allowed is not None:
            ratio[onset < allowed.reindex(unit).fillna(-np.inf).to_numpy(float)[:, None]] = -np.inf
        out.append(
            Hypotheses(
                log_ratio=ratio,
                onset=onset,
                rate=np.concatenate([rate * strength for strength, _ in cause.strengths], axis=1),
                expected=cause.per_year * (1.0 if cause.shape == "gauge" else grid.span)
                + np.zeros(len(unit)),
                extra=_extra(background.prior_ratio.get(cause.name), unit),
                factors=cause.factors(s.shape[1]),
            )
        )
    return out


def follows(capacity: NDArray, scale: float) -> NDArray:
    """Capacity is what a bank's loss is measured in; how far the rest follows is scaled."""
    return np.where(capacity, 1.0, scale)


def moves(
    cause: Cause,
    told: pd.DataFrame,
    row: NDArray,
    grid: Grid,
    background: Background,
    felt: NDArray,
) -> tuple[NDArray, NDArray, NDArray]:
    """How far a cause moves each observation at unit strength (n, k); onsets and rates (units, k)."""
    t, share = told["t"].to_numpy(float), told["share"].to_numpy(float)
    added = _added_before(told, background.added)
    shape = causes.shapes(cause, t, row, grid.onset, added, grid.filled_t, felt)
    own, beside = _effects(cause, told["feature"], grid.device[row])
    by_gauge = told["feature"].isin(GAUGES).to_numpy()
    return causes.moved(cause, shape.s, own, by_gauge, share * beside), shape.onset, shape.rate


def _effects(cause: Cause, feature: pd.Series, device: NDArray) -> tuple[NDArray, NDArray]:
    """What a cause does at unit strength to each observation's feature, and to its partner's."""
    code, names = pd.factorize(feature)
    which, devices = pd.factorize(device)
    own = np.array([[cause.effect(name, d) for name in names] for d in devices])
    beside = np.array([[cause.effect(PARTNER.get(name, ""), d) for name in names] for d in devices])
    return own[which, code], beside[which, code]


def _sides(cause: Cause) -> tuple[str, ...]:
    return tuple(side for feature, side in SIDES.items() if feature in cause.effects)


def _extra(ratio: pd.Series | None, unit: NDArray) -> NDArray:
    """Log evidence for a cause that comes from elsewhere than the observations."""
    if ratio is None:
        return np.zeros(len(unit))
    return ratio.reindex(unit).fillna(0.0).to_numpy(float)


def _added_before(seen: pd.DataFrame, added: pd.DataFrame | None) -> NDArray:
    """Part of the charge that was added to a unit before each observation."""
    if added is None or added.empty:
        return np.zeros(len(seen))
    added = added.sort_values(["unit", "t"])
    running = np.concatenate([[0.0], added["part"].cumsum().to_numpy(float)])
    # Units lie further apart than any two times, so one search serves all of them.
    apart = 1_000.0
    key = added["unit"].to_numpy(float) * apart + added["t"].to_numpy(float)
    at = seen["unit"].to_numpy(float) * apart
    upto = np.searchsorted(key, at + seen["t"].to_numpy(float), side="right")
    return running[upto] - running[np.searchsorted(key, at, side="left")]
