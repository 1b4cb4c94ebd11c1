"""Small fleets for the tests of the screen, as frames, with no database.

A fleet is sound until a test spoils it: every unit reads its own level of lift and depression at
each visit, with noise, and its bank rests and sags as a sound bank does.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from installs.engineering.saturation import bubble_kpa, dew_kpa
from reports.knowledge import nothing_settled

ATMOSPHERE_KPA = 101.325
START_T = 24.2


def fleet(units=30, visits=8, years=1.6, seed=1, refrigerant="R-134a") -> SimpleNamespace:
    """Return the frames of a sound fleet (see reports.frames.FleetFrames)."""
    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(units), visits)
    t = START_T + np.tile(np.linspace(0, years, visits), units) + rng.uniform(0, 0.05, len(unit))
    n = len(unit)
    ambient, back = rng.uniform(15, 38, n), rng.uniform(21, 28, n)
    lift = 18 + rng.normal(0, 0.8, units)[unit] + rng.normal(0, 0.8, n)
    depression = 17 + rng.normal(0, 0.8, units)[unit] + rng.normal(0, 0.8, n)
    rest_v = 12.72 + rng.normal(0, 0.02, n)
    readings = pd.DataFrame(
        {
            "unit": unit,
            "tractor": unit + 100.0,
            "t": t,
            "kind": np.where(np.tile(np.arange(visits), units) == 0, "commissioning", "visit"),
            "output": "high",
            "ambient_c": ambient,
            "return_air_c": back,
            "suction_kpa": dew_kpa(back - depression, refrigerant) - ATMOSPHERE_KPA,
            "discharge_kpa": bubble_kpa(ambient + lift, refrigerant) - ATMOSPHERE_KPA,
            "suction_line_c": np.nan,
            "liquid_line_c": np.nan,
            "air_kpa": ATMOSPHERE_KPA,
            "rest_v": rest_v,
            "rest_h": 9.0,
            "battery_c": 22.0,
            "load_v": rest_v - 36 * 0.0045 + rng.normal(0, 0.01, n),
            "load_a": 36.0,
            "gauge": np.where(unit % 2, "G1", "G2"),
            "taken_by": np.where(unit % 2, 1.0, 2.0),
        }
    )
    index = np.arange(units)
    return SimpleNamespace(
        as_of_t=START_T + years + 0.1,
        units=pd.DataFrame(
            {
                "unit": index,
                "serial": [f"S-{i:03d}" for i in index],
                "model": 1,
                "refrigerant": refrigerant,
                "charge_g": 520.0,
                "system_v": 12,
                "draw_low_a": 22.0,
                "cutoff_v": 11.2,
                "expansion": "",
            }
        ),
        installs=pd.DataFrame(
            {
                "unit": index,
                "tractor": index + 100.0,
                "customer": 1,
                "installed_t": START_T,
                "removed_t": np.nan,
            }
        ),
        readings=readings,
        overnights=_nothing(
            [
                "unit",
                "tractor",
                "t",
                "run_h",
                "drawn_ah",
                "start_v",
                "end_v",
                "ended_by",
                "ambient_c",
            ]
        ),
        movements=pd.DataFrame(
            {"unit": index, "t": START_T, "movement": "charged", "mass_g": 520.0}
        ),
        banks=pd.DataFrame(
            {
                "tractor": index + 100.0,
                "battery_type": "agm",
                "battery_count": 4,
                "battery_ah": 105.0,
                "installed_t": START_T,
            }
        ),
        renewals=_nothing(["tractor", "t", "renewed_count"]),
        settled=nothing_settled(),
    )


def _nothing(columns: list[str]) -> pd.DataFrame:
    return pd.DataFrame({name: pd.Series(dtype=float) for name in columns})


def shift(frames, unit, *, lift_k=0.0, depression_k=0.0, from_t=-np.inf, refrigerant="R-134a"):
    """Move a unit's lift and depression by so many K (a number or one a reading) from a time on."""
    from installs.engineering.saturation import bubble_c, dew_c

    rows = (frames.readings["unit"] == unit) & (frames.readings["t"] >= from_t)
    r = frames.readings.loc[rows]
    condensing = bubble_c(r["discharge_kpa"] + ATMOSPHERE_KPA, refrigerant) + lift_k
    evaporating = dew_c(r["suction_kpa"] + ATMOSPHERE_KPA, refrigerant) - depression_k
    frames.readings.loc[rows, "discharge_kpa"] = (
        bubble_kpa(condensing, refrigerant) - ATMOSPHERE_KPA
    )
    frames.readings.loc[rows, "suction_kpa"] = dew_kpa(evaporating, refrigerant) - ATMOSPHERE_KPA


def since(frames, unit, from_t):
    """Years since a time at each of a unit's readings after it."""
    rows = (frames.readings["unit"] == unit) & (frames.readings["t"] >= from_t)
    return frames.readings.loc[rows, "t"].to_numpy() - from_t
