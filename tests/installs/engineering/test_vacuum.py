"""Evacuation: water under a vacuum against published equations and a trade table, and the decay."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering.vacuum import (
    DECAY_MICRON,
    Decay,
    Shape,
    judge_decay,
    micron,
    pa,
    rise_shape,
    sublimation_pa,
    water_c,
)

# micron, °C at which water boils or ice turns to vapour. Below 4,588 micron IAPWS R14-08, above it
# IAPWS-95 through CoolProp 8.0.0, computed once and written down.
WATER = [
    (100, -39.67),
    (200, -33.36),
    (300, -29.51),
    (500, -24.48),
    (750, -20.33),
    (1_000, -17.31),
    (1_500, -12.92),
    (2_000, -9.71),
    (4_588, 0.01),
    (5_000, 1.20),
    (10_000, 11.23),
    (17_546, 20.00),
    (23_776, 25.00),
    (29_921, 28.91),
]


def test_500_micron_is_66_66_pascal():
    # Torr = 101325/760 Pa by definition.
    assert pa(500) == pytest.approx(66.661, abs=0.001)
    assert micron(101_325) == pytest.approx(760_000)


@pytest.mark.parametrize(("microns", "celsius"), WATER)
def test_water_leaves_at_the_published_temperature(microns, celsius):
    assert water_c(microns) == pytest.approx(celsius, abs=0.01)


def test_ice_at_230_kelvin_has_the_release_s_own_check_value():
    # IAPWS R14-08(2011), check value of the sublimation equation, from memory: 8.94735 Pa.
    assert sublimation_pa(230 - 273.15) == pytest.approx(8.94735, rel=1e-5)
    # Literature value at -20 °C.
    assert sublimation_pa(-20) == pytest.approx(103.2, abs=0.05)


def test_boiling_has_the_check_values_of_if97():
    # IAPWS-IF97, table 36: saturation temperature at 0.1, 1 and 10 MPa, K.
    kelvin = water_c(micron([0.1e6, 1e6, 10e6])) + 273.15
    assert kelvin == pytest.approx([372.755919, 453.035632, 584.149488], abs=1e-5)


def test_below_the_triple_point_it_is_ice_and_not_supercooled_water():
    # CoolProp 8.0.0 carries the liquid line on without an error: -27.10 °C at 500 micron.
    CoolProp = pytest.importorskip("CoolProp.CoolProp")
    carried_on_c = CoolProp.PropsSI("T", "P", float(pa(500)), "Q", 0, "Water") - 273.15
    assert carried_on_c == pytest.approx(-27.10, abs=0.05)
    assert water_c(500) - carried_on_c > 2.5


def test_what_no_water_can_do_is_not_a_number():
    assert np.isnan(water_c([0, -500, np.nan, 1e-9, 1e9])).all()


@given(st.floats(1, 700_000), st.floats(1.0001, 2))
def test_a_deeper_vacuum_takes_colder_water(microns, times):
    assert water_c(microns) < water_c(microns * times)


@pytest.mark.parametrize(
    ("lowest", "after", "minutes", "says"),
    [
        (480, 820, 10, Decay.HELD),
        (500, 999, 10, Decay.HELD),
        (480, 1_000, 10, Decay.ROSE),
        (480, 1_400, 3, Decay.ROSE),
        (501, 700, 10, Decay.NOT_LOW),
        (480, 700, 9, Decay.SHORT),
        (480, 300, 10, Decay.CANNOT_BE),
        (0.4, 700, 10, Decay.CANNOT_BE),
        (480, 700, -1, Decay.CANNOT_BE),
    ],
)
def test_500_micron_that_stay_under_1000_for_ten_minutes_hold(lowest, after, minutes, says):
    assert judge_decay(lowest, after, minutes) is says


def test_a_shop_may_ask_for_more():
    assert judge_decay(250, 480, 20, target_micron=300, limit_micron=500, watch_min=15) == "held"
    assert judge_decay(250, 520, 20, target_micron=300, limit_micron=500, watch_min=15) == "rose"


def test_a_steady_climb_is_a_leak():
    minutes = np.arange(0, 11)
    assert rise_shape(minutes, 400 + 300 * minutes) is Shape.LEAK


def test_a_climb_that_levels_off_is_moisture():
    # Towards the vapour pressure of the water left, ever slower.
    minutes = np.arange(0, 11)
    assert rise_shape(minutes, 4_000 - 3_600 * np.exp(-minutes / 2)) is Shape.MOISTURE


def test_a_level_reading_above_the_limit_is_no_leak():
    assert rise_shape([0, 5, 10], [1_500, 1_500, 1_500]) is Shape.MOISTURE


def test_what_stays_under_the_limit_is_tight():
    assert rise_shape([0, 2, 5, 10], [420, 600, 640, 650]) is Shape.TIGHT
    assert rise_shape([0, 5, 10], [420, 600, DECAY_MICRON]) is not Shape.TIGHT


def test_two_readings_cannot_tell_water_from_a_leak():
    assert rise_shape([0, 10], [400, 1_800]) is None


def test_readings_out_of_order_are_refused():
    with pytest.raises(ValueError, match="later than the one before"):
        rise_shape([0, 5, 3], [400, 900, 1_500])
