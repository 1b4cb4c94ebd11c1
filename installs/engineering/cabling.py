"""Copper cable for a battery-run unit: its resistance, the volts it loses, what it may carry, its fuse.

Gauges are AWG as text, '4' or '2/0'. Lengths in m; `one_way_m` is from the battery to the unit, and
the current goes there and back, so the volts are lost over twice that. Resistances in mΩ. Terminals
and the fuse itself are not counted: they are measured under load at commissioning.

This sizes a cable for whoever may lay one: local codes, the maker of the unit and of the truck, and a
licensed person's judgement come first. A fuse stands within reach of the battery's positive post,
for the cable before it burns if it chafes through.
"""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "INSULATION_C",
    "SIZES",
    "Cable",
    "ampacity_a",
    "area_mm2",
    "cable_for",
    "circular_mils",
    "diameter_mm",
    "drop_v",
    "fuse_for",
    "mohm_per_m",
]

# The gauges that a shop stocks for such a run; 3 AWG exists and is seldom made up.
SIZES = ("10", "8", "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0")

# 10.371 Ω for a circular mil a foot long at 20 °C, annealed copper (NBS copper wire tables).
OHM_CMIL_PER_FT = 10.371
M_PER_FT = 0.3048
COPPER_PER_K = 0.00393
# The lay of the strands makes each longer than the cable: 2 %, by which NEC chapter 9 table 8
# differs from the solid wire. An electronic-systems manual prints 4 %.
STRAND_LAY = 1.02

# Marine practice for a circuit whose voltage matters (ABYC E-11): at most 3 % of the system's.
DROP_LIMIT = 0.03

# Amperes in stranded copper at 30 °C around it, by the rating of its insulation, °C: 33 CFR 183.425,
# table 5, for circuits under 50 V.
AMPACITY_A = {
    75: dict(zip(SIZES, (40, 65, 95, 125, 170, 195, 230, 265, 310, 360), strict=True)),
    90: dict(zip(SIZES, (55, 70, 100, 135, 180, 210, 245, 285, 330, 385), strict=True)),
    105: dict(zip(SIZES, (60, 80, 120, 160, 210, 245, 285, 330, 385, 445), strict=True)),
}
INSULATION_C = tuple(AMPACITY_A)
AMPACITY_AMBIENT_C = 30.0

# A load that runs for hours counts as 1.25 of itself for its fuse and its cable: NEC 210.20 and
# 215.3 for continuous loads (from memory), and common practice on trucks, no source.
CONTINUOUS = 1.25
# NEC 240.6(A), standard ratings (from memory).
FUSES_A = (
    *(15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125),
    *(150, 175, 200, 225, 250, 300, 350, 400),
)


class Cable(NamedTuple):
    """A cable and its fuse for a current, and whether the drop or the heat asked for its gauge."""

    awg: str
    area_mm2: float
    ampacity_a: float
    drop_v: float
    drop_fraction: float
    fuse_a: int
    decided_by: Literal["drop", "ampacity"]


def diameter_mm(awg: str) -> float:
    """Return the diameter of a solid wire, 0.005 in × 92^((36 - n)/39) (ASTM B258)."""
    return 0.005 * 92 ** ((36 - _number(awg)) / 39) * 25.4


def area_mm2(awg: str) -> float:
    return float(np.pi / 4 * diameter_mm(awg) ** 2)


def circular_mils(awg: str) -> float:
    """Return the square of the diameter in thousandths of an inch."""
    return (diameter_mm(awg) / 25.4 * 1000) ** 2


def mohm_per_m(awg: str, copper_c: ArrayLike = 20.0, *, stranded: bool = True) -> NDArray:
    """Return the resistance of a metre of copper at its own temperature."""
    at_20c = OHM_CMIL_PER_FT / circular_mils(awg) / M_PER_FT * 1000
    lay = STRAND_LAY if stranded else 1.0
    return at_20c * lay * (1 + COPPER_PER_K * (np.asarray(copper_c, dtype=float) - 20))


def drop_v(
    awg: str,
    amps: ArrayLike,
    one_way_m: ArrayLike,
    copper_c: ArrayLike = 20.0,
    *,
    stranded: bool = True,
) -> NDArray:
    """Return the volts lost on the way to the load and back."""
    round_trip_m = 2 * np.asarray(one_way_m, dtype=float)
    return np.asarray(amps) * mohm_per_m(awg, copper_c, stranded=stranded) * round_trip_m / 1000


def ampacity_a(awg: str, insulation_c: int, ambient_c: float = AMPACITY_AMBIENT_C) -> float:
    """Return the amperes that a cable may carry without end in air of a temperature.

    Heat leaves in proportion to the temperature it has to spare and comes in with the square of the
    current: √((rating - ambient) / (rating - 30)), NEC 310.15 (from memory). It gives the table's
    own factors for an engine space of 50 °C. Raises ValueError for an unknown rating.
    """
    if insulation_c not in AMPACITY_A:
        known = ", ".join(map(str, INSULATION_C))
        raise ValueError(f"no ampacity for insulation of {insulation_c} °C; known are {known}")
    spare_k = max(insulation_c - ambient_c, 0.0)
    return AMPACITY_A[insulation_c][awg] * (spare_k / (insulation_c - AMPACITY_AMBIENT_C)) ** 0.5


def fuse_for(amps: float, most_a: float) -> int | None:
    """Return the next standard fuse at or above 1.25 × amps; None where that is above most_a."""
    wanted = amps * CONTINUOUS
    return next((size for size in FUSES_A if wanted <= size <= most_a), None)


def cable_for(
    amps: float,
    one_way_m: float,
    system_v: float,
    insulation_c: int = 105,
    ambient_c: float = AMPACITY_AMBIENT_C,
    drop_limit: float = DROP_LIMIT,
) -> Cable | None:
    """Return the thinnest stocked cable that loses little enough and can bear its own fuse.

    The copper is taken to be as warm as the air around it: cables sized by their drop run cool.
    None where not even the thickest will do.
    """
    if not (amps > 0 and one_way_m > 0 and system_v > 0):
        raise ValueError("a cable needs a current, a length and a voltage above zero")
    drops = {awg: float(drop_v(awg, amps, one_way_m, ambient_c)) for awg in SIZES}
    bears = {awg: ampacity_a(awg, insulation_c, ambient_c) for awg in SIZES}
    by_drop = next((awg for awg in SIZES if drops[awg] <= drop_limit * system_v), None)
    by_heat = next((awg for awg in SIZES if fuse_for(amps, bears[awg])), None)
    if by_drop is None or by_heat is None:
        return None
    awg = max(by_drop, by_heat, key=SIZES.index)
    return Cable(
        awg=awg,
        area_mm2=area_mm2(awg),
        ampacity_a=bears[awg],
        drop_v=drops[awg],
        drop_fraction=drops[awg] / system_v,
        fuse_a=fuse_for(amps, bears[awg]),
        decided_by="drop" if awg == by_drop else "ampacity",
    )


def _number(awg: str) -> int:
    """The gauge as a number: 1/0 is 0, 4/0 is -3."""
    zeros, slash, _zero = awg.partition("/")
    return 1 - int(zeros) if slash else int(awg)
