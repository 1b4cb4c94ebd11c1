"""The numbers behind a finding: each feature before and now, its slope, and how many readings."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from installs.engineering import battery
from reports.analysis import causes
from reports.analysis.trend import trends

__all__ = ["Proof", "evidence", "sound_hours"]

LOGARITHMS = ("resistance_mohm", "bank_capacity_ah")


@dataclass(frozen=True)
class Proof:
    """What evidence is drawn from: units (n,) of one cause and its hypotheses (n, k)."""

    frames: object
    observations: pd.DataFrame
    cause: str
    units: NDArray
    since_t: NDArray
    rate: NDArray
    onset: NDArray
    weight: NDArray
    added: pd.DataFrame


def evidence(proof: Proof) -> list[list[dict]]:
    """Return each unit's evidence: feature, baseline, now, slope_per_year and n, weather taken out."""
    moved = {
        feature
        for cause in (*causes.PRESSURE, *causes.BANK)
        if cause.name == proof.cause
        for feature in cause.effects
    }
    rows = proof.observations
    rows = rows[rows["unit"].isin(proof.units) & rows["feature"].isin(moved)]
    rows = rows.assign(value=_values(proof.frames, rows))
    slopes = trends(rows["cell"].to_numpy(), rows["t"].to_numpy(), rows["value"].to_numpy())
    slope = dict(zip(slopes.group.tolist(), slopes.slope.tolist(), strict=True))
    since = pd.Series(proof.since_t, index=proof.units)
    out: dict[int, list[dict]] = {int(unit): [] for unit in proof.units}
    # A unit that was moved tells of the truck it stands in now.
    newest = rows.groupby(["unit", "feature"])["t"].transform("idxmax").map(rows["cell"])
    for (unit, cell), part in rows[rows["cell"] == newest].groupby(["unit", "cell"]):
        before = part["value"][part["t"] < since[unit]]
        first = before if len(before) else part["value"].iloc[:1]
        change = slope[cell]
        out[int(unit)].append(
            {
                "feature": part["feature"].iloc[0],
                "baseline": float(first.median()),
                "now": float(part["value"].iloc[-3:].median()),
                "slope_per_year": float(change) if np.isfinite(change) else None,
                "n": len(part),
            }
        )
    if proof.cause == "refrigerant_leak":
        _add_charge(proof, out)
    return [out[int(unit)] for unit in proof.units]


def _values(frames, rows: pd.DataFrame) -> pd.Series:
    """Values as they would read at 25 °C air and high output, in the feature's own unit."""
    value = rows["r"] + rows["level"]
    value = value.where(~rows["feature"].isin(LOGARITHMS), np.exp(value))
    capacity = rows["feature"] == "bank_capacity_ah"
    if capacity.any():
        value = value.where(~capacity, value * _rated_ah(frames, rows["tractor"]))
    return value


def _rated_ah(frames, tractors: pd.Series) -> NDArray:
    bank = frames.banks.set_index("tractor")
    volts = frames.installs.merge(frames.units[["unit", "system_v"]], on="unit")
    system_v = volts.groupby("tractor")["system_v"].first()
    rated = battery.bank_ah(
        bank["battery_count"],
        bank["battery_ah"],
        system_v.reindex(bank.index).fillna(12),
        bank["battery_type"],
    )
    return pd.Series(rated, index=bank.index).reindex(tractors).to_numpy(float)


def sound_hours(frames, observations: pd.DataFrame, units: NDArray) -> tuple[NDArray, NDArray]:
    """Return the hours that each unit's bank carried at low output when sound; Peukert's exponent.

    By the bank's rating, or, where a fleet's nights show another level, by that level.
    """
    now = frames.installs.sort_values("installed_t").groupby("unit")["tractor"].last()
    tractor = now.reindex(units)
    rated = _rated_ah(frames, tractor)
    unit = frames.units.set_index("unit").reindex(units)
    kind = frames.banks.set_index("tractor")["battery_type"].reindex(tractor).fillna("agm")
    of_kind = observations[observations["feature"] == "bank_capacity_ah"].groupby("group")["level"]
    levels = np.exp(of_kind.first())
    own_kind = kind + unit["system_v"].to_numpy().astype(str)
    sound = own_kind.map(levels).fillna(levels.median()).fillna(1.0).to_numpy()
    hours = [
        battery.hours_carried(
            rated[i] * sound[i],
            unit["draw_low_a"].iloc[i],
            unit["cutoff_v"].fillna(11.0 * unit["system_v"] / 12).iloc[i],
            kind.iloc[i],
            system_v=unit["system_v"].iloc[i],
        )
        for i in range(len(units))
    ]
    return np.array(hours, dtype=float), kind.map(battery.PEUKERT_EXPONENT).to_numpy(float)


def _add_charge(proof: Proof, out: dict[int, list[dict]]) -> None:
    """What a leak adds to the evidence: the charge now missing, and the mass added a year."""
    now_t = proof.frames.as_of_t
    added = proof.added[proof.added["part"] > 0]
    parts = added.groupby("unit")["part"].sum().reindex(proof.units).fillna(0.0).to_numpy(float)
    lost = proof.rate * np.maximum(now_t - proof.onset, 0.0) - parts[:, None]
    missing = (proof.weight * np.clip(lost, 0.0, 0.95)).sum(axis=1)
    recent = added[added["t"] > now_t - 1].groupby("unit")["part"].agg(["sum", "size"])
    mean_rate = (proof.weight * proof.rate).sum(axis=1)
    for i, unit in enumerate(proof.units.tolist()):
        n = max((row["n"] for row in out[unit]), default=0)
        out[unit].append(
            {
                "feature": "charge_missing_percent",
                "baseline": 0.0,
                "now": float(100 * missing[i]),
                "slope_per_year": float(100 * mean_rate[i]),
                "n": n,
            }
        )
        if unit in recent.index:
            out[unit].append(
                {
                    "feature": "added_percent_per_year",
                    "baseline": 0.0,
                    "now": float(100 * recent.loc[unit, "sum"]),
                    "slope_per_year": None,
                    "n": int(recent.loc[unit, "size"]),
                }
            )
