"""All features of a fleet as one long table: one row an observed value, with where it belongs.

A *block* is a stretch in which a unit's own level stays what it is: a unit in one tractor for the
thermal features; one bank, from renewal to renewal, for the electrical ones. A move or a renewal
begins a new block. A *cell* is one feature in one block.
"""

import numpy as np
import pandas as pd

from reports.analysis.baseline import COVARIATES
from reports.analysis.features import (
    PRESSURE,
    REFERENCE_C,
    VISIT_BANK,
    believable,
    gauge_sensitivity,
    reading_features,
    usual_where_missing,
)
from reports.analysis.gauges import named_gauges
from reports.analysis.nights import night_features

__all__ = ["bank_observations", "pressure_observations"]

# A rest voltage taken sooner still holds surface charge; how soon is too soon is disputed.
LEAST_REST_H = 4.0
SURFACE_H = 3.0
REFERENCE_LOAD_A = 36.0
# How well a gauge is read, its scale's step and all; the rest of a reading is good to 1 K or so.
GAUGE_KPA = 10.0


def pressure_observations(frames) -> pd.DataFrame:
    """Return the thermal features that judge the present charge, sorted by cell and time.

    Readings before the last weighed charge speak of another filling and are left out, but for
    those at commissioning: they show the unit's own level.
    """
    readings = _in_trucks(frames)
    values = reading_features(readings)
    filled_t = readings["unit"].map(last_filling(frames)["t"]).fillna(-np.inf)
    keep = (readings["t"] >= filled_t - 1 / 365.25) | (readings["kind"] == "commissioning")
    readings, values = readings[keep], values[keep]
    sensitivity = gauge_sensitivity(readings)
    covariates = pd.DataFrame(
        {
            "ambient": usual_where_missing(readings["ambient_c"]) - REFERENCE_C,
            "return_air": usual_where_missing(readings["return_air_c"]) - REFERENCE_C,
            "low": (readings["output"] == "low").astype(float),
            "mid": (readings["output"] == "mid").astype(float),
            "surface": 0.0,
            "age": 0.0,
        }
    )
    gauge = named_gauges(readings).rename("gauge")
    base = pd.concat(
        [readings[["unit", "tractor", "t"]], gauge, readings["model"].rename("group"), covariates],
        axis=1,
    ).assign(reading=readings.index)
    long = _long(base, values[list(PRESSURE)], sensitivity)
    return long.assign(coarseness=np.hypot(1.0, GAUGE_KPA * long["k_per_kpa"]))


def bank_observations(frames) -> pd.DataFrame:
    """Return the electrical features of each unit's present bank, sorted by cell and time.

    Resistance and capacity are logarithms: wear multiplies them. `bank_t` is when the bank was
    new, as far as is known.
    """
    readings = _in_trucks(frames)
    values = reading_features(readings)[list(VISIT_BANK)]
    values["rest_v"] = values["rest_v"].where(
        (readings["rest_h"].fillna(LEAST_REST_H) >= LEAST_REST_H)
        & (readings["battery_type"] != "lifepo4")
    )
    values["resistance_mohm"] = np.log(values["resistance_mohm"])
    base = readings[["unit", "tractor", "t", "load_a", "system_v"]].assign(
        ambient=readings["battery_c"].fillna(readings["ambient_c"]),
        surface=np.exp(-readings["rest_h"].fillna(LEAST_REST_H) / SURFACE_H),
    )
    visits = _long(base, values)
    # A voltage drop is read as well at any load, so its ratio to a small load is read worse.
    small = (REFERENCE_LOAD_A * 12 / visits["system_v"] / visits["load_a"]).clip(0.5, 4.0)
    visits["coarseness"] = small.where(visits["feature"] == "resistance_mohm", 1.0)
    bank = _present_bank(frames)
    nights = night_features(frames.overnights.merge(bank, on=["unit", "tractor"]))
    nights = nights.assign(surface=0.0)
    columns = ["unit", "tractor", "t", "feature", "y", "ambient", "surface", "coarseness"]
    parts = [part[columns] for part in (visits, nights) if len(part)] or [visits[columns]]
    out = pd.concat(parts, ignore_index=True)
    out = out.merge(bank[["unit", "tractor", "bank_t", "battery_type", "system_v"]])
    out = out[out["t"] >= out["bank_t"].fillna(-np.inf)].copy()
    out["group"] = out["battery_type"] + out["system_v"].astype(str)
    out["ambient"] = usual_where_missing(out["ambient"]) - REFERENCE_C
    for name in set(COVARIATES) - {"ambient", "surface"}:
        out[name] = 0.0
    out["gauge"], out["k_per_kpa"] = "", 0.0
    out["age"] = (out["t"] - out["bank_t"]).fillna(0.0)
    return _sorted(out)


def last_filling(frames) -> pd.DataFrame:
    """Return, per unit, the last weighed charge: its time `t` and `mass_g`; the index is `unit`."""
    charged = frames.movements[frames.movements["movement"] == "charged"]
    return charged.sort_values("t").groupby("unit")[["t", "mass_g"]].last()


def _in_trucks(frames) -> pd.DataFrame:
    """Readings of units in trucks, with what the model and the bank say beside each."""
    columns = ["unit", "model", "refrigerant", "system_v"]
    readings = believable(frames.readings.dropna(subset=["tractor"]))
    readings = readings.merge(frames.units[columns], on="unit")
    readings = readings.merge(frames.banks[["tractor", "battery_type"]], on="tractor", how="left")
    return readings.fillna({"battery_type": "agm"})


def _present_bank(frames) -> pd.DataFrame:
    """Per unit: the tractor it stands in now, its bank, and when that bank was new (`bank_t`)."""
    newest = frames.installs.sort_values("installed_t").groupby("unit").last().reset_index()
    renewed = frames.renewals.groupby("tractor")["t"].max().rename("renewed_t")
    bank = newest[["unit", "tractor", "installed_t"]].merge(
        frames.banks.rename(columns={"installed_t": "first_t"}), on="tractor", how="left"
    )
    bank = bank.merge(renewed, on="tractor", how="left").merge(
        frames.units[["unit", "system_v", "draw_low_a", "cutoff_v"]], on="unit"
    )
    bank["bank_t"] = bank[["first_t", "renewed_t"]].max(axis=1)
    bank["battery_type"] = bank["battery_type"].fillna("agm")
    return bank


def _long(
    base: pd.DataFrame, values: pd.DataFrame, sensitivity: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Stack the columns of `values` into rows (`feature`, `y`) beside a copy of `base` each.

    `k_per_kpa` is each value's sensitivity to its gauge, 0 where it has none.
    """
    parts = [
        base[taken].assign(
            feature=name,
            y=values[name][taken],
            k_per_kpa=0.0 if sensitivity is None else sensitivity[name][taken],
        )
        for name in values
        for taken in [values[name].notna()]
    ]
    return _sorted(pd.concat(parts, ignore_index=True))


def _sorted(observations: pd.DataFrame) -> pd.DataFrame:
    keys = ["unit", "tractor", "feature"]
    out = observations.sort_values([*keys, "t"], kind="stable", ignore_index=True)
    out["cell"] = out.groupby(keys, sort=True).ngroup()
    return out
