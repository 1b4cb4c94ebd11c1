"""All features of a fleet as one long table: one row an observed value, with where it belongs.

A *block* is a stretch in which a unit's own level stays what it is: a unit in one tractor for the
thermal features; one bank, from renewal to renewal, for the electrical ones. A move or a renewal
begins a new block. A *cell* is one feature in one block.
"""

import numpy as np
import pandas as pd

from reports.analysis.features import PRESSURE, VISIT_BANK, reading_features
from reports.analysis.nights import night_features

__all__ = ["bank_observations", "pressure_observations"]

COVARIATES = ["ambient", "return_air", "low", "mid"]
REFERENCE_C = 25.0
# A rest voltage taken sooner still holds surface charge; how soon is too soon is disputed.
LEAST_REST_H = 4.0
# Common ageing of a healthy bank a year, from memory: it is nobody's fault and no finding.
HEALTHY_AGEING = {"rest_v": -0.02, "resistance_mohm": 0.06, "bank_capacity_ah": -0.04}


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
    covariates = pd.DataFrame(
        {
            "ambient": readings["ambient_c"] - REFERENCE_C,
            "return_air": readings["return_air_c"] - REFERENCE_C,
            "low": (readings["output"] == "low").astype(float),
            "mid": (readings["output"] == "mid").astype(float),
        }
    ).fillna(0.0)
    base = pd.concat(
        [
            readings[["unit", "tractor", "t", "gauge"]],
            readings["model"].rename("group"),
            covariates,
        ],
        axis=1,
    )
    return _long(base, values[list(PRESSURE)])


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
    visits = _long(readings[["unit", "tractor", "t", "battery_type"]], values)
    nights = night_features(frames.overnights.merge(_present_bank(frames), on=["unit", "tractor"]))
    out = pd.concat([visits, nights], ignore_index=True)
    bank = _present_bank(frames)[["unit", "tractor", "bank_t", "battery_type"]]
    out = out.drop(columns="battery_type").merge(bank, on=["unit", "tractor"])
    out = out[out["t"] >= out["bank_t"].fillna(-np.inf)].copy()
    out["group"] = out["battery_type"]
    for name in COVARIATES:
        out[name] = 0.0
    out["gauge"] = ""
    age = (out["t"] - out["bank_t"]).fillna(0.0)
    out["y"] -= out["feature"].map(HEALTHY_AGEING).fillna(0.0) * age
    return _sorted(out)


def last_filling(frames) -> pd.DataFrame:
    """Return, per unit, the last weighed charge: its time `t` and `mass_g`; the index is `unit`."""
    charged = frames.movements[frames.movements["movement"] == "charged"]
    return charged.sort_values("t").groupby("unit")[["t", "mass_g"]].last()


def _in_trucks(frames) -> pd.DataFrame:
    """Readings of units in trucks, with what the model and the bank say beside each."""
    columns = ["unit", "model", "refrigerant", "system_v"]
    readings = frames.readings.dropna(subset=["tractor"])
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


def _long(base: pd.DataFrame, values: pd.DataFrame) -> pd.DataFrame:
    """Stack the columns of `values` into rows (`feature`, `y`) beside a copy of `base` each."""
    parts = [
        base[taken].assign(feature=name, y=values[name][taken])
        for name in values
        for taken in [values[name].notna()]
    ]
    return _sorted(pd.concat(parts, ignore_index=True))


def _sorted(observations: pd.DataFrame) -> pd.DataFrame:
    keys = ["unit", "tractor", "feature"]
    out = observations.sort_values([*keys, "t"], kind="stable", ignore_index=True)
    out["cell"] = out.groupby(keys, sort=True).ngroup()
    return out
