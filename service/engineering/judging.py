"""Each value of a visit, judged as it is typed, and what the pressures of the day mean together.

`service/judging.js` follows `judge` and `advice` rule by rule, by the same numbers (see
`visit_physics`). A doubtful value is never refused: whoever read it reads it again and says so.
"""

from typing import NamedTuple

import numpy as np

from service.engineering.visit_physics import OUTPUTS, Limits, Physics

__all__ = [
    "AS_EXPECTED",
    "CANNOT_BE",
    "JUDGED",
    "NOT_JUDGED",
    "OUT_OF_BAND",
    "Judgement",
    "advice",
    "is_doubtful",
    "judge",
]

AS_EXPECTED, OUT_OF_BAND, CANNOT_BE = "as_expected", "out_of_band", "cannot_be"
# There is nothing to judge it by: the unit stood, or another value is wanted first.
NOT_JUDGED = "not_judged"

Values = dict[str, float | str | None]

# What a pair of pressures means: by the codes of discharge and suction.
PAIRS = {
    ("lift_expected", "depression_expected"): "as_expected",
    ("lift_low", "depression_high"): "low_refrigerant",
    ("lift_high", "depression_expected"): "condenser_air",
    ("lift_expected", "depression_high"): "restriction",
    ("lift_high", "depression_high"): "both_high",
    ("lift_high", "depression_low"): "overcharge",
    ("lift_low", "depression_low"): "not_pumping",
    ("lift_low", "depression_expected"): "lift_low",
    ("lift_expected", "depression_low"): "depression_low",
}
# Codes of a single value that are advice by themselves, in the order they are given.
SINGLE = ("hoses_swapped", "pressures_equal", "standing", "too_cold", "resistance_high", "rest_low")


class Judgement(NamedTuple):
    verdict: str
    code: str


def judge(values: Values, physics: Physics) -> dict[str, Judgement]:
    """Return the judgement of each value that can be judged, in the order of a visit.

    `values` are the fields of a reading in internal units, None for what was not taken; `output`
    is low, mid or high, and anything else is a unit that stands.
    """
    read = {
        name: float(value)
        for name, value in values.items()
        if isinstance(value, int | float) and np.isfinite(value)
    }
    misread = {name for name, value in read.items() if not _within(physics.possible, name, value)}
    seen = _Seen({k: v for k, v in read.items() if k not in misread}, values.get("output"), physics)
    judged = {name: Judgement(CANNOT_BE, "misread") for name in misread}
    for name, rule in _RULES.items():
        if name in seen.read and (judgement := rule(seen)):
            judged[name] = judgement
    return {name: judged[name] for name in JUDGED if name in judged}


def advice(judged: dict[str, Judgement]) -> list[str]:
    """Return what the judged values mean together, as codes, the most telling first."""
    codes = {name: judgement.code for name, judgement in judged.items()}
    told = [code for code in SINGLE if code in codes.values()]
    pair = PAIRS.get((codes.get("discharge_kpa"), codes.get("suction_kpa")))
    # Liquid stands before a restriction; of a small charge there is none to stand.
    subcooling = codes.get("liquid_line_c")
    if pair == "restriction" and subcooling == "subcooling_low":
        pair = "low_refrigerant"
    elif pair == "low_refrigerant" and subcooling == "subcooling_high":
        pair = "restriction"
    return [pair, *told] if pair else told


def is_doubtful(judged: dict[str, Judgement]) -> bool:
    """Whether a value is to be read again before it is kept."""
    return any(judgement.verdict in (OUT_OF_BAND, CANNOT_BE) for judgement in judged.values())


class _Seen:
    """The values that may be meant, and the differences that come of them; None where not taken."""

    def __init__(self, read: dict[str, float], output, physics: Physics) -> None:
        self.read, self.physics = read, physics
        self.output = output if output in OUTPUTS else None
        suction, discharge = read.get("suction_kpa"), read.get("discharge_kpa")
        condensing = None if discharge is None else physics.bubble_c(discharge)
        evaporating = None if suction is None else physics.dew_c(suction)
        get = read.get
        self.feature = {
            "lift_k": _less(condensing, get("ambient_c")),
            "depression_k": _less(get("return_air_c"), evaporating),
            "superheat_k": _less(get("suction_line_c"), evaporating),
            "subcooling_k": _less(condensing, get("liquid_line_c")),
            "air_drop_k": _less(get("return_air_c"), get("supply_air_c")),
        }
        self.ratio = None
        if self.output and suction is not None and discharge is not None:
            suction_abs = suction + physics.air_kpa
            self.ratio = (discharge + physics.air_kpa) / suction_abs if suction_abs > 0 else None

    @property
    def swapped(self) -> bool:
        return self.ratio is not None and self.ratio < self.physics.limits["swapped"]


def _pressure(seen: _Seen, feature: str, name: str, other: str) -> Judgement:
    if not seen.output:
        return Judgement(NOT_JUDGED, "standing")
    if seen.swapped:
        return Judgement(CANNOT_BE, "hoses_swapped")
    if seen.ratio is not None and seen.ratio < seen.physics.limits["equal"]:
        return Judgement(OUT_OF_BAND, "pressures_equal")
    return _difference(seen, feature, name, other)


def _pipe(seen: _Seen, feature: str, name: str, other: str) -> Judgement:
    if not seen.output:
        return Judgement(NOT_JUDGED, "standing")
    if seen.swapped:
        return Judgement(NOT_JUDGED, f"needs_{other}")
    return _difference(seen, feature, name, other)


def _difference(seen: _Seen, feature: str, name: str, other: str) -> Judgement:
    """Judge a value by its difference from another, which is to be there first."""
    value, ambient_c = seen.feature[feature], seen.read.get("ambient_c")
    if value is None:
        return Judgement(NOT_JUDGED, f"needs_{other}")
    if not np.isfinite(value) or not _within(seen.physics.possible, feature, value):
        return Judgement(CANNOT_BE, f"{name}_cannot_be")
    if ambient_c is not None and ambient_c < seen.physics.limits["cold_c"]:
        return Judgement(NOT_JUDGED, "too_cold")
    return _banded(value, seen.physics.bands[seen.output][feature], name)


def _suction(seen: _Seen) -> Judgement:
    return _pressure(seen, "depression_k", "depression", "return_air_c")


def _discharge(seen: _Seen) -> Judgement:
    return _pressure(seen, "lift_k", "lift", "ambient_c")


def _suction_line(seen: _Seen) -> Judgement:
    return _pipe(seen, "superheat_k", "superheat", "suction_kpa")


def _liquid_line(seen: _Seen) -> Judgement:
    return _pipe(seen, "subcooling_k", "subcooling", "discharge_kpa")


def _supply_air(seen: _Seen) -> Judgement | None:
    if not seen.output:
        return None
    return _difference(seen, "air_drop_k", "air_drop", "return_air_c")


def _rest_v(seen: _Seen) -> Judgement:
    load_v = seen.read.get("load_v")
    if load_v is not None and load_v > seen.read["rest_v"] + seen.physics.limits["meter_v"]:
        return Judgement(CANNOT_BE, "load_above_rest")
    rest_h = seen.read.get("rest_h")
    if rest_h is None:
        return Judgement(NOT_JUDGED, "needs_rest_h")
    if rest_h < seen.physics.limits["min_rest_h"]:
        return Judgement(NOT_JUDGED, "not_rested")
    return _banded(seen.read["rest_v"], seen.physics.rest_v, "rest")


def _load_v(seen: _Seen) -> Judgement:
    rest_v, load_a = seen.read.get("rest_v"), seen.read.get("load_a")
    if rest_v is None:
        return Judgement(NOT_JUDGED, "needs_rest_v")
    sag_v = rest_v - seen.read["load_v"]
    if sag_v < -seen.physics.limits["meter_v"]:
        return Judgement(CANNOT_BE, "load_above_rest")
    if load_a is None or load_a < seen.physics.limits["least_load_a"]:
        return Judgement(NOT_JUDGED, "needs_load_a")
    mohm = 1000 * sag_v / load_a
    if not _within(seen.physics.possible, "resistance_mohm", mohm):
        return Judgement(CANNOT_BE, "resistance_cannot_be")
    return _banded(max(mohm, 0.0), seen.physics.resistance_mohm, "resistance")


def _load_a(seen: _Seen) -> Judgement | None:
    band = seen.output and seen.physics.bands[seen.output]["load_a"]
    return _banded(seen.read["load_a"], band, "draw") if band else None


_RULES = {
    "supply_air_c": _supply_air,
    "suction_kpa": _suction,
    "discharge_kpa": _discharge,
    "suction_line_c": _suction_line,
    "liquid_line_c": _liquid_line,
    "rest_v": _rest_v,
    "load_v": _load_v,
    "load_a": _load_a,
}
# The fields of a reading that can get a judgement, as a visit takes them.
JUDGED = (
    "ambient_c",
    "return_air_c",
    "supply_air_c",
    "suction_kpa",
    "discharge_kpa",
    "suction_line_c",
    "liquid_line_c",
    "rest_v",
    "rest_h",
    "load_v",
    "load_a",
    "battery_c",
)


def _banded(value: float, band: Limits, name: str) -> Judgement:
    low, high = band
    if value < low:
        return Judgement(OUT_OF_BAND, f"{name}_low")
    if value > high:
        return Judgement(OUT_OF_BAND, f"{name}_high")
    return Judgement(AS_EXPECTED, f"{name}_expected")


def _within(possible: dict[str, Limits], name: str, value: float) -> bool:
    if name not in possible:
        return True
    low, high = possible[name]
    return low <= value <= high


def _less(value: float | None, other: float | None) -> float | None:
    return None if value is None or other is None else value - other
