"""How often each hypothesis comes true, learned from the fleet itself (empirical Bayes).

How fast leaks leak in this fleet, how strongly this model answers to one and how many came with
the install are the same for many units, so the units that surely have one tell of those that may.
The weights of a mixture are found by expectation and maximisation (Dempster, Laird and Rubin
1977), each held to what was expected before by a number of units that were never seen.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

__all__ = ["Factor", "Hypotheses", "joint"]

ROUNDS = 6
# Weight of what was expected before any fleet is seen: years of a unit, and faulty units.
PRIOR_YEARS, PRIOR_FAULTS = 1000.0, 10.0


@dataclass(frozen=True)
class Hypotheses:
    """One cause, tried at k onsets, rates and scales on every unit.

    `log_ratio`, `onset` and `rate` are (units, k). `expected` (units,) is how often a unit has it,
    before anything was read, and `extra` (units,) the log evidence for it from elsewhere. Each of
    `factors` says of every hypothesis (k,) which of some labels it has, and what part of the cases
    each label is expected to have.
    """

    log_ratio: NDArray
    onset: NDArray
    rate: NDArray
    expected: NDArray
    extra: NDArray
    factors: tuple["Factor", ...]


@dataclass(frozen=True)
class Factor:
    """Onset, rate or scale: `label` (k,), `share` (labels,); by_kind: each kind of unit its own."""

    label: NDArray
    share: NDArray
    by_kind: bool = False


def joint(hypotheses: list[Hypotheses], kind: NDArray) -> list[NDArray]:
    """Return the log probability ratio to health, (units, k), of each cause's hypotheses.

    `kind` is (units,): units of one kind answer alike to a trouble.
    """
    kinds, which = np.unique(kind, return_inverse=True)
    often = np.ones(len(hypotheses))
    shares = [[np.tile(f.share, (len(kinds), 1)) for f in h.factors] for h in hypotheses]
    for _ in range(ROUNDS):
        joints = _joints(hypotheses, often, shares, which)
        whole = np.logaddexp(0.0, logsumexp(np.concatenate(joints, axis=1), axis=1))
        for i, (h, one) in enumerate(zip(hypotheses, joints, strict=True)):
            belief = np.exp(one - whole[:, None])
            before = PRIOR_YEARS * h.expected.mean()
            often[i] = (belief.sum() + before) / (h.expected.sum() + before)
            by_kind = np.stack([belief[which == k].sum(axis=0) for k in range(len(kinds))])
            shares[i] = [_shares(f, by_kind) for f in h.factors]
    return _joints(hypotheses, often, shares, which)


def _shares(factor: Factor, by_kind: NDArray) -> NDArray:
    """The part of the cases with each label, (kinds, labels)."""
    seen = np.stack([np.bincount(factor.label, one, len(factor.share)) for one in by_kind])
    if not factor.by_kind:
        seen = np.broadcast_to(seen.sum(axis=0), seen.shape)
    seen = seen + PRIOR_FAULTS * factor.share
    return seen / seen.sum(axis=1, keepdims=True)


def _joints(hypotheses, often, shares, which) -> list[NDArray]:
    out = []
    for h, factor, own in zip(hypotheses, often, shares, strict=True):
        prior = sum(np.log(s[:, f.label]) for s, f in zip(own, h.factors, strict=True))
        expected = np.log(factor * h.expected) + h.extra
        out.append(h.log_ratio + prior[which] + expected[:, None])
    return out
