"""The guess of a night's draw: of the right order, and moving the right way."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering.cooling import CABS, night_load

OPEN = {"low_a": 0.1, "high_a": 1000}
NIGHTS, POINTS = st.floats(10, 45), st.floats(16, 28)


def test_a_warm_night_in_a_raised_roof_sleeper_is_some_hundreds_of_watts():
    # 30 °C outside, 22 °C inside, one asleep, by hand: 8 K × (45 + 10 × 0.34) W/K + 85 W = 472 W.
    assert night_load("mid", 22, 30, 1, **OPEN).heat_w == pytest.approx(472.2)


def test_a_hot_night_draws_what_units_are_rated_for():
    # Common practice, no source: units of this kind draw 22 to 65 A at 12 V.
    assert 22 < night_load("mid", 20, 35, 1, **OPEN).draw_a < 65


def test_on_24_volts_the_same_night_takes_half_the_amperes():
    at_12, at_24 = (night_load("mid", 21, 32, system_v=v, **OPEN).draw_a for v in (12, 24))
    assert at_24 == pytest.approx(at_12 / 2)


def test_the_unit_draws_no_less_than_its_low_and_no_more_than_its_high_output():
    load = night_load("mid", 20, np.array([22, 30, 44]), low_a=15, high_a=30)
    assert load.draw_a[[0, 2]] == pytest.approx([15, 30])
    assert 15 < load.draw_a[1] < 30
    assert load.beyond_unit.tolist() == [False, False, True]


def test_a_bound_takes_the_doubt_away():
    free = night_load("mid", 20, 30, low_a=1, high_a=100)
    held = night_load("mid", 20, 30, low_a=1, high_a=5)
    assert free.spread == pytest.approx(0.20)
    assert held.spread == 0


@given(st.sampled_from(sorted(CABS)), POINTS, NIGHTS, st.floats(0, 8))
def test_a_warmer_night_never_draws_less(cab, point, night, warmer):
    first, then = night_load(cab, point, np.array([night, night + warmer]), **OPEN).draw_a
    assert then >= first - 1e-9


@given(st.sampled_from(sorted(CABS)), POINTS, NIGHTS, st.floats(0, 8))
def test_a_warmer_set_point_never_draws_more(cab, point, night, warmer):
    first, then = night_load(cab, np.array([point, point + warmer]), night, **OPEN).draw_a
    assert then <= first + 1e-9


def test_a_night_colder_than_the_set_point_leaves_the_sleepers_own_heat():
    assert night_load("large", 22, 10, 2, **OPEN).heat_w == pytest.approx(2 * 85)


def test_an_unknown_cab_is_refused():
    with pytest.raises(KeyError):
        night_load("huge", 22, 30, **OPEN)
