"""What overnights say of a bank."""

import numpy as np
import pandas as pd
import pytest

from reports.analysis.nights import night_features


def nights(count=400, seed=3) -> pd.DataFrame:
    """Nights of one sound bank: full at 12.7 V, and a volt lower when it is drawn to the end."""
    rng = np.random.default_rng(seed)
    drawn_ah = rng.uniform(60, 260, count)
    return pd.DataFrame(
        {
            "unit": 1,
            "tractor": 101.0,
            "t": 24.0 + np.sort(rng.uniform(0, 2, count)),
            "run_h": drawn_ah / 22,
            "drawn_ah": drawn_ah,
            "start_v": 12.7,
            "end_v": 12.5 - drawn_ah / 300 + rng.normal(0, 0.02, count),
            "ended_by": "switch",
            "ambient_c": 25.0,
            "battery_type": "agm",
            "battery_count": 4.0,
            "battery_ah": 105.0,
            "system_v": 12,
            "cutoff_v": 11.2,
        }
    )


def test_the_end_of_a_night_is_told_as_a_voltage_of_a_middling_night():
    taken = nights()
    told = night_features(taken)
    assert set(told["feature"]) == {"night_end_v"}
    assert told["y"].median() == pytest.approx(taken["end_v"].median(), abs=0.05)


def test_how_deep_the_bank_was_drawn_does_not_move_it():
    assert night_features(nights())["y"].std() < nights()["end_v"].std() / 5


def test_a_24_volt_bank_is_told_by_its_12_volt_block():
    taken = nights()
    doubled = taken.assign(end_v=taken["end_v"] * 2, system_v=24, battery_count=8.0)
    assert night_features(doubled)["y"].tolist() == pytest.approx(
        night_features(taken)["y"].tolist()
    )
