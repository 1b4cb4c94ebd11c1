"""What to measure next of a unit that is undecided, and when: the most that a visit could tell.

What a measurement tells of the cause is their mutual information, in bits: how much the entropy
over the causes (and nothing being wrong) is expected to fall once its values are known (Lindley
1956, 'On a measure of the information provided by an experiment'). Values to come are foreseen
under each hypothesis (see foreseeing.py), drawn from there, and weighed as readings would be. The
draws are the same for every unit (a Sobol sequence), so that no answer hangs on another unit or on
the order of rows.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import entr, ndtri
from scipy.stats import qmc

from reports.analysis.detector import CAPACITY, Posterior
from reports.analysis.features import PRESSURE, VISIT_BANK
from reports.analysis.foreseeing import MISSING, Foreseen, foreseen

__all__ = ["LEAST_BITS", "LEAST_SURE", "MEASURES", "Ask", "asks", "doubt_bits", "first_readings"]

# What each measure reads, the cheapest first, for a unit's circuit and for its bank.
CIRCUIT = {
    "gauges": PRESSURE[:2],
    "pipe_temperatures": PRESSURE,
    "weighed_charge": (MISSING,),
}
BANK = {"rest_and_load": VISIT_BANK, "nights": (CAPACITY,)}
MEASURES = (*CIRCUIT, *BANK)
MONTHS = np.array([0, 1, 2, 3, 6])
# A cause less likely than this is not in question; less than these bits are not worth a visit;
# what comes within a fifth of the best is as good.
LEAST_SURE, LEAST_BITS, AS_GOOD = 0.10, 0.10, 0.80
LOG2_DRAWS, SEED = 7, 0
UNITS_AT_ONCE = 16


@dataclass(frozen=True)
class Ask:
    """What to measure of a unit and by when (`by_t`; nights from then on for a month), and why.

    `bits` is what it is expected to tell of the `doubt_bits` that there are; `cause` is the most
    probable one. A unit with too few readings has no cause yet, and its numbers are None.
    """

    unit: int
    measure: str
    by_t: float
    bits: float | None = None
    doubt_bits: float | None = None
    cause: str = ""
    probability: float | None = None


def asks(posterior: Posterior, unnamed: NDArray) -> list[Ask]:
    """Return what to measure next of those units (a mask) that have no cause named yet.

    Asked is the cheapest measure that tells about as much as the best, at the earliest time that
    tells about as much as its best. Where no cause is in question, or nothing would tell, no ask.
    """
    probability = posterior.probability
    at = np.flatnonzero(unnamed & (probability.max(axis=1, initial=0.0) >= LEAST_SURE))
    if not len(at):
        return []
    measures = CIRCUIT if "refrigerant_leak" in posterior.causes else BANK
    features = list(dict.fromkeys(name for read in measures.values() for name in read))
    ahead = foreseen(posterior, at, features, MONTHS / 12)
    bits = _bits(ahead, [[features.index(name) for name in read] for read in measures.values()])
    best = bits.max(axis=2)
    chosen = (best >= AS_GOOD * best.max(axis=1, keepdims=True)).argmax(axis=1)
    told = bits[np.arange(len(at)), chosen]
    when = (told >= AS_GOOD * told.max(axis=1, keepdims=True)).argmax(axis=1)
    likeliest, doubt = probability[at].argmax(axis=1), doubt_bits(probability[at])
    return [
        Ask(
            unit=int(posterior.unit[at[i]]),
            measure=list(measures)[chosen[i]],
            by_t=float(posterior.background.as_of_t + MONTHS[when[i]] / 12),
            bits=float(min(told[i, when[i]], doubt[i])),
            doubt_bits=float(doubt[i]),
            cause=posterior.causes[likeliest[i]],
            probability=float(probability[at[i], likeliest[i]]),
        )
        for i in np.flatnonzero(best.max(axis=1) >= LEAST_BITS)
    ]


def first_readings(units: Iterable[int], as_of_t: float) -> list[Ask]:
    """Ask for a reading of units with too few of them, with pipe temperatures to start from."""
    return [Ask(unit=unit, measure="pipe_temperatures", by_t=as_of_t) for unit in units]


def doubt_bits(probability: NDArray) -> NDArray:
    """Return the entropy over the causes (units, causes) and nothing being wrong, (units,)."""
    sound = np.clip(1 - probability.sum(axis=1), 0.0, 1.0)
    return (entr(probability).sum(axis=1) + entr(sound)) / np.log(2)


def _bits(ahead: Foreseen, reads: list[list[int]]) -> NDArray:
    """Mutual information of the cause and what each measure reads, (units, measures, dates)."""
    draws = qmc.Sobol(1 + ahead.mean.shape[1], seed=SEED).random_base2(LOG2_DRAWS)
    chance, z = draws[:, 0], ndtri(draws[:, 1:]).T
    parts = [
        _bits_of(ahead.part(slice(first, first + UNITS_AT_ONCE)), reads, chance, z)
        for first in range(0, len(ahead.mean), UNITS_AT_ONCE)
    ]
    return np.concatenate(parts)


def _bits_of(ahead: Foreseen, reads: list[list[int]], chance: NDArray, z: NDArray) -> NDArray:
    upto = np.cumsum(ahead.weight, axis=1)
    drawn = (upto[:, None, :-1] < chance[:, None]).sum(axis=2)[:, None, None, :]
    own_mean, own_variance = (
        np.take_along_axis(part, drawn, axis=3) for part in (ahead.mean, ahead.variance)
    )
    y = own_mean + z[:, None, :] * np.sqrt(own_variance)
    # How each cause's weight is made up of its hypotheses' likelihoods.
    of_cause = np.eye(ahead.causes)[ahead.cause] * ahead.weight[:, :, None]
    before = entr(of_cause.sum(axis=1)).sum(axis=1)
    out = []
    for read in reads:
        likelihood = np.exp(_log_likelihood(ahead, y, own_variance, z, read))
        joint = likelihood @ of_cause[:, None].astype(np.float32)
        after = entr(joint / joint.sum(axis=3, keepdims=True)).sum(axis=3).mean(axis=2)
        out.append(before[:, None] - after)
    return np.maximum(np.stack(out, axis=1), 0.0) / np.log(2)


def _log_likelihood(ahead: Foreseen, y, own_variance, z, read: list[int]) -> NDArray:
    """Of every hypothesis for every draw, less that of the drawn: (units, dates, draws, k).

    The sum of -(y - m)²/2v - ln(v)/2 is linear in (1, y, y²), hence one product of matrices.
    """
    mean, variance, y = (
        part[:, read].astype(np.float32) for part in (ahead.mean, ahead.variance, y)
    )
    of_y = np.concatenate([y**2, y, np.ones_like(y[:, :1])], axis=1)
    constant = -0.5 * (mean**2 / variance + np.log(variance)).sum(axis=1, keepdims=True)
    of_h = np.concatenate([-0.5 / variance, mean / variance, constant], axis=1)
    drawn = -0.5 * (np.log(own_variance[:, read]) + z[read][:, None] ** 2).sum(axis=1)
    whole = of_y.transpose(0, 2, 3, 1) @ of_h.transpose(0, 2, 1, 3)
    return whole - drawn[..., None].astype(np.float32)
