"""What one unit's values at a visit are judged by: saturation, the day's bands, what can be at all.

The phone judges by the same numbers: the page carries `Physics.as_dict()` as JSON. So that both
give the same word, saturation is read here from that very table too (T linear in ln P between its
rows, within 5 mK of the spline).

The shape of the JSON, `fields` being those of a reading, in kPa gauge, °C, V, A, h and mΩ:

    refrigerant, air_kpa, flammable, blocks, battery_type
    curve     [[celsius, bubble kPa absolute, dew kPa absolute], …], ascending
    bands     {output: {feature: [low, high] or null}}: lift_k, depression_k, air_drop_k,
              superheat_k, subcooling_k, load_a
    rest_v, resistance_mohm   [low, high], of the whole bank
    possible  {field or feature: [low, high]}: outside it a number was misread or mistyped
    limits    {swapped, equal, cold_c, min_rest_h, meter_v, least_load_a}

A band is what a sound unit shows on most days; a value outside it is no fault.
"""

from dataclasses import asdict, dataclass
from functools import cached_property

import numpy as np

from installs.engineering import battery, saturation
from installs.engineering.first_run import (
    AIR_DROP_K,
    BANK_MOHM,
    COLD_C,
    DEPRESSION_K,
    DRAW_LOOK,
    LIFT_K,
    METER_V,
    SUBCOOLING_K,
    SUPERHEAT_K,
)

__all__ = [
    "OUTPUTS",
    "POSSIBLE",
    "Bands",
    "Limits",
    "Physics",
    "expected_beside",
    "expected_kpa",
    "physics_of",
]

OUTPUTS = ("low", "mid", "high")

Limits = tuple[float, float]
Bands = dict[str, Limits | None]

# Wide on purpose, from memory: the screen drops what lies outside (reports.analysis.features).
POSSIBLE: dict[str, Limits] = {
    "ambient_c": (-45.0, 58.0),
    "return_air_c": (-30.0, 60.0),
    "supply_air_c": (-30.0, 60.0),
    "suction_kpa": (-101.4, 3_000.0),
    "discharge_kpa": (-101.4, 5_000.0),
    "suction_line_c": (-40.0, 60.0),
    "liquid_line_c": (-40.0, 80.0),
    "battery_c": (-45.0, 80.0),
    "rest_h": (0.0, 2_000.0),
    "load_a": (0.0, 400.0),
    "lift_k": (-8.0, 45.0),
    "depression_k": (-4.0, 55.0),
    "superheat_k": (-8.0, 45.0),
    "subcooling_k": (-8.0, 35.0),
    # A thermometer or two apart, a coil that has just begun: not warmer than this.
    "air_drop_k": (-2.0, 45.0),
}
# Of a 12 V block and, as a resistance, of a bank of 12 V.
POSSIBLE_REST_V, POSSIBLE_LOAD_V, MOST_MOHM = (10.5, 14.4), (8.0, 15.0), 120.0
# A 12 V block at rest: half full, and full with the surface charge gone. Lead-acid by the tables
# of `battery.REST_V`, LiFePO4 from memory.
REST_V = {
    "flooded": (12.2, 12.9),
    "agm": (12.3, 13.0),
    "gel": (12.3, 13.0),
    "lifepo4": (13.0, 13.6),
}
# Below this load the difference of two voltages is mostly the meter's own error.
LEAST_LOAD_A = 8.0
# Running, the discharge stands well above the suction, both absolute; common practice, no source.
LEAST_RATIO = 1.15
CURVE_C = range(-40, 82, 2)


@dataclass(frozen=True)
class Physics:
    """All that one unit's values are judged by; see the module for the shape."""

    refrigerant: str
    air_kpa: float
    flammable: bool
    blocks: int
    battery_type: str
    curve: list[tuple[float, float, float]]
    bands: dict[str, Bands]
    rest_v: Limits
    resistance_mohm: Limits
    possible: dict[str, Limits]
    limits: dict[str, float]

    def as_dict(self) -> dict:
        return asdict(self)

    def bubble_c(self, gauge_kpa: float) -> float:
        """Return the bubble temperature, °C, at a gauge pressure, kPa; NaN off the table."""
        return self._celsius(gauge_kpa, 1)

    def dew_c(self, gauge_kpa: float) -> float:
        return self._celsius(gauge_kpa, 2)

    def gauge_kpa(self, celsius: float, column: int) -> float:
        """Return the gauge pressure, kPa, of the bubble (1) or dew (2) column; NaN off the table."""
        table = self._table
        at = np.interp(celsius, table[0], table[column], np.nan, np.nan)
        return float(np.exp(at) - self.air_kpa)

    @cached_property
    def _table(self) -> np.ndarray:
        """Rows of °C, ln of the bubble and ln of the dew pressure."""
        celsius, bubble, dew = np.array(self.curve).T
        return np.array([celsius, np.log(bubble), np.log(dew)])

    def _celsius(self, gauge_kpa: float, column: int) -> float:
        absolute = gauge_kpa + self.air_kpa
        if absolute <= 0:
            return float("nan")
        table = self._table
        at = np.interp(np.log(absolute), table[column], table[0], np.nan, np.nan)
        return float(at)


def physics_of(
    refrigerant: str,
    system_v: int,
    *,
    air_kpa: float,
    battery_type: str = "",
    rated_a: dict[str, float | None] | None = None,
    usual: dict[str, Bands] | None = None,
) -> Physics:
    """Return what a unit is judged by.

    `rated_a` is the nameplate's draw by output level; `usual` the bands of the unit's own model,
    by output level, which go before those that a commissioning proves by. Without a battery type on record every
    type's voltage at rest is taken as expected. Raises ValueError for an unknown refrigerant.
    """
    blocks = system_v // 12
    rest = [REST_V[battery_type]] if battery_type else list(REST_V.values())
    name = saturation.designation(refrigerant)
    return Physics(
        refrigerant=name,
        air_kpa=air_kpa,
        flammable=saturation.is_flammable(name),
        blocks=blocks,
        battery_type=battery_type,
        curve=_curve(name),
        bands={
            output: _bands(output, (rated_a or {}).get(output)) | (usual or {}).get(output, {})
            for output in OUTPUTS
        },
        rest_v=(blocks * min(low for low, _ in rest), blocks * max(high for _, high in rest)),
        # The same batteries at twice the voltage and half the current: four times the resistance.
        resistance_mohm=(0.0, BANK_MOHM * blocks**2),
        possible=POSSIBLE
        | {
            "rest_v": _times(POSSIBLE_REST_V, blocks),
            "load_v": _times(POSSIBLE_LOAD_V, blocks),
            "resistance_mohm": (-MOST_MOHM, MOST_MOHM * blocks**2),
        },
        limits={
            "swapped": 1.0,
            "equal": LEAST_RATIO,
            "cold_c": COLD_C,
            "min_rest_h": battery.MIN_REST_H,
            "meter_v": METER_V * blocks,
            "least_load_a": LEAST_LOAD_A,
        },
    )


def expected_kpa(
    physics: Physics, output: str, ambient_c: float | None, return_air_c: float | None
) -> dict[str, Limits]:
    """Return the gauge pressures to expect in this air, kPa, by field; those that can be told."""
    bands, cold = physics.bands[output], physics.limits["cold_c"]
    expected = {}
    if ambient_c is not None and ambient_c >= cold:
        low, high = (physics.gauge_kpa(ambient_c + k, 1) for k in bands["lift_k"])
        expected["discharge_kpa"] = low, high
        if return_air_c is not None:
            high, low = (physics.gauge_kpa(return_air_c - k, 2) for k in bands["depression_k"])
            expected["suction_kpa"] = low, high
    return {name: band for name, band in expected.items() if np.isfinite(band).all()}


def expected_beside(physics: Physics, output: str, return_air_c: float | None) -> dict[str, Limits]:
    """Return what to expect beside the pressures, V, A and °C, by field; what can be told."""
    bands = physics.bands[output]
    expected = {"rest_v": physics.rest_v}
    if bands["load_a"]:
        expected["load_a"] = bands["load_a"]
    if return_air_c is not None:
        high, low = (return_air_c - k for k in bands["air_drop_k"])
        expected["supply_air_c"] = low, high
    return expected


def _curve(refrigerant: str) -> list[tuple[float, float, float]]:
    """Saturation in steps of 2 K as far as the table reaches."""
    celsius = np.array(CURVE_C, dtype=float)
    bubble = saturation.bubble_kpa(celsius, refrigerant)
    dew = saturation.dew_kpa(celsius, refrigerant)
    rows = zip(celsius, bubble, dew, strict=True)
    return [
        (float(c), round(float(b), 3), round(float(d), 3)) for c, b, d in rows if b > 0 and d > 0
    ]


def _bands(output: str, rated_a: float | None) -> Bands:
    """The bands that a commissioning proves by; at low output less heat passes over less difference."""
    lift_low, depression_low = LIFT_K.low, DEPRESSION_K.low
    if output == "low":
        lift_low, depression_low = LIFT_K.look_low, DEPRESSION_K.look_low
    draw = rated_a and (rated_a * (1 - DRAW_LOOK), rated_a * (1 + DRAW_LOOK))
    return {
        "lift_k": (lift_low, LIFT_K.high),
        "depression_k": (depression_low, DEPRESSION_K.high),
        "air_drop_k": (AIR_DROP_K.low, AIR_DROP_K.high),
        "superheat_k": (SUPERHEAT_K.low, SUPERHEAT_K.high),
        "subcooling_k": (SUBCOOLING_K.low, SUBCOOLING_K.high),
        "load_a": draw or None,
    }


def _times(limits: Limits, blocks: int) -> Limits:
    return limits[0] * blocks, limits[1] * blocks
