"""Build the shipped density table: `python -m service.engineering.density_table`.

Like the saturation table's builder, it imports CoolProp, which nothing that runs for people does.
"""

import csv
from collections.abc import Iterator

from CoolProp.CoolProp import PropsSI

from installs.engineering.saturation import SAFETY_CLASS, ZERO_C
from installs.engineering.saturation_table import coolprop_name
from service.engineering.density import TABLE

COLUMNS = ("refrigerant", "celsius", "liquid_g_per_l", "vapour_g_per_l")


def write() -> None:
    """Write the table beside this module."""
    with TABLE.open("w", newline="", encoding="utf-8") as lines:
        writer = csv.writer(lines, lineterminator="\n")
        writer.writerow(COLUMNS)
        for refrigerant in SAFETY_CLASS:
            writer.writerows(rows(refrigerant))


def rows(refrigerant: str) -> Iterator[tuple[str, int, str, str]]:
    """Yield designation, °C, density of bubbling liquid and of dew vapour in g/L (= kg/m³).

    Points where the mixture solver fails are left out; the interpolation runs over the gap.
    """
    for celsius in range(-40, 66, 5):
        try:
            liquid, vapour = (
                PropsSI("D", "T", celsius + ZERO_C, "Q", quality, coolprop_name(refrigerant))
                for quality in (0, 1)
            )
        except ValueError:
            continue
        yield refrigerant, celsius, f"{liquid:.2f}", f"{vapour:.3f}"


if __name__ == "__main__":
    write()
