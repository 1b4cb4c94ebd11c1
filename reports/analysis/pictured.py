"""What the picture of a finding shows: each value as the screen sees it, and what was expected.

A screening keeps this with each finding, since what is normal for one unit is learned from all of
them. A picture is plain lists, ready for JSON; times are `t`, values in the feature's own unit:

- `features`, those of the finding's evidence, the furthest from what was expected first, each with
  `points` [t, value, weight] and `bands` [first_t, last_t, low, high], a band a truck. Of a gauge
  the points are [t, residual, weight, serial], over all the units it read.
- `path`, of a finding with a forecast: [t, what is left], from the onset through the moment of the
  screening to the threshold; of a charge a part of the nameplate, of a bank hours at low output.
"""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm

from installs.engineering import battery
from reports.analysis.baseline import learn
from reports.analysis.forecast import NEEDED_CHARGE, NEEDED_H
from reports.analysis.gauges import put_right
from reports.analysis.observations import bank_observations, last_filling, pressure_observations
from reports.analysis.proof import LOGARITHMS, sound_hours
from reports.analysis.toppings import additions

__all__ = ["expected_band", "pictured"]

# A band holds this share of what a sound unit reads.
SHARE = 0.90
REACH = norm.ppf(0.5 + SHARE / 2)
BY_GAUGE = ("condensing_lift_k", "evaporating_depression_k")
NEWEST = 3


def pictured(frames, findings: Sequence) -> list[dict]:
    """Return the picture of each finding (see verdicts.FoundCause) of a screening of `frames`."""
    if not findings:
        return []
    observed = pressure_observations(frames)
    as_read = learn(observed)
    pressure = learn(put_right(observed)[0])
    bank = learn(bank_observations(frames))
    units = {found.unit for found in findings}
    seen = pd.concat([part[part["unit"].isin(units)] for part in (pressure, bank)])
    by_unit = dict(iter(seen.groupby("unit")))
    added = additions(frames)
    return [
        _of_gauge(frames, found, as_read, pressure)
        if found.gauge
        else _of_unit(frames, found, by_unit.get(found.unit, seen[:0]))
        | _path(frames, found, bank, added)
        for found in findings
    ]


def expected_band(
    r: NDArray, weight: NDArray, noise: NDArray, spread: float
) -> tuple[float, float, float]:
    """Return a unit's own level about its group's, and the ends of what 90 % of readings keep to.

    `r` (n,) are its sound values less the group's level, `weight` and `noise` (n,) theirs; of no
    values at all the group speaks alone, and the band is as wide as units differ. The predictive
    interval of a normal mean with a normal prior (Gelman et al., Bayesian Data Analysis, 2.5).
    """
    precision = (weight / noise**2)[:, None] if len(r) else np.zeros((1, 1))
    total = float(precision.sum()) + 1 / spread**2
    level = float((precision[:, 0] * r).sum() / total) if len(r) else 0.0
    usual = float(np.median(noise)) if len(noise) else 0.0
    reach = REACH * np.sqrt(usual**2 + 1 / total)
    return level, level - reach, level + reach


def _of_unit(frames, found, rows: pd.DataFrame) -> dict:
    named = list(dict.fromkeys(row["feature"] for row in found.evidence))
    rows = rows[rows["feature"].isin(named)]
    drawn = [
        _feature(frames, found, str(name), part.sort_values("t"))
        for name, part in rows.groupby("feature")
    ]
    drawn.sort(key=lambda feature: -feature[0])
    return {"features": [feature for _far, feature in drawn]}


def _feature(frames, found, name: str, rows: pd.DataFrame) -> tuple[float, dict]:
    """One feature of a unit, truck by truck; and how far its newest values lie off, in noises."""
    points, bands, far = [], [], 0.0
    # In the order of time: the last truck is where it stands now.
    trucks = [part for _, part in rows.groupby("tractor")]
    for part in sorted(trucks, key=lambda part: part["t"].iloc[0]):
        scale = _rated_ah(frames, part["tractor"].iloc[0]) if name == "bank_capacity_ah" else 1.0
        sound = part[~(part["t"] >= found.since_t)]
        noise, spread = part["noise"].to_numpy(float), float(part["spread"].iloc[0])
        own = [sound[column].to_numpy(float) for column in ("r", "weight", "noise")]
        level, *ends = expected_band(*(own if len(sound) else (*own[:2], noise)), spread)
        group = float(part["level"].iloc[0])
        low, high = _in_own_unit(np.array(ends) + group, name) * scale
        values = _in_own_unit((part["r"] + part["level"]).to_numpy(float), name) * scale
        t = part["t"].to_numpy(float)
        points += _rows(t, values, part["weight"])
        bands.append([float(t[0]), float(t[-1]), round(float(low), 4), round(float(high), 4)])
        far = abs(part["r"].iloc[-NEWEST:].median() - level) / float(np.median(noise))
    return far, {"feature": name, "points": points, "bands": bands}


def _of_gauge(frames, found, as_read: pd.DataFrame, pressure: pd.DataFrame) -> dict:
    """What one gauge read of each unit, less that unit's own level by all gauges put right."""
    weight = pressure["weight"] / pressure["noise"] ** 2
    sums = (
        pressure.assign(w=weight, wr=weight * (pressure["r"] + pressure["level"]))
        .groupby("cell")[["w", "wr"]]
        .sum()
    )
    own = sums["wr"] / sums["w"]
    rows = as_read[(as_read["gauge"] == found.gauge) & as_read["feature"].isin(BY_GAUGE)]
    rows = rows.assign(off=rows["r"] + rows["level"] - rows["cell"].map(own)).sort_values("t")
    serials = frames.units.set_index("unit")["serial"]
    drawn = []
    for name, part in rows.groupby("feature"):
        reach = round(float(REACH * part["noise"].median()), 4)
        t, off = part["t"].to_numpy(float), part["off"].to_numpy(float)
        points = [
            [*point, str(serial)]
            for point, serial in zip(
                _rows(t, off, part["weight"]), part["unit"].map(serials), strict=True
            )
        ]
        after = off[t >= found.since_t]
        drawn.append(
            (
                abs(np.median(after)) if len(after) else 0.0,
                {"feature": str(name), "points": points, "bands": [[t[0], t[-1], -reach, reach]]},
            )
        )
    drawn.sort(key=lambda feature: -feature[0])
    return {"features": [feature for _far, feature in drawn]}


def _path(frames, found, bank: pd.DataFrame, added: pd.DataFrame) -> dict:
    """What is left, by the finding: from its onset to now, and on to the threshold."""
    if found.forecast_t is None or not np.isfinite(found.since_t):
        return {}
    unit = frames.units.set_index("unit").loc[found.unit]
    since_t = min(found.since_t, frames.as_of_t)
    if found.forecast_event == "charge_below_80_percent":
        path, needed = _charge(frames, found, unit, since_t, added), NEEDED_CHARGE
    else:
        path, needed = _hours(frames, found, unit, since_t, bank), NEEDED_H
    middle_t = found.forecast_t[1]
    if path and middle_t > frames.as_of_t:
        path.append([float(middle_t), needed])
    return {"path": path}


def _charge(frames, found, unit: pd.Series, since_t: float, added: pd.DataFrame) -> list[list]:
    """A steady loss and the jumps of what was added, so that it ends at the charge now missing."""
    missing = next(
        (e["now"] / 100 for e in found.evidence if e["feature"] == "charge_missing_percent"), None
    )
    if missing is None:
        return []
    filled = last_filling(frames)["mass_g"].get(found.unit, unit["charge_g"]) / unit["charge_g"]
    own = added[added["unit"] == found.unit]
    earlier, later = (own[own["t"] <= since_t], own[own["t"] > since_t])
    rate = (missing + own["part"].sum()) / max(frames.as_of_t - since_t, 1 / 365.25)
    left = filled + earlier["part"].sum()
    path, at = [[since_t, left]], since_t
    for t, part in zip(later["t"], later["part"], strict=True):
        left -= rate * (t - at)
        path += [[t, left], [t, left + part]]
        left, at = left + part, t
    path.append([frames.as_of_t, filled - missing])
    return [[float(t), round(float(value), 4)] for t, value in path]


def _hours(frames, found, unit: pd.Series, since_t: float, bank: pd.DataFrame) -> list[list]:
    """A steady loss from the sound bank's hours that passes the threshold on the forecast day."""
    middle_t = found.forecast_t[1]
    sound_h = float(sound_hours(frames, bank, np.array([found.unit]))[0][0])
    if not sound_h > NEEDED_H or middle_t <= since_t:
        return []
    lost = (sound_h - NEEDED_H) * (frames.as_of_t - since_t) / (middle_t - since_t)
    now_h = max(sound_h - lost, 0.0)
    return [[float(since_t), round(sound_h, 3)], [frames.as_of_t, round(now_h, 3)]]


def _rows(t: NDArray, values: NDArray, weight: pd.Series) -> list[list]:
    return [
        [float(when), round(float(value), 4), round(float(w), 3)]
        for when, value, w in zip(t, values, weight, strict=True)
    ]


def _in_own_unit(values: NDArray, feature: str) -> NDArray:
    return np.exp(values) if feature in LOGARITHMS else values


def _rated_ah(frames, tractor: float) -> float:
    """A truck's bank by its label."""
    bank = frames.banks.set_index("tractor").loc[tractor]
    unit = frames.installs.loc[frames.installs["tractor"] == tractor, "unit"].iloc[-1]
    system_v = frames.units.set_index("unit").loc[unit, "system_v"]
    size = bank["battery_count"], bank["battery_ah"], system_v, bank["battery_type"]
    return float(battery.bank_ah(*size))
