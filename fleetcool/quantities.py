"""Units at the edge: forms, import headers, screens and exports convert here, and nowhere else.

Inside, a name says its unit and it is always the same one: kPa gauge, °C, K (differences), g, V, A,
Ah, h, mΩ. A difference of temperatures (superheat, a drift a year) is not a temperature: 18 °F of
superheat are 10 K, not -8 °C, so whoever converts says which it is.
"""

from typing import Literal, NamedTuple

import numpy as np
import pint
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "AIR_KPA",
    "DECIMALS",
    "ENTRY_UNIT",
    "HEADER_UNITS",
    "UNIT_LABEL",
    "internal_header",
    "shown",
    "split_header",
    "to_internal",
]

Kind = Literal[
    "pressure",
    "temperature",
    "difference",
    "mass",
    "volts",
    "amps",
    "ah",
    "hours",
    "mohm",
    "ratio",
    "length",
]
System = Literal["si", "us"]

AIR_KPA = 101.325


class HeaderUnit(NamedTuple):
    """A unit that a header may end in: pint's name, and the header unit it becomes inside."""

    pint: str
    internal: str
    absolute: bool = False


# A difference of temperatures has pint's delta_ units, by which pint itself tells the two apart.
HEADER_UNITS = {
    "psi": HeaderUnit("psi", "kpa"),
    "kpa": HeaderUnit("kPa", "kpa"),
    "bar": HeaderUnit("bar", "kpa"),
    "psia": HeaderUnit("psi", "kpa", absolute=True),
    "kpaa": HeaderUnit("kPa", "kpa", absolute=True),
    "c": HeaderUnit("degC", "c"),
    "f": HeaderUnit("degF", "c"),
    "g": HeaderUnit("g", "g"),
    "oz": HeaderUnit("oz", "g"),
    "lb": HeaderUnit("lb", "g"),
    "v": HeaderUnit("V", "v"),
    "a": HeaderUnit("A", "a"),
    "ah": HeaderUnit("A*h", "ah"),
    "h": HeaderUnit("h", "h"),
    "mohm": HeaderUnit("mohm", "mohm"),
    "m": HeaderUnit("m", "m"),
    "ft": HeaderUnit("ft", "m"),
}


class Shown(NamedTuple):
    """How a kind is shown: its unit in a header, the label people see, and the decimals."""

    unit: str
    label: str
    decimals: int


# Where one row serves both systems, the trade itself uses the same unit in both.
SHOWN: dict[str, dict[str, Shown]] = {
    "pressure": {"si": Shown("kpa", "kPa", 0), "us": Shown("psi", "psi", 1)},
    "temperature": {"si": Shown("c", "°C", 1), "us": Shown("f", "°F", 1)},
    "difference": {"si": Shown("c", "K", 1), "us": Shown("f", "°F", 1)},
    "mass": {"si": Shown("g", "g", 0), "us": Shown("oz", "oz", 1)},
    "volts": dict.fromkeys(("si", "us"), Shown("v", "V", 2)),
    "amps": dict.fromkeys(("si", "us"), Shown("a", "A", 1)),
    "ah": dict.fromkeys(("si", "us"), Shown("ah", "Ah", 0)),
    "hours": dict.fromkeys(("si", "us"), Shown("h", "h", 1)),
    "mohm": dict.fromkeys(("si", "us"), Shown("mohm", "mΩ", 1)),
    "ratio": dict.fromkeys(("si", "us"), Shown("", "%", 0)),
    "length": {"si": Shown("m", "m", 1), "us": Shown("ft", "ft", 1)},
}
UNIT_LABEL = {(k, s): how.label for k, row in SHOWN.items() for s, how in row.items()}
DECIMALS = {(k, s): how.decimals for k, row in SHOWN.items() for s, how in row.items()}
ENTRY_UNIT = {(k, s): how.unit for k, row in SHOWN.items() for s, how in row.items() if how.unit}


def split_header(header: str) -> tuple[str, str]:
    """Return a header's name and unit: 'suction_psi' is ('suction', 'psi'), 'lot' ('lot', '')."""
    header = header.strip().lower()
    name, _, unit = header.rpartition("_")
    return (name, unit) if name and unit in HEADER_UNITS else (header, "")


def internal_header(name: str, unit: str) -> str:
    """Return the name with the unit that it has inside: ('suction', 'psi') is 'suction_kpa'."""
    return f"{name}_{HEADER_UNITS[unit].internal}" if unit else name


def to_internal(
    values: ArrayLike, unit: str, *, difference: bool = False, air_kpa: ArrayLike = AIR_KPA
) -> NDArray:
    """Return values in a header unit as the internal unit, whole columns at once.

    An absolute pressure becomes a gauge pressure by taking off the local air, air_kpa; as a
    difference it loses nothing, as a difference of temperatures loses no offset. Raises ValueError
    for a unit that no header may have.
    """
    if unit not in HEADER_UNITS:
        raise ValueError(f"{unit!r} is not a unit known here; known are {', '.join(HEADER_UNITS)}")
    source = HEADER_UNITS[unit]
    converted = _convert(values, unit, source.internal, difference)
    return converted - air_kpa if source.absolute and not difference else converted


def shown(values: ArrayLike, kind: Kind, system: System) -> tuple[NDArray, str]:
    """Return internal values as they are shown to a person, with the label of the unit.

    One number or a column; unrounded (see DECIMALS). A rate such as K a year is a difference; a
    ratio is a fraction inside and is shown in per cent.
    """
    how = SHOWN[kind][system]
    if kind == "ratio":
        return np.asarray(values, dtype=float)[()] * 100, how.label
    internal = HEADER_UNITS[how.unit].internal
    return _convert(values, internal, how.unit, kind == "difference"), how.label


def _convert(values: ArrayLike, unit: str, target: str, difference: bool) -> NDArray:
    values = np.asarray(values, dtype=float)[()]
    if unit == target:
        return values
    source, goal = HEADER_UNITS[unit].pint, HEADER_UNITS[target].pint
    if difference and source.startswith("deg"):
        source, goal = f"delta_{source}", f"delta_{goal}"
    # Pint's own application registry: one a process, and only built when first used.
    return pint.get_application_registry().Quantity(values, source).to(goal).magnitude
