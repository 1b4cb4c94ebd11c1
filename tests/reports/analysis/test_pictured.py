"""What a finding's picture shows: the values the screen saw, and what a sound unit would read."""

import json

import numpy as np
import pandas as pd
import pytest

from reports.analysis.pictured import expected_band, pictured
from reports.analysis.verdicts import FoundCause
from tests.reports.analysis.fleets import fleet, shift, since

ONSET_T = 25.0
LEAK = {
    "cause": "refrigerant_leak",
    "probability": 0.98,
    "since_t": ONSET_T,
    "unit": 3,
    "evidence": [
        {"feature": "condensing_lift_k", "now": 12.0},
        {"feature": "evaporating_depression_k", "now": 24.0},
        {"feature": "charge_missing_percent", "now": 18.0},
    ],
    "forecast_event": "charge_below_80_percent",
    "forecast_t": (26.2, 26.5, 27.5),
}


def leaking(**changes):
    """A fleet of which unit 3 loses charge from ONSET_T on; depression moves the most."""
    frames = fleet()
    late = since(frames, 3, ONSET_T)
    shift(frames, 3, lift_k=-6 * late, depression_k=16 * late, from_t=ONSET_T)
    return frames, FoundCause(**(LEAK | changes))


def picture_of(frames, found) -> dict:
    (picture,) = pictured(frames, [found])
    return picture


def feature(picture: dict, name: str) -> dict:
    return next(one for one in picture["features"] if one["feature"] == name)


def test_every_reading_of_the_unit_is_there_with_the_furthest_feature_first():
    picture = picture_of(*leaking())
    names = [one["feature"] for one in picture["features"]]
    assert names == ["evaporating_depression_k", "condensing_lift_k"]
    assert all(len(one["points"]) == 8 for one in picture["features"])


def test_sound_readings_lie_in_the_band_and_the_last_of_a_leak_outside():
    depression = feature(picture_of(*leaking()), "evaporating_depression_k")
    ((first_t, last_t, low, high),) = depression["bands"]
    assert first_t == depression["points"][0][0] and last_t == depression["points"][-1][0]
    before = [value for t, value, _weight in depression["points"] if t < ONSET_T]
    assert np.mean([low <= value <= high for value in before]) >= 0.7
    assert depression["points"][-1][1] > high


def test_the_band_is_about_the_units_own_level_not_its_models():
    frames, found = leaking()
    ((*_time, low, high),) = feature(picture_of(frames, found), "condensing_lift_k")["bands"]
    # From the first reading on this unit reads 3 K lower than its like, which is no fault.
    shift(frames, 3, lift_k=-3.0)
    ((*_time, lower, less),) = feature(picture_of(frames, found), "condensing_lift_k")["bands"]
    assert (lower + less) / 2 == pytest.approx((low + high) / 2 - 3.0, abs=1.0)


def test_nine_in_ten_sound_readings_lie_in_their_bands():
    frames = fleet(units=40, visits=10)
    named = [{"feature": "condensing_lift_k", "now": 0.0}]
    found = [FoundCause("condenser_airflow", 0.9, np.nan, named, unit=unit) for unit in range(40)]
    inside = [
        band[2] <= value <= band[3]
        for picture in pictured(frames, found)
        for band in picture["features"][0]["bands"]
        for _t, value, _weight in picture["features"][0]["points"]
    ]
    # Four standard errors of a share of 0.9 among 400: sqrt(0.9 × 0.1 / 400) = 0.015.
    assert np.mean(inside) == pytest.approx(0.90, abs=0.06)


def test_a_slip_keeps_its_place_with_little_weight():
    frames, found = leaking()
    own = frames.readings.index[frames.readings["unit"] == 3]
    frames.readings.loc[own[2], "discharge_kpa"] *= 1.7
    weights = [
        point[2] for point in feature(picture_of(frames, found), "condensing_lift_k")["points"]
    ]
    assert weights[2] < 0.5
    assert min(weights[:2] + weights[3:]) > 0.9


def test_a_bad_gauge_is_taken_out_of_the_values():
    frames, found = leaking()
    g1 = frames.readings["gauge"] == "G1"
    late = frames.readings["t"] > 24.5
    plain = picture_of(frames, found)
    for unit in frames.readings.loc[g1, "unit"].unique():
        rows = g1 & late & (frames.readings["unit"] == unit)
        frames.readings.loc[rows, "gauge"] = "G9"
        shift(frames, unit, lift_k=6.0, from_t=24.5)
    values = [
        point[1] for point in feature(picture_of(frames, found), "condensing_lift_k")["points"]
    ]
    expected = [point[1] for point in feature(plain, "condensing_lift_k")["points"]]
    assert np.median(np.abs(np.subtract(values, expected))) < 2.0


def test_each_truck_has_its_own_band():
    frames, found = leaking()
    moved = (frames.readings["unit"] == 3) & (frames.readings["t"] > 24.9)
    frames.readings.loc[moved, "tractor"] = 999.0
    bands = feature(picture_of(frames, found), "condensing_lift_k")["bands"]
    assert len(bands) == 2
    assert bands[0][1] < bands[1][0]


def test_the_path_of_a_leak_falls_jumps_at_a_top_up_and_ends_at_the_threshold():
    frames, found = leaking()
    top_up = {"unit": 3, "t": 25.4, "movement": "added", "mass_g": 52.0}
    frames.movements = pd.concat([frames.movements, pd.DataFrame([top_up])], ignore_index=True)
    path = picture_of(frames, found)["path"]
    assert path[0] == [ONSET_T, 1.0]
    before, after = (left for t, left in path if t == 25.4)
    assert after - before == pytest.approx(52 / 520, abs=1e-3)  # of a charge of 520 g
    now = next(left for t, left in path if t == frames.as_of_t)
    assert now == pytest.approx(0.82)
    assert path[-1] == [26.5, 0.80]


def test_a_forecast_that_has_come_true_draws_no_path_ahead():
    frames, found = leaking(forecast_t=(25.2, 25.5, 25.8))
    assert picture_of(frames, found)["path"][-1][0] == frames.as_of_t


def test_the_path_of_a_tired_bank_passes_eight_hours_on_the_forecast_day():
    frames, found = leaking(
        cause="battery_wear",
        evidence=[{"feature": "rest_v", "now": 12.4}],
        forecast_event="bank_below_8_h_at_low_output",
    )
    (start_t, sound_h), (now_t, now_h), (end_t, end_h) = picture_of(frames, found)["path"]
    assert (start_t, now_t, end_t, end_h) == (ONSET_T, frames.as_of_t, 26.5, 8.0)
    assert sound_h > now_h > 8.0
    falling = (sound_h - now_h) / (now_t - start_t)
    assert falling == pytest.approx((now_h - 8.0) / (end_t - now_t), rel=1e-3)


def test_without_a_forecast_there_is_no_path():
    frames, found = leaking(forecast_t=None, forecast_event="")
    assert "path" not in picture_of(frames, found)


def test_a_doubtful_gauge_shows_what_it_read_of_every_unit():
    frames = fleet()
    g1 = (frames.readings["gauge"] == "G1") & (frames.readings["t"] > 25.0)
    for unit in frames.readings.loc[g1, "unit"].unique():
        shift(frames, unit, lift_k=8.0, from_t=25.0)
    found = FoundCause("doubtful_instrument", 0.99, 25.0, [], gauge="G1", touched=(1, 3))
    lift = picture_of(frames, found)["features"][0]
    assert lift["feature"] == "condensing_lift_k"
    assert {serial for *_point, serial in lift["points"]} == {f"S-{n:03d}" for n in range(1, 30, 2)}
    before = [off for t, off, _weight, _serial in lift["points"] if t < 25.0]
    after = [off for t, off, _weight, _serial in lift["points"] if t > 25.0]
    (_first, _last, low, high) = lift["bands"][0]
    assert np.median(after) > high
    assert low < np.median(before) < high


def test_pictures_are_ready_for_json():
    frames, found = leaking()
    json.dumps(pictured(frames, [found]), allow_nan=False)


def test_nothing_found_is_nothing_drawn():
    assert pictured(fleet(), []) == []


def test_without_readings_of_its_own_a_unit_is_expected_where_its_like_are():
    level, low, high = expected_band(np.array([]), np.array([]), np.array([1.0, 1.0]), 2.0)
    assert level == 0.0
    # sqrt(1² + 2²) × 1.645, the 95 % point of a normal curve: any table of it.
    assert (low, high) == pytest.approx((-3.678, 3.678), abs=0.001)


def test_many_readings_of_its_own_leave_only_the_noise():
    level, low, high = expected_band(np.full(400, 5.0), np.ones(400), np.ones(400), 2.0)
    assert level == pytest.approx(5.0, abs=0.01)
    assert high - low == pytest.approx(2 * 1.645, abs=0.01)
