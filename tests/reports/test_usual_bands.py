"""A model's own bands: the middle of its readings, whatever one bad gauge says."""

from datetime import UTC, datetime, timedelta

import pytest

from reports.first_screen import physics_at
from reports.usual_bands import LEAST_HALF_K, LEAST_READINGS, usual_bands
from tests.factories import InstallFactory, ReadingFactory

START = datetime(2026, 5, 1, 15, tzinfo=UTC)
NOW = datetime(2026, 9, 1, tzinfo=UTC)


@pytest.fixture
def install(db):
    return InstallFactory()


def readings(install, number, **read):
    for day in range(number):
        taken_at = START + timedelta(days=day, minutes=len(read))
        ReadingFactory(install=install, taken_at=taken_at, supply_air_c=15.0, **read)


def bands(install):
    return usual_bands(install.unit.model, NOW)


def test_the_band_lies_around_what_the_model_shows(install):
    readings(install, LEAST_READINGS)
    low, high = bands(install)["high"]["lift_k"]
    # 1,231 kPa absolute of R-134a lie between 1,160 at 45 °C and 1,318 at 50 °C (from memory):
    # 47.3 °C, 17.3 K over 30 °C.
    assert (low + high) / 2 == pytest.approx(17.3, abs=0.1)
    assert high - low == pytest.approx(2 * LEAST_HALF_K)
    assert bands(install)["high"]["air_drop_k"] == (6.0, 14.0)


def test_bad_gauges_move_nothing(install):
    readings(install, LEAST_READINGS)
    before = bands(install)["high"]
    readings(install, 5, discharge_kpa=2000.0, suction_kpa=600.0)
    after = bands(install)["high"]
    assert after["lift_k"] == pytest.approx(before["lift_k"])
    assert after["depression_k"] == pytest.approx(before["depression_k"])


def test_few_readings_give_no_band(install):
    readings(install, LEAST_READINGS - 1)
    assert bands(install)["high"] == {}
    assert bands(install)["low"] == {}


def test_neither_cold_nor_standing_nor_other_models_count(install):
    readings(install, LEAST_READINGS, ambient_c=5.0)
    readings(install, LEAST_READINGS, output="", ambient_c=29.0)
    readings(InstallFactory(), LEAST_READINGS)
    assert bands(install).get("high", {}) == {}


def test_what_was_written_down_later_was_not_known(install):
    readings(install, LEAST_READINGS)
    assert usual_bands(install.unit.model, START + timedelta(days=5))["high"] == {}


def test_a_model_without_its_own_is_judged_as_at_commissioning(install):
    assert physics_at(install.unit, install, NOW).bands["high"]["lift_k"] == (6, 22)
    readings(install, LEAST_READINGS)
    low, high = physics_at(install.unit, install, NOW).bands["high"]["lift_k"]
    assert 13 < low < high < 22


def test_bands_cost_one_query(install, django_assert_num_queries):
    readings(install, LEAST_READINGS)
    model = install.unit.model
    with django_assert_num_queries(1):
        usual_bands(model, NOW)
