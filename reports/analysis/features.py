"""From raw readings to features: what moves with a fault and not with the weather.

- condensing lift = Tsat(discharge) − ambient, with the bubble point (liquid side), K
- evaporating depression = return air − Tsat(suction), with the dew point (vapour side), K
- superheat = suction line − dew point at suction; subcooling = bubble point − liquid line, K
- resistance of bank and joints = (rest voltage − voltage under load) / load, mΩ
- rest voltage at 25 °C of one 12 V block, V

Readings with the unit standing (no output level) say nothing of charge: with any liquid left
their pressure is the air's temperature only. They give electrical features, no thermal ones.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from installs.engineering import battery, saturation

__all__ = [
    "FEATURES",
    "PRESSURE",
    "REFERENCE_C",
    "VISIT_BANK",
    "believable",
    "gauge_sensitivity",
    "reading_features",
    "usual_where_missing",
]

# Every feature that evidence may name, and the kind of quantity it is (see fleetcool.quantities).
FEATURES = {
    "condensing_lift_k": "difference",
    "evaporating_depression_k": "difference",
    "superheat_k": "difference",
    "subcooling_k": "difference",
    "rest_v": "volts",
    "resistance_mohm": "mohm",
    "bank_capacity_ah": "ah",
    "charge_missing_percent": "ratio",
    "added_percent_per_year": "ratio",
    "gauge_bias_kpa": "pressure",
}
PRESSURE = ("condensing_lift_k", "evaporating_depression_k", "superheat_k", "subcooling_k")
VISIT_BANK = ("rest_v", "resistance_mohm")

# What a running system can show at all; outside it a number was misread or mistyped. Wide on
# purpose, from memory: a doubtful value is weighed by the statistics, an impossible one dropped.
POSSIBLE = {
    "condensing_lift_k": (-8.0, 45.0),
    "evaporating_depression_k": (-4.0, 55.0),
    "superheat_k": (-8.0, 45.0),
    "subcooling_k": (-8.0, 35.0),
    "rest_v": (10.5, 14.4),
    "resistance_mohm": (0.2, 120.0),
}
# A raw number outside these was mistyped, most often by a decimal point: taken as not taken.
BELIEVABLE = {
    "ambient_c": (-45.0, 58.0),
    "return_air_c": (-30.0, 60.0),
    "suction_line_c": (-40.0, 60.0),
    "liquid_line_c": (-40.0, 80.0),
    "battery_c": (-45.0, 80.0),
    "rest_h": (0.0, 2000.0),
    "load_a": (0.0, 400.0),
}
REFERENCE_C = 25.0
# K/kPa of a small circuit at 25 °C, for a value so odd that saturation has none.
USUAL_BY_DISCHARGE, USUAL_BY_SUCTION = 0.035, 0.1
# Below this load the difference of two voltages is mostly the meter's own error.
LEAST_LOAD_A = 8.0


def believable(readings: pd.DataFrame) -> pd.DataFrame:
    """Return the readings with numbers that cannot be meant taken out, cell by cell."""
    kept = {
        name: readings[name].where(readings[name].between(low, high))
        for name, (low, high) in BELIEVABLE.items()
    }
    return readings.assign(**kept)


def reading_features(readings: pd.DataFrame) -> pd.DataFrame:
    """Return the features of readings, one row a reading, NaN where not taken or impossible.

    `readings` has the columns of the record (kPa gauge, °C, V, A), `refrigerant`, `system_v` and
    `air_kpa`. The index is kept.
    """
    readings = believable(readings)
    suction, discharge = _uncrossed(readings)
    ambient, back = readings["ambient_c"], readings["return_air_c"]
    condensing, evaporating = _saturation(readings["refrigerant"], suction, discharge)
    running = (readings["output"] != "").to_numpy()
    out = pd.DataFrame(index=readings.index)
    out["condensing_lift_k"] = np.where(running, condensing - ambient, np.nan)
    out["evaporating_depression_k"] = np.where(running, back - evaporating, np.nan)
    out["superheat_k"] = np.where(running, readings["suction_line_c"] - evaporating, np.nan)
    out["subcooling_k"] = np.where(running, condensing - readings["liquid_line_c"], np.nan)
    blocks = readings["system_v"] / 12
    at_25c = battery.rest_v_at_25c(
        readings["rest_v"], readings["system_v"], readings["battery_c"].fillna(25.0)
    )
    out["rest_v"] = at_25c / blocks
    load_a = readings["load_a"].where(readings["load_a"] >= LEAST_LOAD_A)
    out["resistance_mohm"] = battery.internal_mohm(readings["rest_v"], readings["load_v"], load_a)
    for name, (low, high) in POSSIBLE.items():
        out[name] = out[name].where(out[name].between(low, high))
    return out


def usual_where_missing(celsius: pd.Series) -> pd.Series:
    """Air that was not taken is as likely warmer as colder than on other days."""
    return celsius.fillna(celsius.median()).fillna(REFERENCE_C)


def gauge_sensitivity(readings: pd.DataFrame) -> pd.DataFrame:
    """Return how far an error of 1 kPa of the gauge moves each feature of pressure, K/kPa.

    Arguments and rows as `reading_features`. It is that of the same lift and depression on a day
    of 25 °C, so that the weather alone changes no verdict.
    """
    readings = believable(readings)
    refrigerant = readings["refrigerant"]
    condensing, evaporating = _saturation(refrigerant, *_uncrossed(readings))
    condensing -= (usual_where_missing(readings["ambient_c"]) - REFERENCE_C).to_numpy(float)
    evaporating -= (usual_where_missing(readings["return_air_c"]) - REFERENCE_C).to_numpy(float)
    by_discharge, by_suction = np.full((2, len(readings)), np.nan)
    for name in refrigerant.unique():
        rows = (refrigerant == name).to_numpy()
        discharge_kpa = saturation.bubble_kpa(condensing[rows], name)
        suction_kpa = saturation.dew_kpa(evaporating[rows], name)
        by_discharge[rows] = np.diff(saturation.bubble_c(discharge_kpa + [[0], [1]], name), axis=0)[
            0
        ]
        by_suction[rows] = np.diff(saturation.dew_c(suction_kpa + [[0], [1]], name), axis=0)[0]
    by_discharge = np.where(np.isfinite(by_discharge), by_discharge, USUAL_BY_DISCHARGE)
    by_suction = np.where(np.isfinite(by_suction), by_suction, USUAL_BY_SUCTION)
    return pd.DataFrame(
        {
            "condensing_lift_k": by_discharge,
            "evaporating_depression_k": -by_suction,
            "superheat_k": -by_suction,
            "subcooling_k": by_discharge,
        },
        index=readings.index,
    )


def _uncrossed(readings: pd.DataFrame) -> tuple[NDArray, NDArray]:
    """Absolute suction and discharge pressures, with hoses that were clearly swapped put right."""
    suction = (readings["suction_kpa"] + readings["air_kpa"]).to_numpy(float)
    discharge = (readings["discharge_kpa"] + readings["air_kpa"]).to_numpy(float)
    swapped = (readings["output"] != "").to_numpy() & (suction > 1.15 * discharge)
    return np.where(swapped, discharge, suction), np.where(swapped, suction, discharge)


def _saturation(refrigerant: pd.Series, suction: NDArray, discharge: NDArray):
    """Condensing (bubble) and evaporating (dew) temperatures, °C, of a column of refrigerants."""
    condensing = np.full(len(refrigerant), np.nan)
    evaporating = np.full(len(refrigerant), np.nan)
    for name in refrigerant.unique():
        rows = (refrigerant == name).to_numpy()
        condensing[rows] = saturation.bubble_c(discharge[rows], name)
        evaporating[rows] = saturation.dew_c(suction[rows], name)
    return condensing, evaporating
