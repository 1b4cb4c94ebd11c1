"""What a fit check is asked, and what of it cannot be: each refusal by its field and a code."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from numpy.typing import ArrayLike, NDArray

from installs.engineering.battery import (
    SURVIVAL_FLOOR_V,
    bank_ah,
    in_series,
    usable_fraction,
)
from installs.engineering.cabling import INSULATION_C
from installs.engineering.cooling import CabSize

__all__ = [
    "LEVELS",
    "MOST_BATTERIES",
    "RANGES",
    "Asked",
    "Problem",
    "problems",
    "takes_enough",
]

LEVELS = ("low", "mid", "high")
# A cutoff that takes less of the bank than this is no cutoff to run a night on.
LEAST_USABLE = 0.10
# As `BatteryBank` holds it.
MOST_BATTERIES = 24

# The least and the most of each number that a truck can have; beyond it is a slip of the pen.
RANGES = {
    "battery_count": (1, MOST_BATTERIES),
    "battery_ah": (5, 2000),
    "age_years": (0, 15),
    "charged": (0.3, 1),
    "cutoff_v": (1, 60),
    "hours_wanted": (0.5, 72),
    "night_c": (-40, 60),
    "draw_low_a": (0.5, 500),
    "draw_mid_a": (0.5, 500),
    "draw_high_a": (0.5, 500),
    "set_point_c": (10, 35),
    "occupants": (0, 6),
    "spare_a": (1, 1000),
    "one_way_m": (0.2, 30),
    "cable_c": (-40, 70),
}


@dataclass(frozen=True)
class Asked:
    """One truck, one unit, one night.

    The amperes are the unit's at each output level, None where not known. `output` is the level that
    runs all night, or 'cab' to reckon the average draw from the cab, its set-point and the night.
    `charged` is the part of a full charge that the bank holds when the night begins; the bank is as warm
    as the night. `starts_engine` says that the same bank starts the engine.
    """

    truck_v: int
    unit_v: int
    battery_types: tuple[str, ...]
    battery_count: int
    battery_ah: float
    cutoff_v: float
    hours_wanted: float
    night_c: float
    output: Literal["low", "mid", "high", "cab"]
    draw_low_a: float | None = None
    draw_mid_a: float | None = None
    draw_high_a: float | None = None
    age_years: float = 0.0
    charged: float = 1.0
    starts_engine: bool = True
    cab: CabSize = "mid"
    set_point_c: float | None = None
    occupants: int = 1
    spare_a: float = 80.0
    one_way_m: float = 4.5
    insulation_c: int = 105
    cable_c: float = 30.0

    @property
    def battery_type(self) -> str:
        return self.battery_types[0]

    @property
    def capacity_ah(self) -> float:
        """Ah at 20 h of the whole bank when new."""
        return float(bank_ah(self.battery_count, self.battery_ah, self.truck_v, self.battery_type))

    def level_a(self, level: str) -> float | None:
        return getattr(self, f"draw_{level}_a")


def takes_enough(asked: Asked, cutoff_v: ArrayLike) -> NDArray:
    """Whether down to a cutoff there is enough to take from what the night begins with."""
    taken = usable_fraction(cutoff_v, asked.battery_type, asked.truck_v)
    return taken >= LEAST_USABLE + (1 - asked.charged)


class Problem(NamedTuple):
    """A field that cannot be as it is, a code, and the numbers that the words for it need."""

    field: str
    code: str
    low: float | None = None
    high: float | None = None


def problems(asked: Asked) -> list[Problem]:
    """Return all that cannot be; empty where the check can be made.

    How things go together is judged once each of them can be.
    """
    found = [*_out_of_range(asked), *_missing(asked), *_of_the_types(asked)]
    if asked.unit_v != asked.truck_v:
        found.append(Problem("unit_v", "voltage_differs", asked.unit_v, asked.truck_v))
    if asked.insulation_c not in INSULATION_C:
        found.append(Problem("insulation_c", "unknown"))
    return found or [*_of_the_numbers(asked), *_of_the_cutoff(asked)]


def _out_of_range(asked: Asked) -> Iterator[Problem]:
    for field, (low, high) in RANGES.items():
        value = getattr(asked, field)
        # Not-a-number fails both comparisons too.
        if value is not None and not low <= value <= high:
            yield Problem(field, "out_of_range", low, high)


def _missing(asked: Asked) -> Iterator[Problem]:
    wanted = ("low", "high") if asked.output == "cab" else (asked.output,)
    for level in wanted:
        if asked.level_a(level) is None:
            yield Problem(f"draw_{level}_a", "missing")
    if asked.output == "cab" and asked.set_point_c is None:
        yield Problem("set_point_c", "missing")


def _of_the_types(asked: Asked) -> Iterator[Problem]:
    if not asked.battery_types:
        yield Problem("battery_types", "missing")
    elif len(set(asked.battery_types)) > 1:
        yield Problem("battery_types", "mixed_types")
    elif asked.battery_type not in SURVIVAL_FLOOR_V:
        yield Problem("battery_types", "unknown")


def _of_the_numbers(asked: Asked) -> Iterator[Problem]:
    if asked.battery_count % in_series(asked.battery_type, asked.truck_v):
        yield Problem("battery_count", "odd_on_24")
    draws = [draw for level in LEVELS if (draw := asked.level_a(level)) is not None]
    if draws != sorted(draws):
        yield Problem("draw_high_a", "draws_out_of_order")


def _of_the_cutoff(asked: Asked) -> Iterator[Problem]:
    floor_v = SURVIVAL_FLOOR_V[asked.battery_type] * asked.truck_v / 12
    if asked.cutoff_v < floor_v:
        yield Problem("cutoff_v", "cutoff_below_floor", floor_v)
    elif not takes_enough(asked, asked.cutoff_v):
        yield Problem("cutoff_v", "cutoff_takes_nothing", asked.cutoff_v)
