"""Each value judged against the day's air, and what a pair of pressures points to.

The sums of the phone and these are the same; tests/browser holds both to one grid of values.
"""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering import saturation
from reports.analysis.features import LEAST_LOAD_A as SCREEN_LEAST_LOAD_A
from reports.analysis.features import POSSIBLE as SCREEN_POSSIBLE
from service.advice_words import ADVICE, CODES
from service.engineering import visit_physics
from service.engineering.judging import (
    AS_EXPECTED,
    CANNOT_BE,
    JUDGED,
    NOT_JUDGED,
    OUT_OF_BAND,
    advice,
    is_doubtful,
    judge,
)
from service.engineering.visit_physics import expected_kpa, physics_of
from service.models import Reading

SEA_KPA = 101.325
PHYSICS = physics_of(
    "R-134a",
    12,
    air_kpa=SEA_KPA,
    battery_type="agm",
    rated_a={"low": 22.0, "mid": 36.0, "high": 58.0},
)
PSI = 6.894757  # kPa, NIST SP 811, appendix B


def gauge(celsius: float) -> float:
    """The gauge pressure of R-134a at the sea whose saturation temperature this is."""
    return float(saturation.bubble_kpa(celsius, "R-134a")) - SEA_KPA


def at(lift_k: float, depression_k: float, **more) -> dict:
    """A running unit in 35 °C air, 28 °C of it coming back."""
    return {
        "output": "high",
        "ambient_c": 35.0,
        "return_air_c": 28.0,
        "discharge_kpa": gauge(35.0 + lift_k),
        "suction_kpa": gauge(28.0 - depression_k),
    } | more


def verdict_of(name: str, values: dict, physics=PHYSICS) -> tuple[str, str]:
    return tuple(judge(values, physics)[name])


def test_common_practice_of_a_hot_day_is_as_expected():
    # Common practice, no source: 40-50 psi and 150-180 psi in hot weather.
    for suction_psi, discharge_psi in ((40, 150), (45, 165), (50, 180)):
        values = {
            "output": "high",
            "ambient_c": 35.0,
            "return_air_c": 29.0,
            "suction_kpa": suction_psi * PSI,
            "discharge_kpa": discharge_psi * PSI,
        }
        judged = judge(values, PHYSICS)
        assert judged["suction_kpa"].verdict == AS_EXPECTED
        assert judged["discharge_kpa"].verdict == AS_EXPECTED
        assert advice(judged) == ["as_expected"]


def test_the_same_pressures_on_a_cooler_day_are_not():
    values = at(14, 18) | {"ambient_c": 22.0}
    assert verdict_of("discharge_kpa", values) == (OUT_OF_BAND, "lift_high")


def test_swapped_hoses_cannot_be():
    values = at(14, 18)
    swapped = values | {
        "suction_kpa": values["discharge_kpa"],
        "discharge_kpa": values["suction_kpa"],
    }
    judged = judge(swapped, PHYSICS)
    assert tuple(judged["suction_kpa"]) == (CANNOT_BE, "hoses_swapped")
    assert tuple(judged["discharge_kpa"]) == (CANNOT_BE, "hoses_swapped")
    assert advice(judged) == ["hoses_swapped"]


def test_nearly_equal_pressures_are_those_of_a_unit_that_does_not_run():
    values = at(14, 18, suction_kpa=700.0, discharge_kpa=720.0)
    assert verdict_of("suction_kpa", values) == (OUT_OF_BAND, "pressures_equal")


@pytest.mark.parametrize("output", ["", "standing", None])
def test_a_standing_pressure_is_never_judged_and_never_doubted(output):
    judged = judge(at(14, 18, output=output, liquid_line_c=30.0), PHYSICS)
    for name in ("suction_kpa", "discharge_kpa", "liquid_line_c"):
        assert tuple(judged[name]) == (NOT_JUDGED, "standing")
    assert not is_doubtful(judged)
    assert advice(judged) == ["standing"]


def test_a_pressure_waits_for_its_air():
    judged = judge({"output": "high", "suction_kpa": 300.0, "discharge_kpa": 1100.0}, PHYSICS)
    assert tuple(judged["suction_kpa"]) == (NOT_JUDGED, "needs_return_air_c")
    assert tuple(judged["discharge_kpa"]) == (NOT_JUDGED, "needs_ambient_c")


def test_in_cold_air_no_pressure_is_judged():
    values = at(2, 8) | {"ambient_c": 10.0, "return_air_c": 18.0}
    values |= {"discharge_kpa": gauge(13.0), "suction_kpa": gauge(0.0)}
    judged = judge(values, PHYSICS)
    assert tuple(judged["discharge_kpa"]) == (NOT_JUDGED, "too_cold")
    assert not is_doubtful(judged)


def test_a_lost_decimal_point_cannot_be():
    assert verdict_of("ambient_c", at(14, 18, ambient_c=350.0)) == (CANNOT_BE, "misread")
    assert verdict_of("rest_v", at(14, 18, rest_v=127.0)) == (CANNOT_BE, "misread")


def test_a_misread_value_judges_no_other():
    values = at(14, 18, ambient_c=350.0)
    assert verdict_of("discharge_kpa", values) == (NOT_JUDGED, "needs_ambient_c")


def test_a_pressure_no_running_unit_shows_cannot_be():
    assert verdict_of("discharge_kpa", at(47, 18)) == (CANNOT_BE, "lift_cannot_be")


def test_gauges_at_height_read_against_thinner_air():
    # ISO 2533: 83.4 kPa at 1,609 m. The same gauge pressure is 18 kPa less absolute there.
    high = physics_of("R-134a", 12, air_kpa=83.4)
    values = at(14, 25.8)
    assert verdict_of("suction_kpa", values) == (AS_EXPECTED, "depression_expected")
    assert verdict_of("suction_kpa", values, high) == (OUT_OF_BAND, "depression_high")


def test_low_output_may_pass_less_heat():
    values = at(4, 9)
    assert verdict_of("discharge_kpa", values) == (OUT_OF_BAND, "lift_low")
    low = values | {"output": "low"}
    assert verdict_of("discharge_kpa", low) == (AS_EXPECTED, "lift_expected")
    assert verdict_of("suction_kpa", low) == (AS_EXPECTED, "depression_expected")


def test_supply_air_warmer_than_return_cannot_be():
    assert verdict_of("supply_air_c", at(14, 18, supply_air_c=35.0))[0] == CANNOT_BE
    assert verdict_of("supply_air_c", at(14, 18, supply_air_c=14.0))[0] == AS_EXPECTED
    assert verdict_of("supply_air_c", at(14, 18, supply_air_c=26.0)) == (
        OUT_OF_BAND,
        "air_drop_low",
    )


def test_pipe_temperatures_give_superheat_and_subcooling():
    # 10 °C evaporating, 49 °C condensing.
    values = at(14, 18, suction_line_c=18.0, liquid_line_c=42.0)
    assert verdict_of("suction_line_c", values)[0] == AS_EXPECTED
    assert verdict_of("liquid_line_c", values)[0] == AS_EXPECTED
    values |= {"suction_line_c": 30.0, "liquid_line_c": 48.5}
    assert verdict_of("suction_line_c", values) == (OUT_OF_BAND, "superheat_high")
    assert verdict_of("liquid_line_c", values) == (OUT_OF_BAND, "subcooling_low")


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"rest_v": 12.7}, (NOT_JUDGED, "needs_rest_h")),
        # Two published sources ask at least 8 h of rest (see battery.MIN_REST_H).
        ({"rest_v": 12.7, "rest_h": 2.0}, (NOT_JUDGED, "not_rested")),
        ({"rest_v": 12.7, "rest_h": 9.0}, (AS_EXPECTED, "rest_expected")),
        ({"rest_v": 11.9, "rest_h": 9.0}, (OUT_OF_BAND, "rest_low")),
        ({"rest_v": 13.6, "rest_h": 9.0}, (OUT_OF_BAND, "rest_high")),
        ({"rest_v": 12.4, "rest_h": 9.0, "load_v": 12.8}, (CANNOT_BE, "load_above_rest")),
    ],
)
def test_voltage_at_rest(values, expected):
    assert verdict_of("rest_v", values) == expected


@pytest.mark.parametrize(
    ("load_v", "load_a", "expected"),
    [
        (12.8, 36.0, (CANNOT_BE, "load_above_rest")),
        # 0.2 V over 36 A are 5.6 mΩ, 1.2 V are 33 mΩ: Ohm's law.
        (12.4, 36.0, (AS_EXPECTED, "resistance_expected")),
        (11.4, 36.0, (OUT_OF_BAND, "resistance_high")),
        # Two readings of one meter differ by its own error.
        (12.62, 36.0, (AS_EXPECTED, "resistance_expected")),
        (12.4, 5.0, (NOT_JUDGED, "needs_load_a")),
        (12.4, None, (NOT_JUDGED, "needs_load_a")),
    ],
)
def test_voltage_under_load(load_v, load_a, expected):
    assert verdict_of("load_v", {"rest_v": 12.6, "load_v": load_v, "load_a": load_a}) == expected


def test_draw_is_judged_by_the_nameplate_of_its_output():
    assert verdict_of("load_a", {"output": "mid", "load_a": 36.0})[0] == AS_EXPECTED
    assert verdict_of("load_a", {"output": "low", "load_a": 36.0}) == (OUT_OF_BAND, "draw_high")
    assert "load_a" not in judge(
        {"output": "mid", "load_a": 36.0}, physics_of("R-134a", 12, air_kpa=SEA_KPA)
    )


def test_a_24_v_bank_has_twice_the_voltage_and_four_times_the_resistance():
    physics = physics_of("R-134a", 24, air_kpa=SEA_KPA, battery_type="agm")
    values = {"rest_v": 25.4, "rest_h": 9.0, "load_v": 24.4, "load_a": 18.0}
    judged = judge(values, physics)
    assert judged["rest_v"].verdict == AS_EXPECTED
    # 1 V over 18 A: 56 mΩ, of 80 mΩ allowed.
    assert judged["load_v"].verdict == AS_EXPECTED


# Each cause moves lift and depression along its own direction (design, 'Cause, not alarm').
@pytest.mark.parametrize(
    ("lift_k", "depression_k", "expected"),
    [
        (14, 18, "as_expected"),
        (3, 29, "low_refrigerant"),
        (26, 18, "condenser_air"),
        (14, 29, "restriction"),
        (26, 8, "overcharge"),
        (26, 29, "both_high"),
        (3, 8, "not_pumping"),
    ],
)
def test_a_pair_of_pressures_points_to_a_cause(lift_k, depression_k, expected):
    assert advice(judge(at(lift_k, depression_k), PHYSICS))[0] == expected


def test_subcooling_tells_a_small_charge_from_a_restriction():
    # 49 °C condensing: 0.5 K of subcooling is a small charge, 18 K liquid that stands.
    low = at(14, 29, liquid_line_c=48.5)
    assert advice(judge(low, PHYSICS))[0] == "low_refrigerant"
    stands = at(3, 29, liquid_line_c=20.0)
    assert advice(judge(stands, PHYSICS))[0] == "restriction"


def test_what_to_expect_is_what_is_judged_as_expected():
    for ambient_c in (16.0, 25.0, 40.0):
        bands = expected_kpa(PHYSICS, "high", ambient_c, 27.0)
        for name, (low, high) in bands.items():
            for value in (low + 1, high - 1):
                values = {"output": "high", "ambient_c": ambient_c, "return_air_c": 27.0}
                assert verdict_of(name, values | {name: value})[0] == AS_EXPECTED


def test_nothing_is_expected_of_the_pressures_in_cold_air():
    assert expected_kpa(PHYSICS, "high", 10.0, 20.0) == {}
    assert expected_kpa(PHYSICS, "high", None, 20.0) == {}


@pytest.mark.parametrize("refrigerant", saturation.SAFETY_CLASS)
def test_the_carried_table_is_saturation(refrigerant):
    physics = physics_of(refrigerant, 12, air_kpa=SEA_KPA)
    gauges = np.linspace(0, 1500, 60)
    for name, curve in (("bubble_c", physics.bubble_c), ("dew_c", physics.dew_c)):
        true_c = getattr(saturation, name)(gauges + SEA_KPA, refrigerant)
        told_c = [curve(one) for one in gauges]
        assert np.nanmax(np.abs(told_c - true_c)) < 0.005


def test_what_cannot_be_is_what_the_screen_drops():
    names = {
        "condensing_lift_k": "lift_k",
        "evaporating_depression_k": "depression_k",
        "superheat_k": "superheat_k",
        "subcooling_k": "subcooling_k",
        "rest_v": "rest_v",
    }
    for theirs, ours in names.items():
        assert PHYSICS.possible[ours] == SCREEN_POSSIBLE[theirs]
    assert PHYSICS.limits["least_load_a"] == SCREEN_LEAST_LOAD_A


def test_fields_are_those_of_a_reading():
    assert set(JUDGED) <= {field.name for field in Reading._meta.get_fields()}


def test_physics_is_json():
    carried = json.loads(json.dumps(PHYSICS.as_dict()))
    assert carried["bands"]["high"]["lift_k"] == [6, 22]
    assert len(carried["curve"]) == 61


def some(low: float, high: float):
    return st.none() | st.floats(low, high)


@given(
    st.fixed_dictionaries(
        {"output": st.sampled_from(["low", "mid", "high", "", "standing"])}
        | {name: some(*visit_physics.POSSIBLE.get(name, (5.0, 16.0))) for name in JUDGED}
    )
)
def test_every_judgement_has_its_words(values):
    judged = judge(values, PHYSICS)
    assert {judgement.code for judgement in judged.values()} <= set(CODES)
    assert set(advice(judged)) <= set(ADVICE)
    assert set(judged) <= {name for name, value in values.items() if value is not None}
