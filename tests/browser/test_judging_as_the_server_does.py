"""The phone judges a value as the server does: a grid of values goes through both."""

import random
from pathlib import Path

import pytest
from playwright.sync_api import Page

import service
from service.engineering.judging import JUDGED, advice, judge
from service.engineering.visit_physics import physics_of

pytestmark = pytest.mark.browser

SCRIPT = Path(service.__file__).parent / "static" / "service" / "judging.js"
UNITS = {
    "a pure refrigerant at sea level": physics_of(
        "R-134a", 12, air_kpa=101.3, battery_type="agm", rated_a={"low": 22, "mid": 36, "high": 58}
    ),
    "a blend with a glide in the hills, on 24 V": physics_of("R-407C", 24, air_kpa=83.4),
}
# Within and beyond what can be, so that every rule has its turn.
TYPED = {
    "ambient_c": (-60, 70),
    "return_air_c": (5, 45),
    "supply_air_c": (-5, 45),
    "suction_kpa": (-101.4, 900),
    "discharge_kpa": (-101.4, 2600),
    "suction_line_c": (-15, 45),
    "liquid_line_c": (5, 75),
    "rest_v": (9, 31),
    "rest_h": (0, 16),
    "load_v": (9, 31),
    "load_a": (0, 90),
    "battery_c": (-50, 90),
}
AT_THE_TRUCK = {
    "output": "high",
    "ambient_c": 35.0,
    "return_air_c": 28.0,
    "supply_air_c": 14.0,
    "suction_kpa": 300.0,
    "discharge_kpa": 1150.0,
    "suction_line_c": 14.0,
    "liquid_line_c": 38.0,
    "rest_v": 12.7,
    "rest_h": 10.0,
    "load_v": 12.4,
    "load_a": 55.0,
    "battery_c": 25.0,
}


def grid(blocks: int) -> list[dict]:
    """A plausible visit with one or more of its values changed, left out or wild."""
    dice = random.Random(7)
    sound = AT_THE_TRUCK | {
        name: AT_THE_TRUCK[name] * blocks if name in ("rest_v", "load_v") else AT_THE_TRUCK[name]
        for name in JUDGED
    }
    visits = [sound, {"output": "standing"}, dict.fromkeys(JUDGED)]
    for _ in range(3000):
        visit = dict(sound)
        for name in dice.sample(JUDGED, dice.randint(1, 5)):
            visit[name] = dice.choice([None, round(dice.uniform(*TYPED[name]), 1)])
        visit["output"] = dice.choice(["low", "mid", "high", "high", "standing"])
        visits.append(visit)
    return visits


@pytest.mark.parametrize("unit", UNITS)
def test_the_phone_and_the_server_give_the_same_word_to_every_value(page: Page, unit):
    physics = UNITS[unit]
    visits = grid(physics.blocks)
    page.add_script_tag(path=SCRIPT)
    on_the_phone = page.evaluate(
        """([visits, physics]) => visits.map((values) => {
            const judged = visitJudging.judge(values, physics);
            const told = Object.entries(judged).map(([name, one]) => [name, one.verdict, one.code]);
            return [told, visitJudging.advise(judged)];
        })""",
        [visits, physics.as_dict()],
    )
    on_the_server = []
    for values in visits:
        judged = judge(values, physics)
        on_the_server.append([[[name, *one] for name, one in judged.items()], advice(judged)])
    assert on_the_phone == on_the_server


def test_the_grid_meets_every_rule():
    met, told = set(), set()
    for physics in UNITS.values():
        for values in grid(physics.blocks):
            judged = judge(values, physics)
            met |= {one.code for one in judged.values()}
            told |= set(advice(judged))
    assert {"misread", "standing", "hoses_swapped", "pressures_equal", "too_cold"} <= met
    assert {"not_rested", "load_above_rest", "resistance_cannot_be", "resistance_high"} <= met
    assert {"lift_cannot_be", "depression_cannot_be", "draw_low", "subcooling_high"} <= met
    assert {"low_refrigerant", "condenser_air", "restriction", "both_high", "overcharge"} <= told
