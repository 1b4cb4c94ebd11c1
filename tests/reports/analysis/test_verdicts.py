"""What the screen says of small fleets in which one thing goes wrong."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from installs.engineering.saturation import bubble_c, bubble_kpa
from reports.analysis.verdicts import screen
from tests.reports.analysis.fleets import ATMOSPHERE_KPA, START_T, fleet, shift, since

ONSET_T = START_T + 0.3
PSI = 6.894757293168361


def named(frames) -> dict[int, str]:
    return {found.unit: found.cause for found in screen(frames).findings if not found.gauge}


def leaking(**options):
    frames = fleet(**options)
    years = since(frames, 5, ONSET_T)
    shift(frames, 5, lift_k=-8 * years, depression_k=10 * years, from_t=ONSET_T)
    return frames


def test_a_sound_fleet_gives_no_finding():
    assert named(fleet()) == {}


def test_lift_that_falls_while_depression_rises_is_a_leak():
    assert named(leaking()) == {5: "refrigerant_leak"}


def test_lift_that_rises_alone_is_a_condenser_short_of_air():
    frames = fleet()
    shift(frames, 5, lift_k=8 * since(frames, 5, ONSET_T), from_t=ONSET_T)
    assert named(frames) == {5: "condenser_airflow"}


def test_depression_that_rises_alone_is_a_restriction():
    frames = fleet()
    shift(frames, 5, depression_k=9 * since(frames, 5, ONSET_T), from_t=ONSET_T)
    assert named(frames) == {5: "restriction"}


def test_lift_up_and_depression_down_after_a_top_up_is_overcharge():
    frames = fleet()
    top_up = pd.DataFrame([{"unit": 5, "t": ONSET_T, "movement": "added", "mass_g": 90.0}])
    frames.movements = pd.concat([frames.movements, top_up], ignore_index=True)
    shift(frames, 5, lift_k=5.0, depression_k=-4.0, from_t=ONSET_T)
    assert named(frames) == {5: "overcharge"}


def test_resistance_that_grows_while_the_bank_rests_well_is_a_bad_joint():
    frames = fleet()
    rows = (frames.readings["unit"] == 5) & (frames.readings["t"] >= ONSET_T)
    frames.readings.loc[rows, "load_v"] -= 36 * 0.006 * since(frames, 5, ONSET_T)
    assert named(frames) == {5: "wiring_resistance"}


def test_resistance_that_grows_while_rest_voltage_falls_is_a_worn_bank():
    frames = fleet()
    rows = (frames.readings["unit"] == 5) & (frames.readings["t"] >= ONSET_T)
    years = since(frames, 5, ONSET_T)
    frames.readings.loc[rows, "rest_v"] -= 0.3 * years
    frames.readings.loc[rows, "load_v"] -= 0.3 * years + 36 * 0.005 * years
    assert named(frames) == {5: "battery_wear"}


def test_one_gauge_that_reads_low_on_many_units_is_one_finding_and_no_leak():
    frames = fleet(units=60, visits=9)
    late = frames.readings["t"] >= START_T + 0.8
    bad = late & (frames.readings["unit"] < 40)
    frames.readings.loc[bad, "gauge"] = "G9"
    frames.readings.loc[bad, ["suction_kpa", "discharge_kpa"]] -= 12 * PSI
    found = screen(frames).findings
    assert [(f.cause, f.gauge) for f in found] == [("doubtful_instrument", "G9")]
    assert set(found[0].touched) == set(range(40))


def test_one_mistyped_pressure_is_not_a_finding():
    frames = fleet()
    last = frames.readings.index[frames.readings["unit"] == 5][-1]
    frames.readings.loc[last, "suction_kpa"] /= 10
    assert named(frames) == {}


def test_readings_of_a_standing_unit_are_never_judged_as_charge():
    """With liquid left a standing pressure is the air's own (check-values 1.4, CoolProp)."""
    frames = fleet()
    rows = frames.readings["unit"] == 5
    air = bubble_kpa(frames.readings.loc[rows, "ambient_c"], "R-134a") - ATMOSPHERE_KPA
    frames.readings.loc[rows, ["output", "suction_kpa", "discharge_kpa"]] = np.column_stack(
        [np.full(rows.sum(), "", dtype=object), air, air]
    )
    frames.readings = frames.readings.astype({"suction_kpa": float, "discharge_kpa": float})
    assert named(frames) == {}


def test_one_reading_is_not_enough_to_judge():
    frames = fleet(visits=1, years=0.3)
    assert screen(frames).undecided == 30


def test_a_weighed_charge_begins_anew():
    frames = leaking()
    mended_t = frames.as_of_t - 0.05
    filling = pd.DataFrame([{"unit": 5, "t": mended_t, "movement": "charged", "mass_g": 520.0}])
    frames.movements = pd.concat([frames.movements, filling], ignore_index=True)
    assert named(frames) == {}


def test_a_top_up_that_mends_the_pressures_does_not_hide_the_leak():
    frames = leaking(visits=12)
    top_up_t = frames.as_of_t - 0.4
    top_up = pd.DataFrame([{"unit": 5, "t": top_up_t, "movement": "added", "mass_g": 150.0}])
    frames.movements = pd.concat([frames.movements, top_up], ignore_index=True)
    years = top_up_t - ONSET_T
    shift(frames, 5, lift_k=6 * years, depression_k=-7.5 * years, from_t=top_up_t)
    assert named(frames).get(5) == "refrigerant_leak"


def test_a_renewed_bank_is_not_judged_by_the_old_one():
    frames = fleet()
    rows = (frames.readings["unit"] == 5) & (frames.readings["t"] < START_T + 1.2)
    frames.readings.loc[rows, "load_v"] -= 0.3
    frames.readings.loc[rows, "rest_v"] -= 0.2
    frames.renewals = pd.DataFrame([{"tractor": 105.0, "t": START_T + 1.2, "renewed_count": 4.0}])
    assert named(frames) == {}


def hot_day_fleet():
    """Every visit on a day of 30 to 38 °C, at 40-50 and 150-180 psi: common practice, no source."""
    frames = fleet()
    rng = np.random.default_rng(7)
    share = rng.uniform(0, 1, len(frames.readings))
    frames.readings["ambient_c"] = 30 + 8 * share
    frames.readings["suction_kpa"] = rng.uniform(40, 50, len(share)) * PSI
    frames.readings["discharge_kpa"] = (150 + 30 * share) * PSI
    return frames


def test_r134a_at_40_to_50_and_150_to_180_psi_in_hot_weather_is_sound():
    assert named(hot_day_fleet()) == {}


def test_the_same_pressures_on_a_cold_day_are_not_sound():
    frames = hot_day_fleet()
    late = (frames.readings["unit"] == 5) & (frames.readings["t"] > ONSET_T)
    frames.readings.loc[late, "ambient_c"] = 10.0
    assert 5 in named(frames)


def test_evidence_says_what_was_and_what_is():
    found = screen(leaking()).findings[0]
    rows = {row["feature"]: row for row in found.evidence}
    lift = rows["condensing_lift_k"]
    assert lift["baseline"] == pytest.approx(18, abs=2)
    assert lift["now"] < lift["baseline"] - 4
    assert lift["slope_per_year"] == pytest.approx(-8, abs=3)
    assert lift["n"] == 8
    assert rows["charge_missing_percent"]["now"] > 15


def test_a_leak_is_dated_and_forecast():
    found = screen(leaking()).findings[0]
    low, middle, high = found.forecast_t
    assert found.forecast_event == "charge_below_80_percent"
    assert low <= middle <= high
    assert found.since_t == pytest.approx(ONSET_T, abs=0.35)


def test_expected_false_findings_are_the_doubt_left_in_those_named():
    screened = screen(leaking())
    doubt = sum(1 - found.probability for found in screened.findings)
    assert screened.expected_false == pytest.approx(doubt)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_order_of_the_rows_changes_nothing(seed):
    frames = leaking()
    before = screen(frames).findings
    frames.readings = frames.readings.sample(frac=1, random_state=seed)
    after = screen(frames).findings
    assert [(f.unit, f.cause) for f in after] == [(f.unit, f.cause) for f in before]
    assert after[0].probability == pytest.approx(before[0].probability, rel=1e-6)


@settings(max_examples=8, deadline=None)
@given(st.floats(-8, 8))
def test_warmer_air_with_pressures_moved_along_saturation_changes_no_verdict(warmer_k):
    frames = leaking()
    frames.readings["ambient_c"] += warmer_k
    condensing = bubble_c(frames.readings["discharge_kpa"] + ATMOSPHERE_KPA, "R-134a")
    frames.readings["discharge_kpa"] = bubble_kpa(condensing + warmer_k, "R-134a") - ATMOSPHERE_KPA
    assert named(frames) == {5: "refrigerant_leak"}
