"""Build the shipped saturation table: `python -m installs.engineering.saturation_table`.

The one place (the tests aside) that imports CoolProp, which takes seconds to load and tens of
microseconds a point; everything else reads the file.
"""

import csv
import math
from collections.abc import Iterator

from CoolProp.CoolProp import PropsSI

from installs.engineering.saturation import SAFETY_CLASS, TABLE, ZERO_C

COLUMNS = ("refrigerant", "celsius", "bubble_kpa", "dew_kpa")
STEP_K = 2


def write() -> None:
    """Write the table beside this module."""
    with TABLE.open("w", newline="", encoding="utf-8") as lines:
        writer = csv.writer(lines, lineterminator="\n")
        writer.writerow(COLUMNS)
        for refrigerant in SAFETY_CLASS:
            writer.writerows(rows(refrigerant))


def rows(refrigerant: str) -> Iterator[tuple[str, int, str, str]]:
    """Yield designation, °C, bubble and dew kPa absolute, without the points that failed.

    The mixture solver fails at single temperatures well inside the working range (CoolProp issue
    2262); the spline runs over such a gap. Above the critical temperature every point fails.
    """
    for celsius in range(-60, 102, STEP_K):
        bubble, dew = (saturation_kpa(celsius, quality, refrigerant) for quality in (0, 1))
        if math.isfinite(bubble) and math.isfinite(dew):
            yield refrigerant, celsius, f"{bubble:.4f}", f"{dew:.4f}"


def saturation_kpa(celsius: float, quality: int, refrigerant: str) -> float:
    """Return CoolProp's saturation pressure, kPa absolute, or NaN where its solver fails."""
    try:
        return PropsSI("P", "T", celsius + ZERO_C, "Q", quality, coolprop_name(refrigerant)) / 1000
    except ValueError:
        return math.nan


def coolprop_name(refrigerant: str) -> str:
    """Return CoolProp's name; R-454B and R-513A it knows only as predefined mixtures."""
    name = refrigerant.replace("-", "")
    return f"{name}.mix" if refrigerant in ("R-454B", "R-513A") else name


if __name__ == "__main__":
    write()
