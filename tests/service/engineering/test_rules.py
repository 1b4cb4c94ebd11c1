"""Which rule would reach a unit, by its refrigerant, its charge and the day."""

from datetime import date

import pytest

from installs.engineering.saturation import SAFETY_CLASS
from service.engineering.rules import EU, RULES, Charge, kept_years, reach

TODAY = date(2026, 11, 25)


def said(code, refrigerant="R-134a", charge_g=500, on=TODAY):
    found = {one.rule.code: one for one in reach(Charge(refrigerant, charge_g), on)}
    return found[code]


@pytest.mark.parametrize("refrigerant", SAFETY_CLASS)
@pytest.mark.parametrize("code", ["us_ozone_leaks", "us_hfc_leaks", "eu_leak_checks"])
def test_no_leak_rule_reaches_half_a_kilogram(code, refrigerant):
    for on in (TODAY, date(2027, 3, 12), date(2035, 1, 1)):
        assert not said(code, refrigerant, on=on).reaches


def test_the_united_states_rule_begins_at_fifteen_pounds():
    # 15 lb = 6.80388555 kg: check values 2.2, 89 FR 82682 (secondary).
    assert said("us_hfc_leaks", charge_g=6_800).why == "charge"
    assert said("us_hfc_leaks", charge_g=6_810).reaches
    assert said("us_hfc_leaks", charge_g=6_810, on=date(2025, 12, 31)).why == "not_yet"
    assert said("us_hfc_leaks", "R-1234yf", 6_810).why == "kind"


def test_european_leak_checks_begin_at_five_tonnes_in_march_2027():
    # Check values 2.4: 5 t CO2e is 5,000 / 1,430 = 3.4965 kg of R-134a; the day from memory.
    assert said("eu_leak_checks").least_g == pytest.approx(3_496.5, abs=0.1)
    assert said("eu_leak_checks", charge_g=3_500).why == "not_yet"
    assert said("eu_leak_checks", charge_g=3_500, on=date(2027, 3, 12)).reaches
    assert said("eu_leak_checks", charge_g=3_490, on=date(2027, 3, 12)).why == "charge"


def test_european_leak_checks_of_an_hfo_count_kilograms_and_leave_propane_out():
    later = date(2027, 3, 12)
    assert said("eu_leak_checks", "R-1234yf", 1_000, later).reaches
    assert said("eu_leak_checks", "R-1234yf", 999, later).why == "charge"
    assert said("eu_leak_checks", "R-290", 5_000, later).why == "kind"


def test_flammable_refrigerant_in_a_vehicle_asks_for_a_second_look():
    reached = {name for name in SAFETY_CLASS if said("us_flammable", name).reaches}
    assert reached == {"R-32", "R-290", "R-454B"}


def test_what_has_no_threshold_reaches_every_unit():
    assert said("us_service").reaches and said("us_venting", "R-290").reaches
    assert said("eu_venting").reaches and not said("eu_venting", "R-290").reaches


def test_every_row_is_of_a_country_and_names_its_source():
    assert {rule.country for rule in RULES} == {"US", "EU"}
    assert all(rule.source for rule in RULES) and len(EU) == 27


def test_records_are_kept_three_years_in_the_united_states_and_five_elsewhere():
    # US: 40 CFR 82.42, from memory; EU: 5 years (check values 2.3).
    assert kept_years("US-TX") == 3
    assert kept_years("DE") == kept_years("ES-MD") == kept_years("BR") == 5
