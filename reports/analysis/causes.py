"""Each cause moves the features along its own direction in time: the hypotheses of the screen.

A hypothesis is a cause, an onset and a strength. What each does to the features, and how often it
comes, is stated here and nowhere else. Directions follow laboratory work on small systems
(Rossi and Braun 1997; Breuker and Braun 1998; NREL/TP-5500-72801): a leak lowers lift and raises
depression, superheat first with a fixed orifice and subcooling first with a valve; a fouled
condenser raises lift alone; overcharge raises lift and subcooling and lowers depression; a
restriction raises depression and superheat and leaves lift. Sizes and rates are from memory and
wide: the evidence lets each effect be off by a quarter, and the strengths span what is seen.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from reports.analysis.mixing import Factor

__all__ = ["BANK", "ONSETS", "PRESSURE", "Cause", "moved", "onset_grid", "shapes"]

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
    from_start: float = 1 / ONSETS  # share that comes with the install

    def effect(self, feature: str, expansion: str) -> float:
        own = self.by_expansion.get(expansion, {})
        return own.get(feature, self.effects.get(feature, 0.0))

    @property
    def strengths(self) -> list[tuple[float, float]]:
        """Every (rate, scale) that a shape is tried with; a loss carries its rates in its shape."""
        rates = (1.0,) if self.shape == "loss" else self.rates
        return [(rate, scale) for rate in rates for scale in self.scales]

    def factors(self, shapes: int) -> tuple[Factor, ...]:
        """Onset, rate and scale of each hypothesis: every strength in turn, all shapes of it."""
        strength = np.repeat(np.arange(len(self.strengths)), shapes)
        shape = np.tile(np.arange(shapes), len(self.strengths))
        of_loss = len(self.rates) if self.shape == "loss" else 1
        onset, rate = shape // of_loss, shape % of_loss
        if self.shape != "loss":
            rate = strength // len(self.scales)
        later = np.full(shapes // of_loss, (1 - self.from_start) / (ONSETS - 1))
        later[0] = self.from_start
        return (
            Factor(onset, later / later.sum()),
            Factor(rate, np.full(len(self.rates), 1 / len(self.rates))),
            Factor(
                strength % len(self.scales), np.full(len(self.scales), 1 / len(self.scales)), True
            ),
        )


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
        from_start=0.3,
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
# A gauge that was dropped shows on every unit it is held to: by 4 to 14 psi, from memory.
_SUCTION = {"evaporating_depression_k": 1.0, "superheat_k": 1.0}
_DISCHARGE = {"condensing_lift_k": 1.0, "subcooling_k": 1.0}
PRESSURE += tuple(
    Cause("doubtful_instrument", "gauge", (-80.0, -40.0, 40.0, 80.0), effects, per_year=share)
    for effects, share in (
        (_SUCTION | _DISCHARGE, 0.02),
        (_SUCTION, 0.007),
        (_DISCHARGE, 0.007),
    )
)
BANK = (
    Cause(
        "battery_wear",
        "ramp",
        rates=(0.08, 0.2, 0.45, 0.9),
        effects={
            "rest_v": -0.5,
            "resistance_mohm": 2.0,
            "bank_capacity_ah": -1.2,
        },
        per_year=0.08,
        scales=(0.6, 1.0, 1.6),
    ),
    Cause(
        "wiring_resistance",
        "ramp",
        rates=(0.15, 0.4, 1.0),
        # The same joint sags under the night's current: some 5 mΩ × 25 A a doubling, a tenth of
        # the fall from full to empty.
        effects={"resistance_mohm": 1.0, "bank_capacity_ah": -0.15},
        per_year=0.015,
    ),
    Cause(
        "wiring_resistance",
        "step",
        rates=(0.25, 0.5, 1.0),
        # The same joint sags under the night's current: some 5 mΩ × 25 A a doubling, a tenth of
        # the fall from full to empty.
        effects={"resistance_mohm": 1.0, "bank_capacity_ah": -0.15},
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
    """Return (units, ONSETS) onsets: at the start, and evenly over the time under observation."""
    share = np.concatenate([[0.0], (np.arange(ONSETS - 1) + 0.5) / (ONSETS - 1)])
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
    onset: NDArray,
    added: NDArray,
    filled_t: NDArray,
    felt: NDArray,
) -> Shapes:
    """Return a cause's shapes at observation times.

    `t` and `row` are (n,): time, and which unit's; `onset` is (units, ONSETS). `added` is (n,):
    the part of the charge that was added before each observation; `filled_t` is (units,): when
    refrigerant was last put in. `felt` is (n, TURNS): see last_gauge.
    """
    if cause.shape == "gauge":
        k = felt.shape[1]
        return Shapes(felt, np.zeros((len(onset), k)), np.ones((len(onset), k)))
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
    units, onsets = onset.shape
    k = onsets * len(rates)
    return Shapes(
        loss.reshape(len(t), k),
        np.repeat(onset, len(rates), axis=1),
        np.broadcast_to(np.tile(rates, onsets), (units, k)),
    )


def moved(
    cause: Cause, shape: NDArray, own: NDArray, by_gauge: NDArray, shared: NDArray
) -> NDArray:
    """Return how far each observation moves at unit rate and scale, (n, k).

    `own` is (n,): the effect on the feature; `by_gauge` whether it rests on a pressure alone;
    `shared` the effect on the pressure beside it, as far as that was taken off.
    """
    if cause.shape != "loss":
        return (own - shared)[:, None] * shape
    seen = charge_effect(shape)
    own = own[:, None]
    return np.where(by_gauge[:, None], own * seen, own * shape - shared[:, None] * seen)
