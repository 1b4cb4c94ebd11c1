"""The fit check against common practice, its own reckoning by chance, and what can never be."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering import battery
from installs.engineering.carrying import charging_h, hours_range
from installs.engineering.fit import FitRefused, check, curve_of_age, curve_of_cutoff
from installs.engineering.fit_asked import RANGES, Asked, problems

# Four healthy 12 V batteries of about 100 Ah; low, mid and high output of a common unit.
FOUR = Asked(
    truck_v=12,
    unit_v=12,
    battery_types=("agm",),
    battery_count=4,
    battery_ah=100,
    cutoff_v=11.0,
    hours_wanted=10,
    night_c=25,
    output="low",
    draw_low_a=25,
    draw_mid_a=40,
    draw_high_a=65,
)
LEAD_ACID = ("flooded", "agm", "gel")
TYPES = st.sampled_from(battery.BATTERY_TYPES)


def codes(asked: Asked) -> list[str]:
    return [reason.code for reason in check(asked).reasons]


def refused(asked: Asked) -> dict[str, str]:
    return {problem.field: problem.code for problem in problems(asked)}


class TestCommonPractice:
    """Common practice, no source."""

    @pytest.mark.parametrize("hours_wanted", [8, 10])
    @pytest.mark.parametrize("battery_type", ["flooded", "agm"])
    def test_four_healthy_batteries_carry_25_a_for_8_to_10_h_to_11_v(
        self, battery_type, hours_wanted
    ):
        asked = replace(FOUR, battery_types=(battery_type,), hours_wanted=hours_wanted)
        assert check(asked).verdict == "carries"

    @pytest.mark.parametrize("battery_type", battery.BATTERY_TYPES)
    def test_65_a_at_high_output_is_for_a_running_engine(self, battery_type):
        asked = replace(FOUR, battery_types=(battery_type,), output="high", hours_wanted=8)
        assert check(asked).verdict == "does_not_carry"
        assert "running_engine" in codes(asked)

    def test_it_is_said_whatever_output_the_night_is_checked_for(self):
        assert "running_engine" in codes(FOUR)

    def test_what_is_promised_after_a_days_driving_is_eight_to_ten_hours(self):
        # Four batteries, 25 A, to 11 V: common practice, no source. Promised is what nine in ten keep.
        driven = replace(FOUR, charged=0.85, age_years=1.0)
        assert 8 <= check(driven).hours.low <= 10

    def test_a_bank_that_begins_half_empty_carries_about_half_as_long(self):
        # From full to 11 V 93 % is taken; from half full 43 %.
        full, half = check(FOUR).hours, check(replace(FOUR, charged=0.5)).hours
        assert half.middle / full.middle == pytest.approx(0.43 / 0.93)

    def test_a_bank_that_begins_too_empty_for_its_cutoff_is_refused_at_the_cutoff(self):
        with pytest.raises(FitRefused, match="cutoff_v: cutoff_takes_nothing"):
            check(replace(FOUR, charged=0.4, cutoff_v=11.9))

    def test_high_output_on_a_bank_that_carries_it_is_not_either(self):
        assert "running_engine" not in codes(replace(FOUR, output="high", battery_count=16))

    def test_a_cutoff_of_11_v_keeps_enough_to_start_the_engine(self):
        assert "start_not_kept" not in codes(FOUR)
        assert check(FOUR).kept_ah > 0


class TestTheVerdict:
    def test_it_carries_when_even_the_low_end_reaches(self):
        low = check(FOUR).hours.low
        assert check(replace(FOUR, hours_wanted=low - 0.01)).verdict == "carries"
        assert check(replace(FOUR, hours_wanted=low + 0.01)).verdict == "marginal"

    def test_it_does_not_when_not_even_the_middle_does(self):
        middle = check(FOUR).hours.middle
        assert check(replace(FOUR, hours_wanted=middle - 0.01)).verdict == "marginal"
        assert check(replace(FOUR, hours_wanted=middle + 0.01)).verdict == "does_not_carry"

    def test_a_bank_that_must_start_the_engine_keeps_something_for_it(self):
        # At 10.5 V all of the capacity is taken (SAE J537 ends a discharge there).
        deep = replace(FOUR, cutoff_v=10.5)
        assert check(deep).verdict == "marginal"
        assert "start_not_kept" in codes(deep)
        assert check(replace(deep, starts_engine=False)).verdict == "carries"

    def test_what_alone_would_change_it_does_change_it(self):
        asked = replace(FOUR, output="mid")
        mend = check(asked).mend
        assert check(replace(asked, battery_count=mend.battery_count)).verdict == "carries"
        assert check(replace(asked, battery_count=mend.battery_count - 1)).verdict != "carries"
        assert check(replace(asked, output=mend.output)).verdict == "carries"

    def test_a_cutoff_that_is_too_high_can_be_lowered_as_far_as_needed(self):
        asked = replace(FOUR, cutoff_v=12.0)
        cutoff_v = check(asked).mend.cutoff_v
        assert check(replace(asked, cutoff_v=cutoff_v)).verdict == "carries"
        assert check(replace(asked, cutoff_v=cutoff_v + 0.1)).verdict != "carries"

    def test_a_cutoff_that_is_too_low_for_the_engine_is_to_be_raised(self):
        assert check(replace(FOUR, cutoff_v=10.5)).mend.cutoff_v > 10.5

    def test_a_warmer_set_point_helps_where_the_cab_decides_the_draw(self):
        asked = replace(FOUR, output="cab", set_point_c=18, night_c=38, draw_low_a=10)
        point = check(asked).mend.set_point_c
        assert point > 18
        assert check(replace(asked, set_point_c=point)).verdict == "carries"
        assert check(replace(asked, set_point_c=point - 0.5)).verdict != "carries"

    def test_the_highest_level_that_carries_is_named(self):
        assert check(replace(FOUR, output="high", battery_count=6)).mend.output == "mid"

    def test_nothing_is_to_be_changed_in_what_carries(self):
        assert check(FOUR).mend is None

    def test_a_bank_on_24_v_grows_by_whole_pairs(self):
        asked = replace(FOUR, truck_v=24, unit_v=24, cutoff_v=22, hours_wanted=20)
        assert check(asked).mend.battery_count % 2 == 0

    def test_batteries_of_lifepo4_on_24_v_count_as_whole(self):
        # As BatteryBank.capacity_ah has it: a 24 V battery of this type is one battery.
        asked = replace(FOUR, truck_v=24, unit_v=24, cutoff_v=23, battery_count=3)
        assert check(replace(asked, battery_types=("lifepo4",))).capacity_ah == 300
        assert refused(asked) == {"battery_count": "odd_on_24"}


class TestTheInterval:
    @pytest.mark.parametrize(
        ("battery_type", "age_years", "cutoff_v"),
        [("flooded", 0, 11.0), ("agm", 3, 11.0), ("gel", 6, 11.2), ("lifepo4", 4, 11.5)],
    )
    def test_nine_banks_in_ten_drawn_by_chance_lie_in_it(self, battery_type, age_years, cutoff_v):
        """The same doubts drawn 20 000 times through the formula itself, none of it in logarithms."""
        chance, n = np.random.default_rng(7), 20_000
        capacity = 400 * (1 + 0.07 * chance.standard_normal(n))
        faded = {"lifepo4": 0.0125}.get(battery_type, 0.025) * (1 + 0.4 * chance.standard_normal(n))
        draw = 25 * (1 + 0.06 * chance.standard_normal(n))
        exponent = battery.PEUKERT_EXPONENT[battery_type] + 0.03 * chance.standard_normal(n)
        sagged = cutoff_v + 0.05 * chance.standard_normal(n)
        holds = capacity * (1 - faded * age_years) * battery.capacity_factor(25, battery_type)
        carried = battery.hours(holds, draw, exponent)
        carried = carried * battery.usable_fraction(sagged, battery_type)
        interval = hours_range(400, 25, cutoff_v, battery_type, age_years=age_years)
        inside = np.mean((carried >= interval.low) & (carried <= interval.high))
        assert inside == pytest.approx(0.90, abs=0.02)

    def test_the_middle_is_the_battery_module_s_own_reckoning(self):
        carried = battery.hours_carried(400, 25, 11.0, "agm")
        assert check(FOUR).hours.middle == pytest.approx(float(carried))

    @given(TYPES, st.floats(50, 900), st.floats(1, 2), st.floats(5, 90), st.floats(0, 8))
    def test_more_ampere_hours_never_carry_fewer_hours(self, kind, ah, times, amps, age):
        less, more = (hours_range(c, amps, 11.5, kind, age_years=age) for c in (ah, ah * times))
        assert all(b >= a - 1e-9 for a, b in zip(less, more, strict=True))

    @given(TYPES, st.floats(50, 900), st.floats(1, 3), st.floats(5, 90), st.floats(0, 0.3))
    def test_a_higher_draw_never_carries_more(self, kind, ah, times, amps, spread):
        low, high = (
            hours_range(ah, a, 11.5, kind, draw_spread=spread) for a in (amps, amps * times)
        )
        assert all(b <= a + 1e-9 for a, b in zip(low, high, strict=True))

    @given(st.sampled_from(LEAD_ACID), st.floats(50, 900), st.floats(-20, 45), st.floats(0, 30))
    def test_a_colder_lead_acid_bank_never_carries_more(self, kind, ah, warm_c, colder_k):
        warm, cold = (
            hours_range(ah, 30, 11.0, kind, battery_c=c) for c in (warm_c, warm_c - colder_k)
        )
        assert all(b <= a + 1e-9 for a, b in zip(warm, cold, strict=True))

    @given(TYPES, st.floats(0, 8), st.floats(0, 4))
    def test_an_older_bank_never_carries_more(self, kind, age, older):
        young, old = (hours_range(400, 30, 11.0, kind, age_years=a) for a in (age, age + older))
        assert all(b <= a + 1e-9 for a, b in zip(young, old, strict=True))

    def test_the_older_the_bank_the_wider_the_doubt(self):
        young, old = (hours_range(400, 30, 11.0, "agm", age_years=a) for a in (0, 6))
        assert old.high / old.low > young.high / young.low


class TestTheWayBackToFull:
    def test_a_lithium_bank_takes_nearly_ah_over_amperes(self):
        # 200 Ah at 50 A and 96 %: 4.17 h, and hardly any taper.
        assert charging_h(200, 400, 50, "lifepo4") == pytest.approx(200 / 50 / 0.96, rel=0.1)

    def test_lead_acid_takes_hours_for_its_last_fifth(self):
        # Vendors' pages: 85 % come back, and the last 20 % take hours. 250 Ah at 80 A is 3.1 h plain.
        assert 5 < charging_h(250, 400, 80, "agm") < 9

    def test_twice_the_alternator_is_less_than_twice_as_fast(self):
        slow, fast = charging_h(250, 400, np.array([80, 160]), "flooded")
        assert slow / 2 < fast < slow

    @given(TYPES, st.floats(10, 400), st.floats(10, 400), st.floats(5, 300))
    def test_more_taken_never_takes_less_time(self, kind, one, other, spare):
        less, more = (charging_h(ah, 400, spare, kind) for ah in sorted((one, other)))
        assert more >= less - 1e-9

    def test_a_weak_alternator_is_told(self):
        assert "not_refilled" in codes(replace(FOUR, spare_a=15))
        assert "not_refilled" not in codes(replace(FOUR, spare_a=100))


class TestWhatIsToldBeside:
    def test_an_old_lead_acid_bank_is_to_be_tested(self):
        assert "old_bank" in codes(replace(FOUR, age_years=5))
        assert "old_bank" not in codes(replace(FOUR, age_years=1))

    def test_a_frozen_lithium_bank_is_not_to_be_charged(self):
        # A cell data sheet: no charging below 0 °C.
        cold = replace(FOUR, night_c=-5)
        assert "no_charge_below_0_c" in codes(replace(cold, battery_types=("lifepo4",)))
        assert "no_charge_below_0_c" not in codes(cold)

    def test_a_night_beyond_the_unit_is_told(self):
        hot = replace(FOUR, output="cab", cab="large", set_point_c=18, night_c=45)
        assert "load_beyond_unit" in codes(
            replace(hot, draw_low_a=15, draw_mid_a=20, draw_high_a=30)
        )

    def test_the_cable_is_sized_for_high_output_even_if_the_night_runs_at_low(self):
        assert check(FOUR).most_a == 65
        assert check(FOUR).cable.fuse_a >= 65

    def test_a_run_without_a_cable_is_told(self):
        asked = replace(FOUR, one_way_m=30)
        assert check(asked).cable is None
        assert "no_cable" in codes(asked)


class TestRefusals:
    def test_a_plain_question_is_not_refused(self):
        assert refused(FOUR) == {}

    @pytest.mark.parametrize(("truck_v", "unit_v", "cutoff_v"), [(12, 24, 11), (24, 12, 22)])
    def test_a_unit_of_another_voltage_than_the_truck(self, truck_v, unit_v, cutoff_v):
        asked = replace(FOUR, truck_v=truck_v, unit_v=unit_v, cutoff_v=cutoff_v)
        assert refused(asked) == {"unit_v": "voltage_differs"}

    def test_an_odd_number_of_lead_acid_batteries_on_24_v(self):
        asked = replace(FOUR, truck_v=24, unit_v=24, cutoff_v=22, battery_count=5)
        assert refused(asked) == {"battery_count": "odd_on_24"}

    def test_mixed_battery_types(self):
        asked = replace(FOUR, battery_types=("agm", "flooded"))
        assert refused(asked) == {"battery_types": "mixed_types"}

    @pytest.mark.parametrize(
        ("kind", "truck_v", "cutoff_v"),
        # 1.75 V a cell where SAE J537 ends a discharge; LiFePO4 2.5 V a cell (listings).
        [("flooded", 12, 10.4), ("agm", 24, 20.9), ("lifepo4", 12, 9.9)],
    )
    def test_a_cutoff_below_what_the_type_survives(self, kind, truck_v, cutoff_v):
        asked = replace(
            FOUR, battery_types=(kind,), truck_v=truck_v, unit_v=truck_v, cutoff_v=cutoff_v
        )
        assert refused(asked) == {"cutoff_v": "cutoff_below_floor"}
        assert refused(replace(asked, cutoff_v=cutoff_v + 0.1 * truck_v / 12)) == {}

    def test_a_cutoff_that_stops_the_unit_at_once(self):
        assert refused(replace(FOUR, cutoff_v=12.6)) == {"cutoff_v": "cutoff_takes_nothing"}

    @pytest.mark.parametrize("field", RANGES)
    @pytest.mark.parametrize("slip", [-1000, 100_000, float("nan"), float("inf")])
    def test_an_absurd_number(self, field, slip):
        assert refused(replace(FOUR, **{field: slip}))[field] == "out_of_range"

    def test_a_draw_that_is_not_known(self):
        assert refused(replace(FOUR, output="mid", draw_mid_a=None)) == {"draw_mid_a": "missing"}

    def test_a_cab_without_a_set_point(self):
        assert refused(replace(FOUR, output="cab")) == {"set_point_c": "missing"}

    def test_draws_in_the_wrong_order(self):
        assert refused(replace(FOUR, draw_low_a=70)) == {"draw_high_a": "draws_out_of_order"}

    def test_a_battery_type_that_is_not_known_or_not_given(self):
        assert refused(replace(FOUR, battery_types=("dry",))) == {"battery_types": "unknown"}
        assert refused(replace(FOUR, battery_types=())) == {"battery_types": "missing"}

    def test_a_check_of_what_is_refused_names_all_of_it(self):
        with pytest.raises(FitRefused) as told:
            check(replace(FOUR, unit_v=24, battery_types=("agm", "gel")))
        assert {problem.code for problem in told.value.problems} == {
            "voltage_differs",
            "mixed_types",
        }


class TestTheCurves:
    def test_the_curve_passes_through_what_was_asked(self):
        curve = curve_of_cutoff(FOUR)
        assert np.interp(11.0, curve.x, curve.hours.middle) == pytest.approx(
            check(FOUR).hours.middle
        )
        assert curve_of_age(FOUR).hours.middle[0] == pytest.approx(check(FOUR).hours.middle)

    def test_a_higher_cutoff_and_an_older_bank_carry_less(self):
        assert (np.diff(curve_of_cutoff(FOUR).hours.middle) < 0).all()
        assert (np.diff(curve_of_age(FOUR).hours.low) < 0).all()

    @pytest.mark.parametrize("kind", battery.BATTERY_TYPES)
    def test_the_cutoffs_begin_at_the_floor_of_the_type(self, kind):
        curve = curve_of_cutoff(replace(FOUR, battery_types=(kind,), truck_v=24, unit_v=24))
        assert curve.x[0] == battery.SURVIVAL_FLOOR_V[kind] * 2
        assert (curve.hours.low <= curve.hours.middle).all()
        assert np.isfinite(curve.hours.high).all()

    @pytest.mark.parametrize("kind", LEAD_ACID)
    def test_from_less_than_full_the_high_end_falls_with_the_cutoff_too(self, kind):
        curve = curve_of_cutoff(replace(FOUR, battery_types=(kind,), charged=0.85))
        assert (np.diff(curve.hours.high) < 0).all()

    def test_it_ends_where_a_check_is_refused(self):
        asked = replace(FOUR, charged=0.85)
        last = curve_of_cutoff(asked).x[-1]
        assert not refused(replace(asked, cutoff_v=last))
        assert refused(replace(asked, cutoff_v=last + 0.1)) == {"cutoff_v": "cutoff_takes_nothing"}
