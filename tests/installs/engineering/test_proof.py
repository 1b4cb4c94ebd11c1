"""A pair of pressures against the day's air. Figures: common practice, no source."""

import itertools

import pytest

from installs.engineering.proof import is_sound, lift_and_depression_k

PSI = 6.894757293168361


def sound(suction_psi, discharge_psi, ambient_c, return_air_c=25):
    return bool(
        is_sound(
            *lift_and_depression_k(
                suction_psi * PSI, discharge_psi * PSI, ambient_c, return_air_c, "R-134a"
            )
        )
    )


@pytest.mark.parametrize(
    ("suction_psi", "discharge_psi", "ambient_c"),
    list(itertools.product((40, 45, 50), (150, 165, 180), (30, 34, 38))),
)
def test_r134a_at_40_to_50_and_150_to_180_psi_is_sound_on_a_hot_day(
    suction_psi, discharge_psi, ambient_c
):
    assert sound(suction_psi, discharge_psi, ambient_c)


@pytest.mark.parametrize(
    ("suction_psi", "discharge_psi"), list(itertools.product((40, 45, 50), (150, 165, 180)))
)
def test_the_same_pressures_are_not_sound_on_a_cold_day(suction_psi, discharge_psi):
    assert not sound(suction_psi, discharge_psi, 10)


def test_a_pressure_outside_the_table_is_not_sound():
    assert not sound(45, 900, 34)
