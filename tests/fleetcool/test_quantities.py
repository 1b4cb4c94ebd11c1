"""Units: constants by definition (NIST SP 811, IEEE/ASTM SI 10) and the traps of the trade."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcool.quantities import (
    DECIMALS,
    ENTRY_UNIT,
    HEADER_UNITS,
    UNIT_LABEL,
    internal_header,
    shown,
    split_header,
    to_internal,
)


class TestHeaders:
    @pytest.mark.parametrize(
        ("header", "name", "unit"),
        [
            ("suction_psi", "suction", "psi"),
            ("discharge_psia", "discharge", "psia"),
            ("suction_kpaa", "suction", "kpaa"),
            ("draw_low_a", "draw_low", "a"),
            ("battery_ah", "battery", "ah"),
            ("rest_h", "rest", "h"),
            ("internal_mohm", "internal", "mohm"),
            (" Ambient_F ", "ambient", "f"),
            ("truck_number", "truck_number", ""),
            ("lot", "lot", ""),
            ("vin", "vin", ""),
            ("_c", "_c", ""),
        ],
    )
    def test_the_unit_is_what_follows_the_last_underscore(self, header, name, unit):
        assert split_header(header) == (name, unit)

    @pytest.mark.parametrize(
        ("name", "unit", "inside"),
        [
            ("suction", "psi", "suction_kpa"),
            ("suction", "bar", "suction_kpa"),
            ("discharge", "psia", "discharge_kpa"),
            ("ambient", "f", "ambient_c"),
            ("charge", "oz", "charge_g"),
            ("load", "v", "load_v"),
            ("lot", "", "lot"),
        ],
    )
    def test_the_same_column_has_one_name_inside(self, name, unit, inside):
        assert internal_header(name, unit) == inside

    def test_an_unknown_unit_is_refused_with_the_known_ones_named(self):
        with pytest.raises(ValueError, match="'inhg' is not a unit known here; known are psi, kpa"):
            to_internal(28, "inhg")


class TestIntoTheBook:
    @pytest.mark.parametrize(
        ("value", "unit", "inside"),
        [
            (1, "psi", 0.45359237 * 9.80665 / 0.0254**2 / 1000),
            (62, "psi", 427.475),
            (14.696, "psi", 101.3254),
            (4.5, "bar", 450),
            (300, "kpa", 300),
            (95, "f", 35),
            (-40, "f", -40),
            (21.5, "c", 21.5),
            (14, "oz", 396.893324),
            (17.6, "oz", 498.951607),
            (1, "lb", 453.59237),
            (12.65, "v", 12.65),
            (25, "a", 25),
            (105, "ah", 105),
            (8, "h", 8),
            (4.5, "mohm", 4.5),
        ],
    )
    def test_by_definition(self, value, unit, inside):
        assert to_internal(value, unit) == pytest.approx(inside, abs=0.0005)

    def test_an_absolute_pressure_loses_the_standard_air(self):
        assert to_internal([101.325, 765.0], "kpaa") == pytest.approx([0, 663.675])
        assert to_internal(14.69594878, "psia") == pytest.approx(0, abs=1e-6)

    def test_an_absolute_pressure_loses_the_air_of_its_own_yard(self):
        # ISO 2533: about 84.3 kPa at 5,000 ft.
        assert to_internal([500, 500], "kpaa", air_kpa=np.array([84.3, 101.325])) == pytest.approx(
            [415.7, 398.675]
        )

    def test_a_gauge_pressure_keeps_what_the_gauge_said(self):
        assert to_internal(35, "psi", air_kpa=84.3) == to_internal(35, "psi")

    @pytest.mark.parametrize(
        ("fahrenheit", "kelvin"), [(18, 10.0), (10, 5.556), (0, 0.0), (20, 11.11)]
    )
    def test_a_difference_is_not_a_temperature(self, fahrenheit, kelvin):
        # As a temperature 18 °F would be -7.8 °C.
        assert to_internal(fahrenheit, "f", difference=True) == pytest.approx(kelvin, abs=0.005)
        assert to_internal(fahrenheit, "f") == pytest.approx((fahrenheit - 32) / 1.8)

    def test_a_celsius_difference_is_in_kelvin_already(self):
        assert to_internal(7.5, "c", difference=True) == 7.5

    def test_a_difference_of_absolute_pressures_loses_no_air(self):
        assert to_internal(10, "psia", difference=True) == pytest.approx(68.94757)

    def test_a_column_keeps_its_gaps(self):
        inside = to_internal([40, np.nan, 50], "psi")
        assert inside[[0, 2]] == pytest.approx([275.790, 344.738], abs=0.001)
        assert np.isnan(inside[1])


class TestOnTheScreen:
    @pytest.mark.parametrize(
        ("value", "kind", "system", "number", "label"),
        [
            (312.4, "pressure", "us", 45.3098, "psi"),
            (312.4, "pressure", "si", 312.4, "kPa"),
            (35, "temperature", "us", 95, "°F"),
            (35, "temperature", "si", 35, "°C"),
            (10, "difference", "us", 18, "°F"),
            (10, "difference", "si", 10, "K"),
            (0, "difference", "us", 0, "°F"),
            (500, "mass", "us", 17.6370, "oz"),
            (500, "mass", "si", 500, "g"),
            (12.65, "volts", "us", 12.65, "V"),
            (25, "amps", "us", 25, "A"),
            (105, "ah", "si", 105, "Ah"),
            (8, "hours", "us", 8, "h"),
            (4.5, "mohm", "si", 4.5, "mΩ"),
            (0.83, "ratio", "us", 83, "%"),
            # 1 ft = 0.3048 m by definition (NIST SP 811).
            (4.572, "length", "us", 15, "ft"),
            (4.572, "length", "si", 4.572, "m"),
        ],
    )
    def test_each_person_reads_their_own_units(self, value, kind, system, number, label):
        figure, unit = shown(value, kind, system)
        assert figure == pytest.approx(number, abs=0.0005)
        assert unit == label == UNIT_LABEL[kind, system]

    def test_a_whole_column_at_once(self):
        figures, _ = shown([0, 10, np.nan], "difference", "us")
        assert figures[:2] == pytest.approx([0, 18])
        assert np.isnan(figures[2])

    def test_every_kind_has_a_label_and_decimals_in_both_systems(self):
        assert set(UNIT_LABEL) == set(DECIMALS)
        assert {system for _, system in UNIT_LABEL} == {"si", "us"}
        assert len(UNIT_LABEL) == 22

    @given(
        st.floats(-500, 5000, allow_subnormal=False),
        st.sampled_from(sorted(ENTRY_UNIT)),
    )
    def test_what_is_shown_and_typed_back_is_the_same(self, value, kind_and_system):
        kind, system = kind_and_system
        figure, _ = shown(value, kind, system)
        back = to_internal(figure, ENTRY_UNIT[kind, system], difference=kind == "difference")
        assert back == pytest.approx(value, abs=1e-9)


def test_every_header_unit_becomes_a_unit_that_is_its_own_inside():
    assert all(
        HEADER_UNITS[unit.internal].internal == unit.internal for unit in HEADER_UNITS.values()
    )
