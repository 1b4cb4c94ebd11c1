"""The bank's formulas against discharges of an independent lead-acid model."""

import numpy as np
import pytest

from installs.engineering.battery import PEUKERT_EXPONENT, hours_carried, usable_fraction
from tests.installs.engineering.lead_acid import capacity_ah, discharge, hours_to

# What a unit is set to, of a 12 V block: common practice, no source.
CUTOFFS_V = [11.0, 11.2, 11.4]
# Low, middle and high output on four healthy 100 Ah batteries, as hours to the rating.
RATES_H = [18, 10, 6]


def test_the_models_twenty_hours_are_twenty():
    assert hours_to(10.5, capacity_ah() / 20) == pytest.approx(20, rel=0.001)


def test_a_discharge_sinks_from_full_to_the_end_of_a_starting_batterys_test():
    _, volts = discharge(capacity_ah() / 10)
    assert (np.diff(volts) < 0).all()
    assert volts[[0, -1]] == pytest.approx([12.9, 10.5], abs=0.1)


@pytest.mark.parametrize("cutoff_v", CUTOFFS_V)
def test_peukerts_exponent_down_to_the_cutoff_is_that_of_a_sealed_battery(cutoff_v):
    # A published table of typical values: AGM 1.05 to 1.15. Down to 10.5 V the model gives 1.045.
    amps = capacity_ah() / np.array([20, 16, 12, 8, 5])
    hours = [hours_to(cutoff_v, a) for a in amps]
    exponent = -np.polyfit(np.log(amps), np.log(hours), 1)[0]
    assert 1.05 <= exponent <= 1.15
    assert exponent == pytest.approx(PEUKERT_EXPONENT["agm"], abs=0.04)


@pytest.mark.parametrize("cutoff_v", CUTOFFS_V)
def test_the_part_taken_down_to_the_cutoff_is_the_models(cutoff_v):
    taken = hours_to(cutoff_v, capacity_ah() / 20) / 20
    assert usable_fraction(cutoff_v, "agm") == pytest.approx(taken, abs=0.035)


@pytest.mark.parametrize("rate_h", RATES_H)
@pytest.mark.parametrize("cutoff_v", CUTOFFS_V)
def test_the_hours_carried_are_the_models(cutoff_v, rate_h):
    amps = capacity_ah() / rate_h
    carried = hours_carried(capacity_ah(), amps, cutoff_v, "agm")
    assert carried == pytest.approx(hours_to(cutoff_v, amps), rel=0.06)
    assert carried < hours_to(cutoff_v, amps)  # it promises no more than the model gives
