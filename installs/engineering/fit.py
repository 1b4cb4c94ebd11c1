"""Will this truck's bank carry this unit through a night? The check before the sale.

The verdict is about one night of a sound bank, from the charge it begins with:

- 'carries': the low end of the hours reaches the hours wanted, and where the same bank starts the
  engine, enough is kept for that;
- 'does_not_carry': not even the middle reaches them;
- 'marginal': in between.

Reasons are codes with numbers; the words for them are `installs.fit_wording`'s. It measures nothing
and certifies nothing.
"""

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from installs.engineering.battery import SURVIVAL_FLOOR_V, in_series, usable_fraction
from installs.engineering.cabling import Cable, cable_for
from installs.engineering.carrying import (
    Hours,
    charging_h,
    hours_range,
    left_ah,
)
from installs.engineering.cooling import Load, night_load
from installs.engineering.fit_asked import (
    LEVELS,
    MOST_BATTERIES,
    Asked,
    Problem,
    problems,
    takes_enough,
)

__all__ = [
    "Curve",
    "Fit",
    "FitRefused",
    "Mend",
    "Reason",
    "check",
    "curve_of_age",
    "curve_of_cutoff",
]

Verdict = Literal["carries", "marginal", "does_not_carry"]

# The part of its capacity that a bank keeps for the engine. Common practice cuts off at 11 V so that
# the engine still starts, no source; by the sag table that keeps 7 %.
START_FRACTION = 0.05
# A night shorter than this at high output: that output is for a running engine (common practice).
SHORT_NIGHT_H = 8.0
# Hours at the wheel in a day, 49 CFR 395.3: the time there is to fill the bank again.
DRIVING_H = 11.0
# From about this age a lead-acid bank is measured before anything is promised (from memory).
OLD_YEARS = 4.0
STEP_V, STEP_C = 0.1, 0.5
# Warmer than this nobody sleeps with the cooling on.
WARMEST_SET_POINT_C = 27.0
AGES = np.arange(0, 8.5, 0.5)


class FitRefused(ValueError):
    """What was asked cannot be; `problems` says where and why."""

    def __init__(self, found: list[Problem]) -> None:
        super().__init__("; ".join(f"{problem.field}: {problem.code}" for problem in found))
        self.problems = found


class Reason(NamedTuple):
    """Why the verdict is what it is, or what to know beside it: a code, and its number."""

    code: str
    value: float | None = None


@dataclass(frozen=True)
class Mend:
    """What alone would make it carry, each None where that alone does not: the smallest bank, the
    highest cutoff, the coolest set-point, the highest output level."""

    battery_count: int | None
    cutoff_v: float | None
    set_point_c: float | None
    output: str | None


@dataclass(frozen=True)
class Fit:
    """What comes out. `most_a` is what the cable is sized for; `cable` is None where none will do."""

    verdict: Verdict
    hours: Hours
    draw_a: float
    load: Load | None
    capacity_ah: float
    kept_ah: float
    kept_fraction: float
    charging_h: float
    most_a: float
    cable: Cable | None
    reasons: list[Reason]
    # None where it carries as it is.
    mend: Mend | None


class Curve(NamedTuple):
    """Hours against something, x: shape (n,) each."""

    x: NDArray
    hours: Hours


def check(asked: Asked) -> Fit:
    """Return the fit of a unit to a truck's bank; raises FitRefused for what cannot be."""
    if found := problems(asked):
        raise FitRefused(found)
    hours = Hours(*map(float, _hours(asked)))
    load = _load(asked)
    draw_a = float(_draw(asked, load)["draw_a"])
    holds_ah = left_ah(asked.capacity_ah, asked.battery_type, asked.age_years, asked.night_c)
    kept_fraction = _kept_fraction(asked, asked.cutoff_v)
    verdict = _verdict(asked, hours)
    most_a = max(filter(None, (asked.level_a(level) for level in LEVELS)))
    night_ah = min(asked.hours_wanted, hours.middle) * draw_a
    missing_ah = night_ah + (1 - asked.charged) * asked.capacity_ah
    fit = Fit(
        verdict=verdict,
        hours=hours,
        draw_a=draw_a,
        load=load,
        capacity_ah=asked.capacity_ah,
        kept_ah=float(holds_ah * kept_fraction),
        kept_fraction=float(kept_fraction),
        charging_h=float(
            charging_h(missing_ah, asked.capacity_ah, asked.spare_a, asked.battery_type)
        ),
        most_a=most_a,
        cable=cable_for(most_a, asked.one_way_m, asked.truck_v, asked.insulation_c, asked.cable_c),
        reasons=[],
        mend=None if verdict == "carries" else _mend(asked),
    )
    return replace(fit, reasons=_reasons(asked, fit))


def curve_of_cutoff(asked: Asked) -> Curve:
    """Return the hours against the cutoff, from the battery type's floor to where little is taken."""
    step_v, floor_v = STEP_V * asked.truck_v / 12, _floor_v(asked)
    volts = floor_v + step_v * np.arange(40)
    volts = volts[takes_enough(asked, volts)]
    return Curve(volts, _hours(asked, cutoff_v=volts))


def curve_of_age(asked: Asked) -> Curve:
    """Return the hours against the age of the bank, 0 to 8 years."""
    return Curve(AGES, _hours(asked, age_years=AGES))


def _floor_v(asked: Asked) -> float:
    return SURVIVAL_FLOOR_V[asked.battery_type] * asked.truck_v / 12


def _load(asked: Asked, set_point_c: ArrayLike | None = None) -> Load | None:
    if asked.output != "cab":
        return None
    return night_load(
        asked.cab,
        asked.set_point_c if set_point_c is None else set_point_c,
        asked.night_c,
        asked.occupants,
        system_v=asked.truck_v,
        low_a=asked.draw_low_a,
        high_a=asked.draw_high_a,
    )


def _draw(asked: Asked, load: Load | None) -> dict[str, ArrayLike]:
    """The draw of the night and its spread beyond a rated draw's own."""
    if load is None:
        return {"draw_a": asked.level_a(asked.output), "draw_spread": 0.0}
    return {"draw_a": load.draw_a, "draw_spread": load.spread}


def _hours(asked: Asked, **changed: ArrayLike) -> Hours:
    """The hours as asked, or with the bank's Ah, the draw, the cutoff or the age as arrays."""
    given = {
        "capacity_ah": asked.capacity_ah,
        "cutoff_v": asked.cutoff_v,
        "age_years": asked.age_years,
        **_draw(asked, _load(asked)),
    }
    return hours_range(
        **given | changed,
        battery_type=asked.battery_type,
        system_v=asked.truck_v,
        battery_c=asked.night_c,
        charged=asked.charged,
    )


def _kept_fraction(asked: Asked, cutoff_v: ArrayLike) -> NDArray:
    """The part of what the bank holds that it still has when the unit is cut off under load.

    On the safe side: what a bank withholds from a fast discharge and gives after a rest is not counted.
    """
    return 1 - usable_fraction(cutoff_v, asked.battery_type, asked.truck_v)


def _starts(asked: Asked, cutoff_v: ArrayLike) -> NDArray:
    """Whether enough is kept to start the engine, where this bank does that."""
    kept = _kept_fraction(asked, cutoff_v) >= START_FRACTION
    return kept if asked.starts_engine else np.ones_like(kept)


def _carries(asked: Asked, hours: Hours, cutoff_v: ArrayLike | None = None) -> NDArray:
    starts = _starts(asked, asked.cutoff_v if cutoff_v is None else cutoff_v)
    return (hours.low >= asked.hours_wanted) & starts


def _verdict(asked: Asked, hours: Hours) -> Verdict:
    if _carries(asked, hours):
        return "carries"
    return "does_not_carry" if hours.middle < asked.hours_wanted else "marginal"


def _reasons(asked: Asked, fit: Fit) -> list[Reason]:
    lead_acid = asked.battery_type != "lifepo4"
    high_a = asked.level_a("high")
    at_high_h = _hours(asked, draw_a=high_a, draw_spread=0.0).middle if high_a else np.inf
    told = {
        # The verdict's own reasons first.
        "low_end_reaches": (fit.hours.low >= asked.hours_wanted, fit.hours.low),
        "low_end_falls_short": (
            fit.hours.low < asked.hours_wanted <= fit.hours.middle,
            fit.hours.low,
        ),
        "middle_falls_short": (fit.hours.middle < asked.hours_wanted, fit.hours.middle),
        "start_not_kept": (not _starts(asked, asked.cutoff_v), fit.kept_fraction),
        "running_engine": (at_high_h < SHORT_NIGHT_H, high_a or 0),
        "load_beyond_unit": (fit.load is not None and bool(fit.load.beyond_unit), fit.most_a),
        # What to know beside it.
        "cold_bank": (asked.night_c < 10, asked.night_c),
        "no_charge_below_0_c": (not lead_acid and asked.night_c < 0, asked.night_c),
        "old_bank": (lead_acid and asked.age_years >= OLD_YEARS, asked.age_years),
        "not_refilled": (fit.charging_h > DRIVING_H, fit.charging_h),
        "no_cable": (fit.cable is None, fit.most_a),
    }
    return [Reason(code, float(value)) for code, (holds, value) in told.items() if holds]


def _mend(asked: Asked) -> Mend:
    string = in_series(asked.battery_type, asked.truck_v)
    counts = np.arange(string, MOST_BATTERIES + 1, string)
    bigger = _carries(asked, _hours(asked, capacity_ah=counts / string * asked.battery_ah))
    step_v = STEP_V * asked.truck_v / 12
    floor_v = _floor_v(asked)
    volts = np.arange(round(asked.cutoff_v / step_v), round(floor_v / step_v) - 1, -1) * step_v
    # Starting reserve may ask for a higher cutoff, never for one below the floor.
    volts = np.concatenate([volts[0] + step_v * np.arange(10, 0, -1), volts])
    lower = _carries(asked, _hours(asked, cutoff_v=volts), volts)
    return Mend(
        battery_count=_first(counts, bigger),
        cutoff_v=_first(volts.round(2), lower),
        set_point_c=_coolest(asked),
        output=_highest(asked),
    )


def _coolest(asked: Asked) -> float | None:
    """The coolest set-point, not below the asked, at which it carries."""
    if asked.output != "cab":
        return None
    points = np.arange(asked.set_point_c, WARMEST_SET_POINT_C + STEP_C / 2, STEP_C)
    draw = _draw(asked, _load(asked, points))
    return _first(points, _carries(asked, _hours(asked, **draw)))


def _highest(asked: Asked) -> str | None:
    """The highest output level at which it carries the whole night."""
    for level in reversed(LEVELS):
        draw_a = asked.level_a(level)
        if draw_a is None:
            continue
        if _carries(asked, _hours(asked, draw_a=draw_a, draw_spread=0.0)):
            return level
    return None


def _first(values: NDArray, holds: NDArray):
    """The first value for which it holds, as a plain number; None where it holds for none."""
    return values[np.argmax(holds)].item() if np.any(holds) else None
