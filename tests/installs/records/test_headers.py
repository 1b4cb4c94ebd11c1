"""Headers carry units."""

import pytest

from installs.records.headers import match_headers
from installs.records.sheets import Tractors, UnitModels
from service.sheets import Readings


def match(*headers, sheet=Readings):
    return match_headers(sheet, ["serial", "taken_at", *headers])


@pytest.mark.parametrize("header", ["suction_psi", "Suction PSI", " suction (psi) ", "SUCTION_PSI"])
def test_a_header_may_be_written_freely(header):
    found = match(header)
    assert found.written["suction_kpa"] == header and found.units["suction_kpa"] == "psi"


@pytest.mark.parametrize("unit", ["psi", "kpa", "bar", "psia", "kpaa"])
def test_every_unit_of_pressure_is_the_same_quantity(unit):
    assert match(f"discharge_{unit}").units["discharge_kpa"] == unit


def test_a_header_without_its_unit_is_an_extra_column():
    assert match("suction").extra == ["suction"]


def test_a_unit_of_another_kind_is_an_extra_column():
    assert match("suction_f").extra == ["suction_f"]


def test_the_voltage_of_a_system_is_no_measurement_to_convert():
    found = match_headers(Tractors, ["vin", "system_v"])
    assert "system_v" in found.written


def test_a_rated_draw_names_its_output_and_its_unit():
    assert match_headers(UnitModels, ["model", "draw_low_a"]).units["draw_low_a"] == "a"


@pytest.mark.parametrize("header", ["reason", "row"])
def test_the_columns_of_the_rejects_are_passed_over_in_silence(header):
    assert match(header).extra == []


def test_two_columns_of_one_quantity_are_a_problem():
    assert "ambient_c and ambient_f" in match("ambient_c", "ambient_f").problem


def test_the_same_header_twice_is_a_problem():
    assert match("gauge", "gauge").problem


def test_a_file_parted_by_semicolons_is_told_so():
    assert "semicolons" in match_headers(Readings, ["serial;taken_at"]).problem
