"""From a fleet's frames to the probability of each cause for each unit.

All hypotheses of a unit (cause × onset × strength) are weighed against 'nothing is wrong' by the
evidence of all its cells at once, for all units in one pass over arrays.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logsumexp

from reports.analysis import causes
from reports.analysis.baseline import learn
from reports.analysis.causes import Cause, onset_grid
from reports.analysis.evidence import cell_sums, log_evidence
from reports.analysis.features import PRESSURE

__all__ = ["Posterior", "weigh"]

GAUGES = PRESSURE[:2]


@dataclass(frozen=True)
class Posterior:
    """What is believed of each unit, rows in the order of `unit`.

    `probability` is (units, causes) for the named `causes`; the rest of 1 is health.
    `hypothesis` holds, per cause, the onsets (t), rates and probabilities (units, k) within that
    cause. `n` counts each unit's times of observation.
    """

    unit: NDArray
    causes: tuple[str, ...]
    probability: NDArray
    hypothesis: dict[str, tuple[NDArray, NDArray, NDArray]]
    n: NDArray
    observations: pd.DataFrame


def weigh(
    observations: pd.DataFrame,
    family: tuple[Cause, ...],
    start_t: pd.Series,
    as_of_t: float,
    *,
    expansion: pd.Series | None = None,
    added: pd.DataFrame | None = None,
    filled_t: pd.Series | None = None,
    prior_ratio: dict[str, pd.Series] | None = None,
) -> Posterior:
    """Weigh a family of causes for every unit that has observations.

    `start_t` says since when a unit could have failed; `expansion` its device; `added` its
    additions (unit, t, part of the charge); `filled_t` when refrigerant was last put in. All are
    indexed by unit. `observations` are sorted by cell and time.
    """
    seen = learn(observations)
    unit, row = np.unique(seen["unit"].to_numpy(), return_inverse=True)
    names = tuple(dict.fromkeys(cause.name for cause in family))
    if not len(unit):
        empty = np.zeros((0, len(names)))
        return Posterior(unit, names, empty, {}, np.zeros(0, int), seen)
    start = np.minimum(start_t.reindex(unit).to_numpy(float), as_of_t - 1 / 365.25)
    span = as_of_t - start
    onset = onset_grid(start, as_of_t)
    filled = start if filled_t is None else filled_t.reindex(unit).fillna(-np.inf).to_numpy(float)
    filled = np.maximum(filled, start)
    device = np.full(len(unit), "") if expansion is None else expansion.reindex(unit).to_numpy(str)

    t = seen["t"].to_numpy(float)
    weight = (seen["weight"] / seen["noise"] ** 2).to_numpy(float)
    starts = np.flatnonzero(np.diff(seen["cell"].to_numpy(), prepend=-1))
    first = seen.iloc[starts]
    cell_row = row[starts]
    units_at = np.flatnonzero(np.diff(cell_row, prepend=-1))
    spread = first["spread"].to_numpy(float)
    feature = first["feature"].to_numpy(str)
    by_gauge = seen["feature"].isin(GAUGES).to_numpy()
    added_before = _added_before(seen, added)

    log_joint: dict[str, list[NDArray]] = {name: [] for name in names}
    where: dict[str, list[tuple[NDArray, NDArray]]] = {name: [] for name in names}
    for cause in family:
        shape = causes.shapes(cause, t, row, by_gauge, onset, added_before, filled)
        sums = cell_sums(seen["r"].to_numpy(float), weight, shape.s, starts, spread)
        effect = np.array(
            [cause.effect(f, d) for f, d in zip(feature, device[cell_row], strict=True)]
        )
        hypotheses = shape.s.shape[1] * len(cause.strengths)
        log_prior = np.log(cause.per_year * span / hypotheses) + _extra(prior_ratio, cause, unit)
        for rate, scale in cause.strengths:
            # Capacity is what a bank's loss is measured in; how far the rest follows is scaled.
            follows = np.where(feature == "bank_capacity_ah", 1.0, scale)
            cells = log_evidence(sums, effect * rate * follows)
            ratio = np.add.reduceat(cells, units_at, axis=0)
            log_joint[cause.name].append(log_prior[:, None] + ratio)
            where[cause.name].append((shape.onset, shape.rate * rate))
    stacked = {name: np.concatenate(parts, axis=1) for name, parts in log_joint.items()}
    by_cause = np.stack([logsumexp(stacked[name], axis=1) for name in names], axis=1)
    whole = logsumexp(np.column_stack([np.zeros(len(unit)), by_cause]), axis=1)
    hypothesis = {
        name: (
            np.concatenate([o for o, _ in where[name]], axis=1),
            np.concatenate([r for _, r in where[name]], axis=1),
            np.exp(stacked[name] - by_cause[:, [j]]),
        )
        for j, name in enumerate(names)
    }
    return Posterior(
        unit=unit,
        causes=names,
        probability=np.exp(by_cause - whole[:, None]),
        hypothesis=hypothesis,
        n=seen.groupby("unit")["t"].nunique().to_numpy(),
        observations=seen,
    )


def _extra(prior_ratio: dict[str, pd.Series] | None, cause: Cause, unit: NDArray) -> NDArray:
    """Log evidence for a cause that comes from elsewhere than the observations."""
    if not prior_ratio or cause.name not in prior_ratio:
        return np.zeros(len(unit))
    return prior_ratio[cause.name].reindex(unit).fillna(0.0).to_numpy(float)


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
