"""What overnights say of a bank."""

import numpy as np
import pandas as pd
import pytest

from installs.engineering import battery
from reports.analysis.nights import night_features

RATED_AH = 420.0


def nights(health=1.0, count=400, seed=3) -> pd.DataFrame:
    """Nights of one bank that falls from full to empty as the table of loaded voltages says."""
    rng = np.random.default_rng(seed)
    drawn_ah = rng.uniform(60, 200, count)
    run_h = drawn_ah / 22
    exponent = battery.PEUKERT_EXPONENT["agm"]
    at_22_a = battery.hours(RATED_AH * health, 22.0, exponent) * 22
    volts, used = battery.LEAD_ACID_SAG
    end_v = np.interp(drawn_ah / at_22_a, used[::-1], volts[::-1])
    return pd.DataFrame(
        {
            "unit": 1,
            "tractor": 101.0,
            "t": 24.0 + np.sort(rng.uniform(0, 2, count)),
            "run_h": run_h,
            "drawn_ah": drawn_ah,
            "start_v": 12.7,
            "end_v": end_v + rng.normal(0, 0.02, count),
            "ended_by": "switch",
            "ambient_c": 25.0,
            "battery_type": "agm",
            "battery_count": 4.0,
            "battery_ah": 105.0,
            "system_v": 12,
            "cutoff_v": 11.2,
        }
    )


@pytest.mark.parametrize("health", [1.0, 0.8])
def test_nights_that_were_switched_off_show_the_capacity_that_is_left(health):
    told = night_features(nights(health))
    assert set(told["feature"]) == {"bank_capacity_ah"}
    assert np.exp(told["y"].median()) == pytest.approx(health, abs=0.03)


def test_how_deep_the_bank_was_drawn_does_not_move_it():
    assert night_features(nights())["y"].std() < 0.02


def test_few_and_shallow_nights_are_the_coarser_observation():
    taken = nights()
    deep = taken["drawn_ah"] > 150
    few = night_features(taken[deep].iloc[::4])["coarseness"].median()
    shallow = night_features(taken[taken["drawn_ah"] < 100])["coarseness"].median()
    assert night_features(taken[deep])["coarseness"].median() < min(few, shallow)


def test_a_24_volt_bank_is_told_by_its_12_volt_block():
    taken = nights()
    doubled = taken.assign(end_v=taken["end_v"] * 2, system_v=24, battery_count=8.0)
    assert night_features(doubled)["y"].tolist() == pytest.approx(
        night_features(taken)["y"].tolist()
    )


def test_a_lithium_bank_tells_only_when_it_reached_the_end():
    """Its voltage hardly falls before: the table of battery.LITHIUM_SAG is flat for 80 %."""
    lithium = nights().assign(battery_type="lifepo4", end_v=13.0)
    assert night_features(lithium).empty
    emptied = lithium.assign(ended_by="cutoff", end_v=12.0)
    assert not night_features(emptied).empty
