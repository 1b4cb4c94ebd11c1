"""The capacity read from nights against banks of an independent lead-acid model that were worn."""

import numpy as np
import pandas as pd
import pytest

from reports.analysis.nights import night_features
from tests.installs.engineering.lead_acid import SOUND, Wear, capacity_ah, discharge, hours_to

# Twenty of the model's small blocks side by side: some 430 Ah, the bank of a sleeper cab.
BLOCKS = 20
# Low, middle and high output, as hours to the bank's rating; and what a unit is set to, V.
RATES_H = [18, 10, 6]
CUTOFFS_V = [11.0, 11.2, 11.4]
# What was worn, and how far the estimate of the capacity left may then be off, as a part of it.
WORN = [
    pytest.param(Wear(plates=0.9), 0.02, id="a tenth of the plates shed"),
    pytest.param(Wear(plates=0.8), 0.02, id="a fifth of the plates shed"),
    pytest.param(Wear(plates=0.65), 0.03, id="a third of the plates shed"),
    pytest.param(Wear(positive=0.7), 0.03, id="thin positive plates"),
    pytest.param(Wear(acid=0.85), 0.04, id="a seventh of the acid bound"),
    pytest.param(Wear(acid=0.7), 0.09, id="a third of the acid bound"),
]


def night(hours: float, amps: float, ended_by: str, **changes) -> pd.DataFrame:
    """One night of the bank at so many amperes of a block."""
    return pd.DataFrame(
        [
            {
                "unit": 1,
                "tractor": 101.0,
                "t": 24.0,
                "run_h": hours,
                "drawn_ah": hours * amps * BLOCKS,
                "start_v": 12.7,
                "end_v": np.nan,
                "ended_by": ended_by,
                "ambient_c": 25.0,
                "battery_type": "agm",
                "battery_count": float(BLOCKS),
                "battery_ah": capacity_ah(),
                "system_v": 12,
                "cutoff_v": np.nan,
            }
            | changes
        ]
    )


def told(night: pd.DataFrame) -> float:
    return night_features(night)["y"].item()


def shown(rate_h: float, cutoff_v: float, wear: Wear = SOUND) -> float:
    """The 20-hour capacity over the rated one that a night down to the cutoff shows."""
    amps = capacity_ah() / rate_h
    hours = hours_to(cutoff_v, amps, wear)
    return np.exp(told(night(hours, amps, "cutoff", end_v=cutoff_v, cutoff_v=cutoff_v)))


@pytest.mark.parametrize("rate_h", RATES_H)
@pytest.mark.parametrize("cutoff_v", CUTOFFS_V)
def test_a_night_on_a_sound_bank_shows_its_rating(cutoff_v, rate_h):
    assert shown(rate_h, cutoff_v) == pytest.approx(1, abs=0.06)


@pytest.mark.parametrize("rate_h", RATES_H)
@pytest.mark.parametrize("cutoff_v", CUTOFFS_V)
@pytest.mark.parametrize(("wear", "off"), WORN)
def test_what_wear_has_left_is_read_from_two_nights_alike(wear, off, cutoff_v, rate_h):
    left = shown(rate_h, cutoff_v, wear) / shown(rate_h, cutoff_v)
    assert left == pytest.approx(capacity_ah(wear) / capacity_ah(), rel=off)


@pytest.mark.parametrize(("wear", "off"), WORN)
def test_what_wear_has_left_is_read_though_the_driver_now_cools_harder(wear, off):
    left = shown(RATES_H[-1], 11.2, wear) / shown(RATES_H[0], 11.2)
    assert left == pytest.approx(capacity_ah(wear) / capacity_ah(), rel=off + 0.03)


@pytest.mark.parametrize("rate_h", RATES_H[:2])
def test_the_more_a_bank_is_worn_the_lower_an_equal_night_ends(rate_h):
    amps = capacity_ah() / rate_h
    hours = 0.5 * rate_h  # half of the rating
    ends = [
        told(night(hours, amps, "switch", end_v=np.interp(hours, *discharge(amps, wear))))
        for wear in (SOUND, Wear(plates=0.9), Wear(plates=0.8), Wear(plates=0.65))
    ]
    assert (np.diff(ends) < -0.05).all()
