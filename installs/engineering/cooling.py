"""What cooling a sleeper through a night draws from the bank, from the cab and the weather.

A steady load, good for a guess before the sale and no more: walls and air leaks by the difference of
temperatures, people by their number. It leaves out the sun and the heat that walls have stored from
the day, so a cab parked in the evening sun draws more for the first hour or two. Where the
nameplate's amperes at an output level are known, they are the better ground.
"""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["CABS", "CabSize", "Load", "night_load"]

CabSize = Literal["small", "mid", "large"]


class _Cab(NamedTuple):
    """What passes the walls a kelvin, W/K, and the air inside, m³; the curtain drawn."""

    ua_w_per_k: float
    air_m3: float


# From memory, of the order that published sleeper tests give; insulation and curtains move it by a
# third (SAE 2008-01-2618: doubled insulation took 35 % off the modelled load).
CABS: dict[str, _Cab] = {
    "small": _Cab(30, 6),
    "mid": _Cab(45, 10),
    "large": _Cab(60, 14),
}
# Air changes an hour through seals and flaps, and the heat of a cubic metre of air, from memory.
AIR_CHANGES_PER_H = 1.0
AIR_WH_PER_M3_K = 0.34
# A sleeper's heat, dry and moist together: ASHRAE Fundamentals gives about 70 W asleep and 105 W at
# rest (from memory); between the two for a night.
PERSON_W = 85.0

# Coils work this far from the air (from memory), and such a small compressor reaches this part of
# Carnot's coefficient with its fans counted in (from memory).
COIL_K = 15.0
PART_OF_CARNOT = 0.33
# Volts of a 12 V bank under way, on average (common practice, no source).
MEAN_V = 12.3

# One standard deviation of what a night asks for, as a fraction: walls ±15 %, machine ±12 %, leaks and
# the sleeper's habits the rest (from memory).
WANTED_SPREAD = 0.20


class Load(NamedTuple):
    """The heat to move, W; the draw for it, A, within the unit's own bounds; one standard deviation of
    that as a fraction, less where a bound holds it; and whether the night asks for more than it can."""

    heat_w: NDArray
    draw_a: NDArray
    spread: NDArray
    beyond_unit: NDArray


def night_load(
    cab: CabSize,
    set_point_c: ArrayLike,
    night_c: ArrayLike,
    occupants: ArrayLike = 1,
    *,
    system_v: float = 12,
    low_a: float,
    high_a: float,
) -> Load:
    """Return the average load of a night with the cab held at set_point_c.

    low_a and high_a are the unit's rated draws at its lowest and highest output: it never draws less
    while it runs, and no more than it can. Arrays broadcast. Raises KeyError for an unknown cab.
    """
    size = CABS[cab]
    set_point_c, night_c = np.asarray(set_point_c, dtype=float), np.asarray(night_c, dtype=float)
    per_k = size.ua_w_per_k + AIR_CHANGES_PER_H * size.air_m3 * AIR_WH_PER_M3_K
    heat_w = np.maximum(per_k * (night_c - set_point_c), 0) + PERSON_W * np.asarray(occupants)
    wanted_a = heat_w / _cop(set_point_c, night_c) / (MEAN_V * system_v / 12)
    draw_a = np.clip(wanted_a, low_a, high_a)
    more_a, less_a = (
        np.clip(wanted_a * (1 + off), low_a, high_a) for off in (WANTED_SPREAD, -WANTED_SPREAD)
    )
    return Load(heat_w, draw_a, (more_a - less_a) / 2 / draw_a, wanted_a > high_a)


def _cop(set_point_c: NDArray, night_c: NDArray) -> NDArray:
    """Watts of heat moved for a watt drawn: Carnot's, in part, between the coils; falls with lift."""
    cold_k = set_point_c - COIL_K + 273.15
    lift_k = np.maximum(night_c - set_point_c + 2 * COIL_K, COIL_K)
    return PART_OF_CARNOT * cold_k / lift_k
