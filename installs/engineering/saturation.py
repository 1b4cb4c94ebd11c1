"""Saturation temperature and pressure of the supported refrigerants.

A gauge says nothing until its pressure is turned into a temperature. For a blend there are two
curves: the bubble point belongs to the liquid side (subcooling, condensing), the dew point to
the vapour side (superheat, evaporating). A pure refrigerant has one curve, and both functions
give it.

Pressures here are **absolute** kPa: add the local air (`air_kpa`) to a gauge reading first.
Arrays in, arrays of the same shape out; one refrigerant a call. A point that is not a number,
below the table (-60 °C) or above its end (at most 2 K under the critical temperature; 5 K to 9 K
for R-454B and R-513A, whose mixture solver gives up earlier) becomes NaN: nothing is ever
extrapolated, and features read NaN as 'not taken'.

Source of the table: CoolProp 8.0.0 (see `saturation_table.py`), which the tests compare with
printed tables. Between its points a cubic spline of 1/T over ln P runs, within 1 mK of CoolProp
(0.1 K in the last two kelvins under a critical temperature).
"""

import csv
import re
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

__all__ = [
    "SAFETY_CLASS",
    "TABLE",
    "UnknownRefrigerant",
    "air_kpa",
    "bubble_c",
    "bubble_kpa",
    "designation",
    "dew_c",
    "dew_kpa",
    "is_flammable",
]

TABLE = Path(__file__).with_name("saturation_table.csv")

# ANSI/ASHRAE Standard 34, tables 4-1 and 4-2.
SAFETY_CLASS = {
    "R-134a": "A1",
    "R-1234yf": "A2L",
    "R-32": "A2L",
    "R-290": "A3",
    "R-410A": "A1",
    "R-407C": "A1",
    "R-404A": "A1",
    "R-454B": "A2L",
    "R-513A": "A1",
}

ZERO_C = 273.15


def gettext_noop(text: str) -> str:
    """Mark a text for translation, which is done where people see it."""
    return text


class UnknownRefrigerant(ValueError):
    """A text that names no supported refrigerant: `words` to translate, and what stands in them."""

    words = gettext_noop("%(text)s is not a refrigerant known here; known are %(known)s")

    def __init__(self, text: str) -> None:
        self.what = {"text": text, "known": ", ".join(SAFETY_CLASS)}
        super().__init__(self.words % self.what)


def dew_c(kpa_abs: ArrayLike, refrigerant: str) -> NDArray:
    """Return the dew temperature, °C, of the vapour side at an absolute pressure, kPa."""
    return _celsius(kpa_abs, refrigerant, "dew_kpa")


def bubble_c(kpa_abs: ArrayLike, refrigerant: str) -> NDArray:
    """Return the bubble temperature, °C, of the liquid side at an absolute pressure, kPa."""
    return _celsius(kpa_abs, refrigerant, "bubble_kpa")


def dew_kpa(celsius: ArrayLike, refrigerant: str) -> NDArray:
    """Return the absolute pressure, kPa, at which vapour begins to condense at °C."""
    return _kpa(celsius, refrigerant, "dew_kpa")


def bubble_kpa(celsius: ArrayLike, refrigerant: str) -> NDArray:
    """Return the absolute pressure, kPa, at which liquid begins to boil at °C."""
    return _kpa(celsius, refrigerant, "bubble_kpa")


def air_kpa(elevation_m: ArrayLike) -> NDArray:
    """Return the pressure of the local air, kPa, at an elevation above the sea, m.

    Barometric formula of ISO 2533 and of the US Standard Atmosphere 1976 for the lowest layer,
    -2,000 m to 11,000 m; outside it NaN.
    """
    elevation_m = np.asarray(elevation_m, dtype=float)
    inside = (elevation_m >= -2_000) & (elevation_m <= 11_000)
    kelvin = np.where(inside, 288.15 - 0.0065 * elevation_m, np.nan)
    return (101.325 * (kelvin / 288.15) ** (9.80665 / (287.05287 * 0.0065)))[()]


@cache
def designation(text: str) -> str:
    """Return the ASHRAE 34 designation that a text means: 'r134A' is 'R-134a'.

    Raises UnknownRefrigerant, naming the supported ones, for any other.
    """
    known = {_key(name): name for name in SAFETY_CLASS}
    try:
        return known[_key(text)]
    except KeyError:
        raise UnknownRefrigerant(text) from None


def is_flammable(refrigerant: str) -> bool:
    """Say whether ASHRAE 34 classes a refrigerant as burning (A2L, A3)."""
    return SAFETY_CLASS[designation(refrigerant)] != "A1"


def _key(text: str) -> str:
    return re.sub(r"[^0-9a-z]", "", text.casefold()).removeprefix("r")


def _celsius(kpa_abs: ArrayLike, refrigerant: str, curve: str) -> NDArray:
    inverse_kelvin, _ = _splines(designation(refrigerant), curve)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_kpa = np.log(np.asarray(kpa_abs, dtype=float))
    return (1 / inverse_kelvin(log_kpa) - ZERO_C)[()]


def _kpa(celsius: ArrayLike, refrigerant: str, curve: str) -> NDArray:
    _, log_kpa = _splines(designation(refrigerant), curve)
    return np.exp(log_kpa(np.asarray(celsius, dtype=float)))[()]


@cache
def _splines(refrigerant: str, curve: str) -> tuple[CubicSpline, CubicSpline]:
    """Return 1/T over ln P and ln P over °C for one curve of one refrigerant."""
    with TABLE.open(newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if row["refrigerant"] == refrigerant]
    celsius = np.array([float(row["celsius"]) for row in rows])
    log_kpa = np.log([float(row[curve]) for row in rows])
    return (
        CubicSpline(log_kpa, 1 / (celsius + ZERO_C), extrapolate=False),
        CubicSpline(celsius, log_kpa, extrapolate=False),
    )
