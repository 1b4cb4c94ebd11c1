"""Fleets in which nothing is wrong, looked at eight times in two years: hardly a unit is named."""

from dataclasses import replace

import numpy as np
import pytest

from fixtures.scoring.frames import frames_of
from fixtures.simulator.fleet import simulate
from fixtures.simulator.world import World
from reports.analysis.verdicts import screen

YEARS, LOOKS = 2, 8
SEEDS = (41, 47, 51)
# Of a sound fleet a shop may be sent after no more than so many units in a hundred unit-years.
MOST = 1.0


def sound(seed: int):
    """A fleet with all the nuisance of life, slips and top-ups by feel, and no trouble in it."""
    drawn = World.draw(np.random.default_rng(seed))
    shares = ("leak", "battery_wear", "wiring", "condenser", "restriction", "overcharge")
    none = {f"{trouble}_share": 0.0 for trouble in (*shares, "biased_gauge")}
    fleet = simulate(
        units=150,
        years=YEARS,
        seed=seed,
        pipe_temperatures=0.5,
        overnights=0.3,
        world=replace(drawn, **none),
    )
    assert set(fleet.truth["cause"]) == {"none"}
    return frames_of(fleet)


def relabelled(frames, seed: int):
    """Each reading given to another unit of its model: no unit is left that could have drifted."""
    rng = np.random.default_rng(seed)
    readings = frames.readings.dropna(subset=["tractor"]).reset_index(drop=True)
    model = frames.units.set_index("unit")["model"].reindex(readings["unit"]).to_numpy()
    place = np.arange(len(readings))
    for rows in readings.groupby([model, readings["kind"].to_numpy()]).groups.values():
        place[rows] = rng.permutation(rows)
    whose = ["unit", "tractor", "serial", "t", "entered_t"]
    read = readings.columns.difference(whose)
    mixed = readings.assign(**{name: readings[name].to_numpy()[place] for name in read})
    return replace(frames, readings=mixed)


def named_in_a_hundred_unit_years(fleets) -> float:
    named, unit_years = 0, 0.0
    for frames in fleets:
        looks = frames.as_of_t - YEARS * np.arange(LOOKS) / LOOKS
        found = {
            (one.unit, one.gauge, one.cause)
            for t in looks
            for one in screen(frames.known(t)).findings
        }
        named += len(found)
        unit_years += (frames.as_of_t - frames.installs.groupby("unit")["installed_t"].min()).sum()
    return 100 * named / unit_years


@pytest.fixture(scope="module")
def fleets():
    return [sound(seed) for seed in SEEDS]


def test_of_a_sound_fleet_hardly_a_unit_is_named(fleets):
    assert named_in_a_hundred_unit_years(fleets) <= MOST


def test_where_readings_are_dealt_out_anew_hardly_a_unit_is_named(fleets):
    dealt = [relabelled(frames, seed) for frames, seed in zip(fleets, SEEDS, strict=True)]
    assert named_in_a_hundred_unit_years(dealt) <= MOST
