"""A standing pressure says the temperature while any liquid is left, and never the charge."""

import pytest
from CoolProp.CoolProp import PropsSI

from installs.engineering.saturation import SAFETY_CLASS
from service.engineering.density import fill_limit_g, liquid_g_per_l, vapour_g_per_l
from service.engineering.standing import says

AIR = 101.325
CIRCUIT_L = 2.0


def stands_at(charge_g, celsius=25.0, fluid="R134a"):
    """Gauge pressure, kPa, of a closed circuit that holds a charge, by CoolProp's own equation."""
    density = charge_g / 1000 / (CIRCUIT_L / 1000)
    return PropsSI("P", "T", celsius + 273.15, "D", density, fluid) / 1000 - AIR


@pytest.mark.parametrize("charge_g", [500, 300, 100, 66])
def test_full_or_nearly_empty_a_circuit_with_liquid_stands_at_the_same_pressure(charge_g):
    # Check values 1.4: R-134a at 25 °C keeps 665 kPa absolute until 64.7 g of 2 L are left.
    assert stands_at(charge_g) + AIR == pytest.approx(665.38, abs=0.01)
    said = says(stands_at(charge_g), 25, "R-134a", AIR)
    assert said.state == "liquid"
    assert said.vapour_g_per_l * CIRCUIT_L == pytest.approx(64.7, abs=0.05)


@pytest.mark.parametrize("charge_g", [55, 40, 20, 5])
def test_without_liquid_it_says_at_most_how_much_is_left(charge_g):
    said = says(stands_at(charge_g), 25, "R-134a", AIR)
    assert said.state == "vapour"
    assert charge_g <= said.vapour_g_per_l * CIRCUIT_L <= 1.25 * charge_g


def test_more_than_saturation_is_another_gas_or_another_temperature():
    assert says(665.4 * 1.1 - AIR, 25, "R-134a", AIR).state == "too_high"


def test_a_gauge_at_height_reads_more_for_the_same_refrigerant():
    high = says(stands_at(300) + AIR - 83.5, 25, "R-134a", 83.5)
    assert high.state == "liquid"


def test_between_bubble_and_dew_a_blend_has_liquid():
    # Check values 1.2: R-407C at 25 °C, bubble 1190, dew 1020 kPa absolute.
    assert says(1100 - AIR, 25, "R-407C", AIR).state == "liquid"
    assert says(900 - AIR, 25, "R-407C", AIR).state == "vapour"
    assert says(1300 - AIR, 25, "R-407C", AIR).state == "too_high"


@pytest.mark.parametrize("celsius", [-60, 120, float("nan")])
def test_outside_the_tables_nothing_is_said(celsius):
    assert says(500, celsius, "R-134a", AIR).state == "unknown"


def test_the_table_is_coolprops():
    # Check values 1.4: liquid 1206.7 and vapour 32.35 kg/m³ of R-134a at 25 °C.
    assert liquid_g_per_l(25, "R-134a") == pytest.approx(1206.7, abs=0.1)
    assert vapour_g_per_l(25, "R-134a") == pytest.approx(32.35, abs=0.01)
    between = PropsSI("D", "T", 273.15 + 27.5, "Q", 1, "R134a")
    assert vapour_g_per_l(27.5, "R-134a") == pytest.approx(between, rel=1e-4)


@pytest.mark.parametrize("refrigerant", SAFETY_CLASS)
def test_a_filled_cylinder_has_room_at_55_degrees(refrigerant):
    # Why the limit is what it is: liquid that warms to 55 °C (131 °F) does not fill the cylinder.
    assert fill_limit_g(1_000, refrigerant) < liquid_g_per_l(55, refrigerant)


def test_a_light_refrigerant_fills_a_cylinder_with_less():
    # 80 percent: from memory. R-290 is half as heavy as water: 492 g/L at 25 °C (CoolProp 8.0.0).
    assert fill_limit_g(1_000, "R-134a") == 800
    assert fill_limit_g(1_000, "R-290") == pytest.approx(393.9, abs=0.2)
