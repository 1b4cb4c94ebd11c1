"""How long a bank carries a draw, with an interval; what it keeps for the engine; its way back to full.

The interval is the delta method on the logarithm of the hours: each source of doubt moves ln(hours)
by its own amount, and independent amounts add as squares. It holds nine banks in ten of their kind
and age that are sound; a bank that was mistreated is measured, not reckoned.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from installs.engineering.battery import (
    PEUKERT_EXPONENT,
    capacity_factor,
    hours_carried,
    usable_fraction,
)

__all__ = [
    "Hours",
    "charging_h",
    "hours_range",
    "left_ah",
]

# What a sound bank loses of its capacity a year: the screen's own figure, half of it for lithium as
# in the simulator (both from memory).
FADE_PER_YEAR = {"flooded": 0.025, "agm": 0.025, "gel": 0.025, "lifepo4": 0.0125}
LEAST_HEALTH = 0.10

# One standard deviation of each doubt, all from memory: a battery against its label, the fade as a
# fraction of itself, Peukert's exponent within a type, the sag of a 12 V block under a night's load, and a rated
# draw against what a unit draws on average.
CAPACITY_SPREAD = 0.07
FADE_SPREAD = 0.4
PEUKERT_SPREAD = 0.03
SAG_SPREAD_V = 0.05
RATED_DRAW_SPREAD = 0.06
# How far a bank is charged when the night begins: a day's driving does not fill a lead-acid bank
# (see TAPER_H); the spread is from memory.
CHARGED_SPREAD = 0.05
# Below this part the logarithm no longer serves, and the interval is as wide as it gets.
LEAST_GIVEN = 0.05
# Nine in ten of a normal distribution lie within so many standard deviations.
NINE_IN_TEN = 1.645

# Ah given back for an Ah put in: vendors' pages print 0.85 for lead-acid and 0.92 to 0.98 for lithium.
CHARGE_EFFICIENCY = {"flooded": 0.85, "agm": 0.87, "gel": 0.85, "lifepo4": 0.96}
# Near full a battery takes less and less: what is missing, over this many hours, is the most it
# takes (from memory; vendors' pages say that the last fifth of a lead-acid bank takes hours).
TAPER_H = {"flooded": 1.5, "agm": 1.0, "gel": 1.8, "lifepo4": 0.15}
FULL_FRACTION = 0.98


class Hours(NamedTuple):
    """Hours carried: the middle, and the ends that hold nine in ten."""

    low: NDArray
    middle: NDArray
    high: NDArray


def health_at(age_years: ArrayLike, battery_type: str) -> NDArray:
    """Return the part of its rated capacity that a sound bank has left at an age."""
    faded = FADE_PER_YEAR[battery_type] * np.asarray(age_years, dtype=float)
    return np.maximum(1 - faded, LEAST_HEALTH)


def hours_range(
    capacity_ah: ArrayLike,
    draw_a: ArrayLike,
    cutoff_v: ArrayLike,
    battery_type: str,
    *,
    system_v: int = 12,
    age_years: ArrayLike = 0.0,
    battery_c: ArrayLike = 25.0,
    charged: float = 1.0,
    draw_spread: ArrayLike = 0.0,
) -> Hours:
    """Return the hours a bank carries a draw down to the cutoff; arguments broadcast.

    capacity_ah is the whole bank's 20-hour rating when new, charged the part of what it can hold
    that it holds at the start; draw_spread one standard deviation of the draw as a fraction, over
    and above that of a rated draw. No hours where the cutoff takes nothing.
    """
    health = health_at(age_years, battery_type)
    from_full = hours_carried(
        capacity_ah,
        draw_a,
        cutoff_v,
        battery_type,
        system_v=system_v,
        health=health,
        battery_c=battery_c,
    )
    taken = usable_fraction(cutoff_v, battery_type, system_v)
    given = np.maximum(taken - (1 - charged), 0)
    middle = from_full * given / np.maximum(taken, 1e-3)
    exponent = PEUKERT_EXPONENT[battery_type]
    aged = FADE_SPREAD * (1 - health) / health
    holds_ah = left_ah(capacity_ah, battery_type, age_years, battery_c)
    bent = np.log(holds_ah / (20 * np.asarray(draw_a, dtype=float))) * PEUKERT_SPREAD
    of_draw = RATED_DRAW_SPREAD**2 + np.square(draw_spread)
    of_ratio = exponent**2 * (CAPACITY_SPREAD**2 + aged**2 + of_draw)
    off_v = _sag_doubt(cutoff_v, battery_type, system_v)
    of_charge = CHARGED_SPREAD if charged < 1 else 0.0
    of_part = (off_v**2 + of_charge**2) / np.maximum(given, LEAST_GIVEN) ** 2
    off = np.exp(NINE_IN_TEN * np.sqrt(of_ratio + bent**2 + of_part))
    return Hours(middle / off, middle, middle * off)


def left_ah(
    capacity_ah: ArrayLike,
    battery_type: str,
    age_years: ArrayLike = 0.0,
    battery_c: ArrayLike = 25.0,
) -> NDArray:
    """Return the Ah at 20 h that a full bank holds at its age and temperature."""
    rated = np.asarray(capacity_ah, dtype=float) * health_at(age_years, battery_type)
    return rated * capacity_factor(battery_c, battery_type)


def charging_h(taken_ah: ArrayLike, capacity_ah: ArrayLike, spare_a: ArrayLike, battery_type: str):
    """Return the hours from a bank that lacks taken_ah to full (98 %), at an alternator's spare A.

    The alternator sets the pace until the bank's own acceptance, what is missing over TAPER_H, falls
    below it; from there the missing part shrinks by e in each TAPER_H / efficiency.
    """
    capacity_ah, spare_a = np.asarray(capacity_ah, float), np.asarray(spare_a, float)
    efficiency, taper_h = CHARGE_EFFICIENCY[battery_type], TAPER_H[battery_type]
    full = (1 - FULL_FRACTION) * capacity_ah
    missing = np.maximum(np.minimum(taken_ah, capacity_ah), full)
    turn = np.clip(spare_a * taper_h, full, missing)
    return (missing - turn) / (efficiency * spare_a) + taper_h / efficiency * np.log(turn / full)


def _sag_doubt(cutoff_v: ArrayLike, battery_type: str, system_v: int) -> NDArray:
    """How far the part taken moves when the block sags one standard deviation more or less."""
    cutoff_v, off_v = np.asarray(cutoff_v, dtype=float), SAG_SPREAD_V * system_v / 12
    lower = usable_fraction(cutoff_v - off_v, battery_type, system_v)
    upper = usable_fraction(cutoff_v + off_v, battery_type, system_v)
    return (lower - upper) / 2
