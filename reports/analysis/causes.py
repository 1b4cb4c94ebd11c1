"""Each cause moves the features along its own direction in time: the hypotheses of the screen.

A hypothesis is a cause, an onset and a strength. What each does to the features, and how often it
comes, is stated here and nowhere else. Directions follow laboratory work on small systems
(Rossi and Braun 1997; Breuker and Braun 1998; NREL/TP-5500-72801): a leak lowers lift and raises
depression, superheat first with a fixed orifice and subcooling first with a valve; a fouled
condenser raises lift alone; overcharge raises lift and subcooling and lowers depression; a
restriction raises depression and superheat and leaves lift. Sizes and rates are from memory and
wide: the evidence lets each effect be off by a third, and the strengths span what is seen.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["BANK", "ONSETS", "PRESSURE", "Cause", "Shapes", "charge_effect", "onset_grid", "shapes"]

ONSETS = 20
# Gauges hardly move until about this part of the charge is gone; pipe temperatures do.
UNSEEN_LOSS = 0.07
UNSEEN_SLOPE = 0.25


@dataclass(frozen=True)
class Cause:
    """One cause: shape in time, strengths of it, and its effect on each feature per strength."""

    name: str
    shape: str  # 'loss', 'ramp', 'step', 'filling'
    rates: tuple[float, ...]  # of the shape, a year (loss, ramp) or at once (step, filling)
    effects: dict[str, float]
    per_year: float  # how many of a hundred sound units get it in a year, over a hundred
    scales: tuple[float, ...] = (1.0,)
    by_expansion: dict[str, dict[str, float]] = field(default_factory=dict)

    def effect(self, feature: str, expansion: str) -> float:
        own = self.by_expansion.get(expansion, {})
        return own.get(feature, self.effects.get(feature, 0.0))

    @property
    def strengths(self) -> list[tuple[float, float]]:
        """Every (rate, scale) that a shape is tried with; a loss carries its rates in its shape."""
        rates = (1.0,) if self.shape == "loss" else self.rates
        return [(rate, scale) for rate in rates for scale in self.scales]


PRESSURE = (
    Cause(
        "refrigerant_leak",
        "loss",
        rates=(0.05, 0.08, 0.13, 0.2, 0.32, 0.5, 0.8),
        effects={
            "condensing_lift_k": -16.0,
            "evaporating_depression_k": 22.0,
            "superheat_k": 25.0,
            "subcooling_k": -28.0,
        },
        by_expansion={
            "orifice": {
                "evaporating_depression_k": 30.0,
                "superheat_k": 45.0,
                "subcooling_k": -20.0,
            },
            "valve": {
                "condensing_lift_k": -14.0,
                "evaporating_depression_k": 14.0,
                "superheat_k": 8.0,
                "subcooling_k": -40.0,
            },
        },
        per_year=0.05,
        scales=(0.5, 1.0, 1.8),
    ),
    Cause(
        "condenser_airflow",
        "ramp",
        rates=(1.5, 3.0, 6.0, 12.0),
        effects={"condensing_lift_k": 1.0},
        per_year=0.02,
    ),
    Cause(
        "condenser_airflow",
        "step",
        rates=(2.5, 5.0, 9.0),
        effects={"condensing_lift_k": 1.0},
        per_year=0.01,
    ),
    Cause(
        "restriction",
        "ramp",
        rates=(2.0, 4.0, 8.0, 16.0),
        effects={"evaporating_depression_k": 1.0, "superheat_k": 0.8, "subcooling_k": 0.2},
        per_year=0.01,
    ),
    Cause(
        "restriction",
        "step",
        rates=(3.0, 6.0, 11.0),
        effects={"evaporating_depression_k": 1.0, "superheat_k": 0.8, "subcooling_k": 0.2},
        per_year=0.005,
    ),
    Cause(
        "overcharge",
        "filling",
        rates=(2.0, 3.5, 6.0),
        effects={
            "condensing_lift_k": 1.0,
            "evaporating_depression_k": -0.6,
            "superheat_k": -0.7,
            "subcooling_k": 1.0,
        },
        per_year=0.02,
    ),
)
BANK = (
    Cause(
        "battery_wear",
        "ramp",
        rates=(0.08, 0.2, 0.45, 0.9),
        effects={
            "rest_v": -0.5,
            "resistance_mohm": 2.0,
            "night_end_v": -0.9,
            "bank_capacity_ah": -1.2,
        },
        per_year=0.08,
        scales=(0.6, 1.0, 1.6),
    ),
    Cause(
        "wiring_resistance",
        "ramp",
        rates=(0.15, 0.4, 1.0),
        # The same joint sags under the night's current: some 5 mΩ × 25 A a doubling.
        effects={"resistance_mohm": 1.0, "night_end_v": -0.13, "bank_capacity_ah": -0.06},
        per_year=0.015,
    ),
    Cause(
        "wiring_resistance",
        "step",
        rates=(0.25, 0.5, 1.0),
        # The same joint sags under the night's current: some 5 mΩ × 25 A a doubling.
        effects={"resistance_mohm": 1.0, "night_end_v": -0.13, "bank_capacity_ah": -0.06},
        per_year=0.015,
    ),
)


@dataclass(frozen=True)
class Shapes:
    """A cause's shapes over some observations: `s` (n, k), and each one's onset and rate (units, k)."""

    s: NDArray
    onset: NDArray
    rate: NDArray


def onset_grid(start_t: NDArray, now_t: float) -> NDArray:
    """Return (units, ONSETS) onsets, evenly over each unit's time under observation."""
    share = (np.arange(ONSETS) + 0.5) / ONSETS
    return start_t[:, None] + (now_t - start_t)[:, None] * share


def charge_effect(loss: NDArray) -> NDArray:
    """What pressures show of a loss of charge (a fraction): little at first, then all of it.

    Measured flat parts reach from 5 % to 15 % of charge in the studies named above; the size
    here is from memory.
    """
    return np.minimum(loss, UNSEEN_LOSS) * UNSEEN_SLOPE + np.maximum(loss - UNSEEN_LOSS, 0.0)


def shapes(
    cause: Cause,
    t: NDArray,
    row: NDArray,
    by_gauge: NDArray,
    onset: NDArray,
    added: NDArray,
    filled_t: NDArray,
) -> Shapes:
    """Return a cause's shapes at observation times.

    `t`, `row` and `by_gauge` are (n,): time, which unit's, and whether it rests on pressures
    alone; `onset` is (units, ONSETS). `added` is (n,): the part of the charge that was added
    before each observation; `filled_t` is (units,): when refrigerant was last put in.
    """
    if cause.shape == "filling":
        s = (t >= filled_t[row] - 1 / 365.25).astype(float)
        return Shapes(s[:, None], filled_t[:, None], np.ones((len(onset), 1)))
    since = np.maximum(t[:, None] - onset[row], 0.0)
    if cause.shape == "step":
        return Shapes((since > 0).astype(float), onset, np.ones_like(onset))
    if cause.shape == "ramp":
        return Shapes(since, onset, np.ones_like(onset))
    rates = np.array(cause.rates)
    # What was added beyond the loss shows as overcharge, which is another cause and no leak.
    loss = np.clip(since[:, :, None] * rates - added[:, None, None], 0.0, 0.95)
    loss[by_gauge] = charge_effect(loss[by_gauge])
    units, onsets = onset.shape
    k = onsets * len(rates)
    return Shapes(
        loss.reshape(len(t), k),
        np.repeat(onset, len(rates), axis=1),
        np.broadcast_to(np.tile(rates, onsets), (units, k)),
    )
