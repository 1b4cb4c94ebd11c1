"""The battery bank: its charge at rest, its capacity, its resistance, the hours it carries.

Everything takes and returns arrays (or single numbers) that broadcast against each other. Battery
types are 'flooded', 'agm', 'gel' and 'lifepo4', one type a call. Voltages are those of the whole
bank; tables are held for one 12 V block, so a 24 V bank is divided by two (an average over its
two halves: read each battery by itself to find the weak one). Amperes and ampere-hours are those
of the whole bank. A value that cannot be (a negative current, NaN) gives NaN.

A bank can weld a spanner: measuring it is work for someone trained to do so.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "BATTERY_TYPES",
    "END_OF_LIFE_FRACTION",
    "MIN_REST_H",
    "OHMIC_ACT",
    "OHMIC_WATCH",
    "PEUKERT_EXPONENT",
    "SURVIVAL_FLOOR_V",
    "bank_ah",
    "below_end_of_life",
    "capacity_at_20h",
    "capacity_factor",
    "hours",
    "hours_carried",
    "in_series",
    "internal_mohm",
    "ohmic_rise",
    "peukert_exponent",
    "reserve_capacity_ah",
    "rest_v_at_25c",
    "state_of_charge",
    "usable_fraction",
]

BATTERY_TYPES = ("flooded", "agm", "gel", "lifepo4")

# Volts at rest of a 12 V block against its charged fraction.
REST_V = {
    # Battery Council International, specific gravity 1.265 when full, 80 °F.
    "flooded": ([11.89, 12.06, 12.24, 12.45, 12.65], [0, 0.25, 0.5, 0.75, 1]),
    # A vehicle owner's manual; its 'below 12.0' is continued by the same step to 11.7 (no source).
    # Makers differ by 0.15 V: good for the nearest tenth.
    "agm": ([11.7, 12.0, 12.3, 12.6, 12.8], [0, 0.25, 0.5, 0.75, 1]),
    # From memory.
    "gel": ([11.8, 12.0, 12.35, 12.65, 12.85], [0, 0.25, 0.5, 0.75, 1]),
}

# Three constants pass for 'the temperature correction' and must not be mixed. This is the drift
# of the resting cell itself, about +0.2 mV/K a cell (thermodynamic, from memory). The hydrometer's
# 0.004 per 10 °F (4.3 mV/K on 12 V) corrects a density reading and has the other sign; the
# charger's -18 to -30 mV/K sets a charging voltage.
REST_V_PER_K = 6 * 0.0002

# Rest before a voltage says the charge: sources run from 30 min to 24 h, two ask at least 8 h.
MIN_REST_H = 8.0

# A published table of typical values gives 1.2-1.3, 1.05-1.15 and about 1.05; gel from memory.
PEUKERT_EXPONENT = {"flooded": 1.25, "agm": 1.10, "gel": 1.15, "lifepo4": 1.05}

# Under load on a 12 V block, below which the battery itself is harmed. Lead-acid: 1.75 V a cell,
# where SAE J537 ends a discharge. LiFePO4: 2.5 V a cell, the lowest limit that listings give.
# A cutoff is set above this, by common practice at 11 V or more, so that the engine still starts.
SURVIVAL_FLOOR_V = {"flooded": 10.5, "agm": 10.5, "gel": 10.5, "lifepo4": 10.0}

# The part of the capacity taken when a 12 V block under an overnight load has sunk to a voltage.
# Common practice, no source.
LEAD_ACID_SAG = ([10.5, 11.0, 11.5, 12.0, 12.5], [1, 0.93, 0.8, 0.5, 0])
LITHIUM_SAG = ([10.0, 11.0, 12.0, 12.5, 12.8, 13.3], [1, 0.98, 0.95, 0.85, 0.6, 0])

# IEEE 485, table 1 (from memory): the cell size asked for at a temperature, whose inverse is the
# capacity left: about 1 % a kelvin below 25 °C.
LEAD_ACID_SIZE = (
    [-3.9, 4.4, 10.0, 15.6, 21.1, 25.0, 32.2, 37.8, 43.3, 48.9],
    [1.52, 1.30, 1.19, 1.11, 1.04, 1.00, 0.94, 0.91, 0.88, 0.86],
)
# From memory.
LITHIUM_CAPACITY = ([-20.0, 0.0, 25.0], [0.7, 0.9, 1.0])

# Replace below 80 % of the rating: a government storage-battery maintenance manual; IEEE 450 and
# IEEE 1188 say the same (from memory).
END_OF_LIFE_FRACTION = 0.80

# Rise over the bank's own first value that asks for a capacity test: IEEE 1188 as commonly
# quoted (from memory). A flag, no proof.
OHMIC_WATCH = 0.25
OHMIC_ACT = 0.50


def state_of_charge(
    rest_v: ArrayLike, battery_type: str, system_v: ArrayLike = 12, battery_c: ArrayLike = 25.0
) -> NDArray:
    """Return the charged fraction, 0 to 1, of a bank that has rested (see MIN_REST_H).

    LiFePO4 gives NaN: its voltage is flat over most of the charge, and published tables differ by
    twenty points; count its ampere-hours instead.
    """
    block_v = rest_v_at_25c(rest_v, system_v, battery_c) * 12 / np.asarray(system_v, dtype=float)
    if battery_type == "lifepo4":
        return np.full_like(block_v, np.nan)[()]
    return np.interp(block_v, *REST_V[battery_type])


def rest_v_at_25c(rest_v: ArrayLike, system_v: ArrayLike, battery_c: ArrayLike) -> NDArray:
    """Return what a lead-acid bank's rest voltage would be at 25 °C; an unknown (NaN) °C is 25."""
    warmer_k = np.nan_to_num(np.asarray(battery_c, dtype=float) - 25, nan=0.0)
    return np.asarray(rest_v, dtype=float) - REST_V_PER_K * warmer_k * np.asarray(system_v) / 12


def hours(
    capacity_ah: ArrayLike, amps: ArrayLike, exponent: ArrayLike, rated_h: ArrayLike = 20
) -> NDArray:
    """Return the hours to empty at a steady current, t = H (C / (I H))^k (Peukert 1897).

    capacity_ah is the rating at rated_h hours. The shorter form C / I^k holds only where C is
    the capacity at 1 A.
    """
    amps = _positive(amps)
    return rated_h * (np.asarray(capacity_ah) / (amps * rated_h)) ** exponent


def capacity_at_20h(drawn_ah: ArrayLike, amps: ArrayLike, exponent: ArrayLike) -> NDArray:
    """Return the 20-hour capacity, Ah, that a discharge down to empty implies.

    The inverse of `hours`: a bank that gave drawn_ah at a steady current has this rating.
    """
    amps = _positive(amps)
    return 20 * amps * (np.asarray(drawn_ah) / (amps * 20)) ** (1 / np.asarray(exponent))


def peukert_exponent(
    hours_1: ArrayLike, amps_1: ArrayLike, hours_2: ArrayLike, amps_2: ArrayLike
) -> NDArray:
    """Return Peukert's exponent from two ratings, k = ln(t1 / t2) / ln(I2 / I1)."""
    return np.log(np.divide(hours_1, hours_2)) / np.log(np.divide(amps_2, amps_1))


def reserve_capacity_ah(minutes: ArrayLike) -> NDArray:
    """Return the Ah in a reserve-capacity rating: minutes at 25 A to 10.5 V (SAE J537)."""
    return np.asarray(minutes) * 25 / 60


def capacity_factor(battery_c: ArrayLike, battery_type: str) -> NDArray:
    """Return the capacity at a battery temperature over that at 25 °C; flat beyond the table."""
    if battery_type == "lifepo4":
        return np.interp(battery_c, *LITHIUM_CAPACITY)
    return 1 / np.interp(battery_c, *LEAD_ACID_SIZE)


def usable_fraction(cutoff_v: ArrayLike, battery_type: str, system_v: ArrayLike = 12) -> NDArray:
    """Return the part of the capacity taken when the load is cut off at a bank voltage."""
    sag = LITHIUM_SAG if battery_type == "lifepo4" else LEAD_ACID_SAG
    return np.interp(np.asarray(cutoff_v) * 12 / np.asarray(system_v), *sag)


def in_series(battery_type: ArrayLike, system_v: ArrayLike) -> NDArray:
    """Return how many batteries make one string: two of 12 V on 24 V.

    A LiFePO4 battery counts as one of the truck's own voltage: those for 24 V are sold whole, since
    two that balance themselves are not put in series lightly.
    """
    strings_of = np.asarray(system_v) // 12
    return np.where(np.asarray(battery_type) == "lifepo4", 1, strings_of)[()]


def bank_ah(
    battery_count: ArrayLike,
    battery_ah: ArrayLike,
    system_v: ArrayLike = 12,
    battery_type: ArrayLike = "agm",
) -> NDArray:
    """Return the Ah at 20 h of a bank of equal batteries: those in series add none."""
    strings = np.asarray(battery_count) / in_series(battery_type, system_v)
    return strings * np.asarray(battery_ah)


def hours_carried(
    capacity_ah: ArrayLike,
    draw_a: ArrayLike,
    cutoff_v: ArrayLike,
    battery_type: str,
    *,
    system_v: ArrayLike = 12,
    health: ArrayLike = 1.0,
    battery_c: ArrayLike = 25.0,
) -> NDArray:
    """Return the hours a bank carries a steady draw from full to the cutoff.

    capacity_ah is the bank's 20-hour rating (`bank_ah`), health the fraction of it that age has
    left, draw_a the unit's rated draw at an output level.
    """
    left_ah = np.asarray(capacity_ah) * health * capacity_factor(battery_c, battery_type)
    to_empty = hours(left_ah, draw_a, PEUKERT_EXPONENT[battery_type])
    return to_empty * usable_fraction(cutoff_v, battery_type, system_v)


def internal_mohm(rest_v: ArrayLike, load_v: ArrayLike, load_a: ArrayLike) -> NDArray:
    """Return the resistance, mΩ, of all that lies between the two voltages and the load."""
    return (np.asarray(rest_v) - np.asarray(load_v)) / _positive(load_a) * 1000


def ohmic_rise(mohm: ArrayLike, first_mohm: ArrayLike) -> NDArray:
    """Return the rise of a resistance over its own first value, as a fraction of that."""
    return np.asarray(mohm) / _positive(first_mohm) - 1


def below_end_of_life(capacity_ah: ArrayLike, rated_ah: ArrayLike) -> NDArray:
    """Say where a capacity, measured at the rated current and 25 °C, is under 80 % of rating."""
    return np.asarray(capacity_ah) / _positive(rated_ah) < END_OF_LIFE_FRACTION


def _positive(value: ArrayLike) -> NDArray:
    value = np.asarray(value, dtype=float)
    return np.where(value > 0, value, np.nan)
