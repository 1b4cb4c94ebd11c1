"""What must hold for the screen of any fleet: weather, order, names and other epochs move nothing."""

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fixtures.scoring.frames import frames_of
from fixtures.simulator.fleet import simulate
from installs.engineering import saturation
from reports.analysis.verdicts import screen
from tests.reports.analysis.examples import few

seeds = st.integers(1, 40)
randoms = st.integers(0, 2**32 - 1)


@cache
def simulated(seed: int):
    """Fifty units of four models over two years, some with pipe temperatures, some with nights."""
    return frames_of(simulate(units=50, years=2, seed=seed, pipe_temperatures=0.5, overnights=0.3))


def said(frames) -> dict:
    return {(found.unit, found.gauge, found.cause): found for found in screen(frames).findings}


def assert_same(after: dict, before: dict, tolerance: float = 1e-9) -> None:
    """The same causes are named of the same units and gauges, as surely, since the same time."""
    assert after.keys() == before.keys()
    for key, found in before.items():
        assert after[key].probability == pytest.approx(found.probability, abs=tolerance)
        assert after[key].since_t == pytest.approx(found.since_t, abs=tolerance)
        if found.forecast_event:
            assert after[key].forecast_t == pytest.approx(found.forecast_t, abs=10 * tolerance)


def tables(frames) -> dict[str, pd.DataFrame]:
    return {
        field.name: getattr(frames, field.name)
        for field in fields(frames)
        if isinstance(getattr(frames, field.name), pd.DataFrame)
    }


class TestWeather:
    """Air so many K warmer, and with it all that a sound unit's circuit does in warmer air.

    Both saturation temperatures and both pipes move along, so lift, depression, superheat and
    subcooling stay. Battery temperatures are taken throughout: where one is missing the air stands
    for it, and the verdict on a bank looks at the air with reason.
    """

    @few
    @given(seeds, st.floats(-6, 6))
    def test_where_all_air_was_taken(self, seed, warmer_k):
        frames = simulated(seed)
        taken = frames.readings.dropna(subset=["ambient_c", "return_air_c"])
        self.assert_moved_by_no_weather(replace(frames, readings=taken), warmer_k)

    @few
    @given(seeds, st.floats(-6, 6))
    def test_where_some_air_was_not_taken(self, seed, warmer_k):
        self.assert_moved_by_no_weather(simulated(seed), warmer_k)

    def assert_moved_by_no_weather(self, frames, warmer_k: float) -> None:
        frames = with_batteries_felt(frames)
        assert_same(said(warmer(frames, warmer_k)), said(frames), tolerance=1e-4)


def with_batteries_felt(frames):
    return replace(frames, readings=frames.readings.fillna({"battery_c": 20.0}))


def warmer(frames, warmer_k: float):
    """The same fleet read in warmer air. A slip that no saturation table holds stays as it is."""
    readings = frames.readings.copy()
    readings[["ambient_c", "return_air_c", "suction_line_c", "liquid_line_c"]] += warmer_k
    refrigerant = frames.units.set_index("unit")["refrigerant"].reindex(readings["unit"]).to_numpy()
    crossed = (readings["suction_kpa"] > readings["discharge_kpa"]).to_numpy()
    for side, vapour in (("suction_kpa", ~crossed), ("discharge_kpa", crossed)):
        kpa = (readings[side] + readings["air_kpa"]).to_numpy()
        moved = kpa.copy()
        for name in np.unique(refrigerant):
            for rows, to_c, to_kpa in (
                (vapour & (refrigerant == name), saturation.dew_c, saturation.dew_kpa),
                (~vapour & (refrigerant == name), saturation.bubble_c, saturation.bubble_kpa),
            ):
                moved[rows] = to_kpa(to_c(kpa[rows], name) + warmer_k, name)
        readings[side] = np.where(np.isnan(moved), kpa, moved) - readings["air_kpa"]
    return replace(frames, readings=readings)


class TestOrderAndNames:
    @few
    @given(seeds, randoms)
    def test_the_order_of_the_rows_of_every_table_changes_nothing(self, seed, order):
        frames = simulated(seed)
        mixed = {
            name: rows.sample(frac=1, random_state=order) for name, rows in tables(frames).items()
        }
        assert_same(said(replace(frames, **mixed)), said(frames))

    @few
    @given(seeds, st.randoms(use_true_random=False))
    def test_other_numbers_for_units_trucks_and_people_change_nothing_else(self, seed, random):
        frames = simulated(seed)
        unit = renumbered(frames.units["unit"], random)
        tractor = renumbered(frames.banks["tractor"], random)
        person = renumbered(frames.readings["taken_by"].dropna(), random)
        new = {"unit": unit, "tractor": tractor, "taken_by": person}
        others = {
            name: rows.assign(**{key: rows[key].map(new[key]) for key in new if key in rows})
            for name, rows in tables(frames).items()
        }
        expected = {
            (number if number is None else unit[number], gauge, cause): found
            for (number, gauge, cause), found in said(frames).items()
        }
        assert_same(said(replace(frames, **others)), expected)

    @few
    @given(seeds, st.randoms(use_true_random=False))
    def test_other_names_for_gauges_change_nothing_else(self, seed, random):
        frames = simulated(seed)
        names = [name for name in frames.readings["gauge"].unique() if name]
        new = dict(zip(names, random.sample(names, len(names)), strict=True)) | {"": ""}
        expected = {
            (unit, new[gauge], cause): found for (unit, gauge, cause), found in said(frames).items()
        }
        assert_same(said(gauges_renamed(frames, new)), expected)

    def test_a_gauge_that_was_not_noted_is_guessed_the_same_whatever_the_gauges_are_called(self):
        """A technician's two gauges, of which each was noted as often; one of them reads low."""
        frames = simulated(5)
        person = frames.readings["taken_by"].mode().iloc[0]
        mine = frames.readings[frames.readings["taken_by"] == person].sort_values(["t", "unit"])
        third = len(mine) // 3
        readings = frames.readings.copy()
        for gauge, rows in (("A", mine[:third]), ("B", mine[third : 2 * third])):
            readings.loc[rows.index, "gauge"] = gauge
        readings.loc[mine.index[2 * third :], "gauge"] = ""
        readings.loc[mine.index[third:], ["suction_kpa", "discharge_kpa"]] -= 15.0
        frames = replace(frames, readings=readings)
        swapped = {name: name for name in readings["gauge"].unique()} | {"A": "B", "B": "A"}
        expected = {
            (unit, swapped.get(gauge, gauge), cause): found
            for (unit, gauge, cause), found in said(frames).items()
        }
        assert_same(said(gauges_renamed(frames, swapped)), expected)

    @few
    @given(seeds)
    def test_screened_twice_it_says_the_same(self, seed):
        frames = simulated(seed)
        before = {name: rows.copy() for name, rows in tables(frames).items()}
        assert screen(frames) == screen(frames)
        for name, rows in tables(frames).items():
            pd.testing.assert_frame_equal(rows, before[name])


def renumbered(old: pd.Series, random) -> dict:
    """A new number, another order and other gaps, for each of the old ones."""
    old = sorted(old.unique())
    new = random.sample(range(1_000, 9_000), len(old))
    return dict(zip(old, (type(o)(n) for o, n in zip(old, new, strict=True)), strict=True))


def gauges_renamed(frames, new: dict[str, str]):
    renamed = frames.readings["gauge"].map(new)
    return replace(frames, readings=frames.readings.assign(gauge=renamed))
