"""Does one set of readings fit the day's weather? Before a unit has a history of its own, this is all
there is to go by.

A gauge pressure means nothing without the day's air: it is turned into a temperature and held
against the air it works in. The bands are common practice with no source, made wide enough for
small R-134a units in which 40-50 psi at the suction and 150-180 psi at the discharge are sound on
a hot day. A unit's own level, once known, is the better yardstick.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from installs.engineering.saturation import bubble_c, dew_c

__all__ = ["DEPRESSION_BAND_K", "LIFT_BAND_K", "is_sound", "lift_and_depression_k"]

LIFT_BAND_K = (5.0, 26.0)
DEPRESSION_BAND_K = (8.0, 28.0)


def lift_and_depression_k(
    suction_kpa: ArrayLike,
    discharge_kpa: ArrayLike,
    ambient_c: ArrayLike,
    return_air_c: ArrayLike,
    refrigerant: str,
    air_kpa: ArrayLike = 101.325,
) -> tuple[NDArray, NDArray]:
    """Return the condensing lift and the evaporating depression, K, of a running unit.

    Pressures are gauge, against the local air; arrays broadcast to one shape. NaN where a pressure
    lies outside the saturation table.
    """
    condensing_c = bubble_c(np.asarray(discharge_kpa) + air_kpa, refrigerant)
    evaporating_c = dew_c(np.asarray(suction_kpa) + air_kpa, refrigerant)
    return condensing_c - np.asarray(ambient_c), np.asarray(return_air_c) - evaporating_c


def is_sound(lift_k: ArrayLike, depression_k: ArrayLike) -> NDArray:
    """Return whether both lie in the bands of a sound running unit; NaN is not sound."""
    lift_k, depression_k = np.asarray(lift_k), np.asarray(depression_k)
    return (
        (lift_k >= LIFT_BAND_K[0])
        & (lift_k <= LIFT_BAND_K[1])
        & (depression_k >= DEPRESSION_BAND_K[0])
        & (depression_k <= DEPRESSION_BAND_K[1])
    )
