"""Evacuation: what a micron gauge says of water left behind and of leaks.

One micron is one thousandth of a torr (1 µmHg). A compound gauge cannot resolve these figures
(500 micron is 29.90 inHg of vacuum, nothing at all 29.92), so they come from a micron gauge only.

`water_c` joins two published equations at the triple point, for liquid water carried on below it
gives a figure 3 K too cold at 500 micron. That is what CoolProp 8.0.0 does, with no error, and why
it is not asked here.
"""

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "DECAY_MICRON",
    "DECAY_MIN",
    "Decay",
    "LEAST_MICRON",
    "Shape",
    "TARGET_MICRON",
    "judge_decay",
    "micron",
    "pa",
    "rise_shape",
    "sublimation_pa",
    "water_c",
]

# Torr = 101325/760 Pa by definition.
PA_PER_MICRON = 101.325 / 760

# Target before isolating: widely taught, and asked by service manuals.
TARGET_MICRON = 500.0
# After isolating: often used, from memory. Reaching the target once proves no dryness; this does.
DECAY_MICRON, DECAY_MIN = 1000.0, 10.0
# No pump and gauge of the trade read less (from memory): such a number was mistyped.
LEAST_MICRON = 1.0

TRIPLE_POINT_C, TRIPLE_POINT_PA = 0.01, 611.657
ZERO_C = 273.15

# Share of the rise that falls in the second half of the watch: a leak climbs at a steady rate and
# has 0.5 there, water nears its vapour pressure ever slower. No source; between the two.
STEADY_SHARE = 0.35
LEAST_READINGS = 3


class Decay(StrEnum):
    """What the rise after isolating the pump says."""

    HELD = "held"
    SHORT = "short"  # held so far, but watched for too short a time
    ROSE = "rose"
    NOT_LOW = "not_low"  # isolated before the target was reached
    CANNOT_BE = "cannot_be"


class Shape(StrEnum):
    """The shape of a rise: service manuals read it as these three."""

    TIGHT = "tight"
    MOISTURE = "moisture"  # climbs, then levels off below atmospheric pressure
    LEAK = "leak"  # keeps climbing


def pa(microns: ArrayLike) -> NDArray:
    """Return an absolute pressure in Pa, given in micron."""
    return np.asarray(microns, dtype=float) * PA_PER_MICRON


def micron(pressure_pa: ArrayLike) -> NDArray:
    """Return an absolute pressure in micron, given in Pa."""
    return np.asarray(pressure_pa, dtype=float) / PA_PER_MICRON


def water_c(microns: ArrayLike) -> NDArray:
    """Return the temperature, °C, at which water boils, or ice turns to vapour, at a vacuum.

    Water colder than that stays in the circuit however long the pump runs. Same shape as given;
    NaN below ice at 150 K or above water's critical pressure.
    """
    pressure_pa = pa(microns)
    pressure_pa = np.where(pressure_pa > 0, pressure_pa, np.nan)
    return np.where(pressure_pa < TRIPLE_POINT_PA, _frost_c(pressure_pa), _boiling_c(pressure_pa))[
        ()
    ]


def judge_decay(
    lowest_micron: float,
    after_micron: float,
    minutes: float,
    *,
    target_micron: float = TARGET_MICRON,
    limit_micron: float = DECAY_MICRON,
    watch_min: float = DECAY_MIN,
) -> Decay:
    """Say what an isolated circuit shows: the lowest vacuum reached, and that after `minutes`."""
    if lowest_micron < LEAST_MICRON or after_micron < lowest_micron or minutes < 0:
        return Decay.CANNOT_BE
    if after_micron >= limit_micron:
        return Decay.ROSE
    if lowest_micron > target_micron:
        return Decay.NOT_LOW
    return Decay.HELD if minutes >= watch_min else Decay.SHORT


def rise_shape(
    minutes: ArrayLike, microns: ArrayLike, *, limit_micron: float = DECAY_MICRON
) -> Shape | None:
    """Return the shape of the rise after isolating, from readings in order of time.

    Tight is what stays under the limit. None if there are fewer than three readings: two points
    cannot tell water from a leak. Raises ValueError if the times do not increase.
    """
    minutes, microns = np.asarray(minutes, dtype=float), np.asarray(microns, dtype=float)
    if minutes.shape != microns.shape or minutes.ndim != 1 or not (np.diff(minutes) > 0).all():
        raise ValueError("the readings need one time each, and each time later than the one before")
    if minutes.size < LEAST_READINGS:
        return None
    if microns.max() < limit_micron:
        return Shape.TIGHT
    halfway = np.interp((minutes[0] + minutes[-1]) / 2, minutes, microns)
    late, rise = microns[-1] - halfway, microns[-1] - microns[0]
    return Shape.LEAK if late > 0 and late >= STEADY_SHARE * rise else Shape.MOISTURE


def sublimation_pa(celsius: ArrayLike) -> NDArray:
    """Return the pressure, Pa, of vapour over ice, 50 K to the triple point (IAPWS R14-08, 2011)."""
    theta = (np.asarray(celsius, dtype=float) + ZERO_C) / 273.16
    series = (
        -21.2144006 * theta**0.00333333333
        + 27.3203819 * theta**1.20666667
        - 6.10598130 * theta**1.70333333
    )
    return TRIPLE_POINT_PA * np.exp(series / theta)


# The equation has no inverse: 1/T is near a straight line over ln p, within 0.1 mK at this step.
ICE_C = np.arange(150 - ZERO_C, TRIPLE_POINT_C, 0.1).tolist() + [TRIPLE_POINT_C]
ICE_LOG_PA = np.log(sublimation_pa(ICE_C))
ICE_INVERSE_K = 1 / (np.asarray(ICE_C) + ZERO_C)


def _frost_c(pressure_pa: NDArray) -> NDArray:
    inverse_k = np.interp(np.log(pressure_pa), ICE_LOG_PA, ICE_INVERSE_K, left=np.nan)
    return 1 / inverse_k - ZERO_C


def _boiling_c(pressure_pa: NDArray) -> NDArray:
    """IAPWS-IF97, region 4, backward equation 31: 611.2 Pa to 22.064 MPa."""
    beta = (np.where(pressure_pa <= 22.064e6, pressure_pa, np.nan) / 1e6) ** 0.25
    e = beta**2 - 17.073846940092 * beta + 14.915108613530
    f = 1167.0521452767 * beta**2 + 12020.824702470 * beta - 4823.2657361591
    g = -724213.16703206 * beta**2 - 3232555.0322333 * beta + 405113.40542057
    with np.errstate(invalid="ignore"):
        d = 2 * g / (-f - np.sqrt(f**2 - 4 * e * g))
        n9, n10 = -0.23855557567849, 650.17534844798
        return (n10 + d - np.sqrt((n10 + d) ** 2 - 4 * (n9 + n10 * d))) / 2 - ZERO_C
