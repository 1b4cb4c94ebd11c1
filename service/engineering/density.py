"""How heavy a litre of liquid or of vapour is, and so how much a cylinder may hold.

Source of the table: CoolProp 8.0.0 (see `density_table.py`), -40 °C to 65 °C; outside it NaN.
"""

import csv
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from installs.engineering.saturation import designation

__all__ = ["TABLE", "fill_limit_g", "liquid_g_per_l", "vapour_g_per_l"]

TABLE = Path(__file__).with_name("density_table.csv")
# A cylinder is filled to at most 80 % of its volume, so that liquid that warms has room. From
# memory; the mark on the cylinder and local codes go before it.
MOST_FULL = 0.80
FILLED_AT_C = 25.0


def liquid_g_per_l(celsius: ArrayLike, refrigerant: str) -> NDArray:
    """Return the density, g/L, of liquid at its bubble point at °C."""
    return np.exp(_splines(designation(refrigerant))[0](np.asarray(celsius, dtype=float)))[()]


def vapour_g_per_l(celsius: ArrayLike, refrigerant: str) -> NDArray:
    """Return the density, g/L, of vapour at its dew point at °C."""
    return np.exp(_splines(designation(refrigerant))[1](np.asarray(celsius, dtype=float)))[()]


def fill_limit_g(water_capacity_g: float, refrigerant: str) -> float:
    """Return the most that a cylinder of this water capacity may hold, g.

    80 % of the water capacity, and less where the liquid is lighter than water (R-290 by half): it
    would else fill the cylinder. A gram of water capacity is taken as a millilitre.
    """
    lighter = min(1.0, float(liquid_g_per_l(FILLED_AT_C, refrigerant)) / 1000)
    return MOST_FULL * water_capacity_g * lighter


@cache
def _splines(refrigerant: str) -> tuple[CubicSpline, CubicSpline]:
    """Return the logarithms of the liquid's and the vapour's density over °C."""
    with TABLE.open(newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if row["refrigerant"] == refrigerant]
    celsius = np.array([float(row["celsius"]) for row in rows])
    return tuple(
        CubicSpline(celsius, np.log([float(row[name]) for row in rows]), extrapolate=False)
        for name in ("liquid_g_per_l", "vapour_g_per_l")
    )
