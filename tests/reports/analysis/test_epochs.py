"""A reading outside an epoch never moves that epoch: the verdict on one unit stays what it was.

Each unit here has drifted a little since its present epoch began. What a whole fleet teaches (noise,
levels) may move by one reading among hundreds, so a verdict is held to within 0.02, in probability
as in years; its readings are counted exactly.
"""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering.saturation import bubble_kpa, dew_kpa
from reports.analysis.observations import bank_observations
from reports.analysis.verdicts import screen
from tests.reports.analysis.examples import few
from tests.reports.analysis.fleets import ATMOSPHERE_KPA, START_T, fleet, shift, since

UNIT, TRUCK, OLD_TRUCK = 5, 105.0, 205.0
BEGAN_T = START_T + 0.6
SPAN = {"visits": 12, "years": 2.0}
before_it_began = st.floats(START_T + 0.05, BEGAN_T - 0.05)


def verdict(frames):
    (found,) = [one for one in screen(frames).findings if one.unit == UNIT]
    return found


def assert_unmoved(after, before) -> None:
    assert after.cause == before.cause
    assert after.probability == pytest.approx(before.probability, abs=0.02)
    assert after.since_t == pytest.approx(before.since_t, abs=0.02)
    assert after.forecast_t == pytest.approx(before.forecast_t, abs=0.02)
    assert [row["feature"] for row in after.evidence] == [row["feature"] for row in before.evidence]
    assert [row["n"] for row in after.evidence] == [row["n"] for row in before.evidence]


def with_reading(frames, **values):
    """The fleet with one more reading of the unit, at a visit that nobody wrote much about."""
    like = frames.readings[frames.readings["unit"] == UNIT].iloc[1]
    untaken = ["suction_kpa", "discharge_kpa", "rest_v", "load_v", "load_a", "battery_c"]
    nothing = dict.fromkeys(untaken, np.nan)
    one = pd.DataFrame([{**like, "kind": "visit", **nothing, **values}])
    frames.readings = pd.concat([frames.readings, one], ignore_index=True)
    return frames


class TestABank:
    bank_reading = st.fixed_dictionaries(
        {
            "t": before_it_began,
            "rest_v": st.floats(11.0, 13.2),
            "sag_v": st.floats(0.05, 1.5),
        }
    )

    def wearing(self):
        frames = fleet(**SPAN)
        rows = (frames.readings["unit"] == UNIT) & (frames.readings["t"] >= BEGAN_T)
        years = since(frames, UNIT, BEGAN_T)
        frames.readings.loc[rows, "rest_v"] -= 0.08 * years
        frames.readings.loc[rows, "load_v"] -= 0.08 * years + 36 * 0.0012 * years
        return frames

    def renewed(self):
        frames = self.wearing()
        frames.renewals = pd.DataFrame([{"tractor": TRUCK, "t": BEGAN_T, "renewed_count": 4.0}])
        return frames

    def moved(self):
        """The unit came from another truck, whose bank was another."""
        frames = self.wearing()
        first = frames.installs["unit"] == UNIT
        frames.installs.loc[first, ["tractor", "removed_t"]] = OLD_TRUCK, BEGAN_T
        second = {"unit": UNIT, "tractor": TRUCK, "customer": 1, "installed_t": BEGAN_T}
        frames.installs = pd.concat([frames.installs, pd.DataFrame([second])], ignore_index=True)
        old_bank = frames.banks[frames.banks["tractor"] == TRUCK].assign(tractor=OLD_TRUCK)
        frames.banks = pd.concat([frames.banks, old_bank], ignore_index=True)
        early = (frames.readings["unit"] == UNIT) & (frames.readings["t"] < BEGAN_T)
        frames.readings.loc[early, "tractor"] = OLD_TRUCK
        return frames

    @few
    @given(bank_reading)
    def test_a_reading_of_the_old_bank_does_not_move_the_verdict_on_the_new(self, taken):
        old = self.old_bank_read(taken)
        assert_unmoved(verdict(with_reading(self.renewed(), **old)), verdict(self.renewed()))

    @few
    @given(bank_reading)
    def test_a_reading_in_another_truck_does_not_move_the_verdict_on_its_bank(self, taken):
        old = self.old_bank_read(taken) | {"tractor": OLD_TRUCK}
        assert_unmoved(verdict(with_reading(self.moved(), **old)), verdict(self.moved()))

    def old_bank_read(self, taken: dict) -> dict:
        load_v = taken["rest_v"] - taken["sag_v"]
        return {"t": taken["t"], "rest_v": taken["rest_v"], "load_v": load_v, "load_a": 36.0}

    @few
    @given(st.integers(1, 25), st.floats(11.0, 12.6))
    def test_nights_on_the_old_bank_do_not_move_those_on_the_new(self, nights, old_v):
        """The bank is renewed within a month, of which both banks carried some nights."""
        frames = self.renewed()
        new = nights_from(BEGAN_T, count=40, end_v=11.9)
        old = nights_from(BEGAN_T - (nights + 1) / 365.25, count=nights, end_v=old_v)
        frames.overnights = new
        alone = nights_seen(frames)
        frames.overnights = pd.concat([old, new], ignore_index=True)
        pd.testing.assert_frame_equal(nights_seen(frames), alone)


def nights_from(t: float, count: int, end_v: float) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "unit": UNIT,
            "tractor": TRUCK,
            "t": t + (np.arange(count) + 0.5) / 365.25,
            "run_h": 8.0,
            "drawn_ah": 176.0,
            "start_v": 12.7,
            "end_v": end_v,
            "ended_by": "switch",
            "ambient_c": 25.0,
        }
    )


def nights_seen(frames) -> pd.DataFrame:
    seen = bank_observations(frames)
    nights = seen[(seen["unit"] == UNIT) & (seen["feature"] == "night_end_v")]
    return nights[["t", "y", "coarseness"]].reset_index(drop=True)


class TestACharge:
    thermal_reading = st.fixed_dictionaries(
        {
            "t": before_it_began,
            "lift_k": st.floats(4, 35),
            "depression_k": st.floats(4, 40),
        }
    )

    def leaking_again(self):
        """A unit that was filled anew by weight, and has leaked since."""
        frames = fleet(**SPAN)
        filled = {"unit": UNIT, "t": BEGAN_T, "movement": "charged", "mass_g": 520.0}
        frames.movements = pd.concat([frames.movements, pd.DataFrame([filled])], ignore_index=True)
        years = since(frames, UNIT, BEGAN_T)
        shift(frames, UNIT, lift_k=-1.6 * years, depression_k=2.2 * years, from_t=BEGAN_T)
        return frames

    @few
    @given(thermal_reading)
    def test_a_reading_before_the_last_weighed_charge_does_not_move_the_verdict(self, taken):
        ambient_c, back_c = 30.0, 25.0
        discharge = bubble_kpa(ambient_c + taken["lift_k"], "R-134a") - ATMOSPHERE_KPA
        suction = dew_kpa(back_c - taken["depression_k"], "R-134a") - ATMOSPHERE_KPA
        frames = with_reading(
            self.leaking_again(),
            t=taken["t"],
            ambient_c=ambient_c,
            return_air_c=back_c,
            suction_kpa=float(suction),
            discharge_kpa=float(discharge),
        )
        assert_unmoved(verdict(frames), verdict(self.leaking_again()))
