"""The pressures to expect in the air of a day."""

import pytest

from service.engineering.expected import expected_discharge_kpa, expected_suction_kpa

AIR_KPA = 101.325
PSI = 6.894757


# Common practice, no source: on a hot day R-134a shows 40-50 psi and 150-180 psi.
@pytest.mark.parametrize("ambient_c", [32, 35])
def test_the_usual_discharge_of_a_hot_day_is_expected(ambient_c):
    low, high = expected_discharge_kpa(ambient_c, "R-134a", AIR_KPA)
    assert low < 150 * PSI
    assert high > 180 * PSI


@pytest.mark.parametrize("return_air_c", [27, 30])
def test_the_usual_suction_of_a_hot_day_is_expected(return_air_c):
    low, high = expected_suction_kpa(return_air_c, "R-134a", AIR_KPA)
    assert low < 40 * PSI
    assert high > 50 * PSI


def test_an_empty_or_an_overfilled_circuit_is_not_expected():
    assert expected_suction_kpa(28, "R-134a", AIR_KPA)[0] > 20 * PSI
    assert expected_discharge_kpa(35, "R-134a", AIR_KPA)[1] < 300 * PSI


def test_a_gauge_reads_more_where_the_air_is_thin():
    sea, mountain = (expected_discharge_kpa(35, "R-134a", air)[0] for air in (AIR_KPA, 83.5))
    assert mountain - sea == pytest.approx(AIR_KPA - 83.5)
