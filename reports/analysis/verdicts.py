"""The screen itself: a fleet's frames in, findings and the count of what could not be judged out."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from reports.analysis import causes, forecast, gauges
from reports.analysis.baseline import learn
from reports.analysis.detector import Posterior, weigh
from reports.analysis.observations import bank_observations, last_filling, pressure_observations
from reports.analysis.proof import Proof, bank_capacity_ah, evidence
from reports.analysis.screening import expected_false, surest
from reports.analysis.toppings import additions, topping_evidence

__all__ = ["FoundCause", "Screened", "screen"]

# The share of findings that may be false over the fleet, and how sure a cause must be to be named.
FALSE_SHARE = 0.12
LEAST_PROBABILITY = 0.70
# Fewer observations than this cannot tell a drift from a unit's own level.
LEAST_READINGS = 3
INTERVAL = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class FoundCause:
    """A finding before it is stored; times are in years (`t`), NaN or None where there is none."""

    cause: str
    probability: float
    since_t: float
    evidence: list[dict]
    unit: int | None = None
    forecast_event: str = ""
    forecast_t: tuple[float, float, float] | None = None
    gauge: str = ""
    touched: tuple[int, ...] = field(default=())


@dataclass(frozen=True)
class Screened:
    findings: list[FoundCause]
    units: int
    undecided: int
    expected_false: float


def screen(frames) -> Screened:
    """Screen a fleet for drift. `frames` as given by the records' side (reports.frames)."""
    added = additions(frames)
    pressure, doubts = _weigh_pressures(frames, added)
    bank = _weigh_banks(frames)
    families = [(pressure, _charge_forecast), (bank, _bank_forecast)]
    named = _sure([posterior for posterior, _ in families])
    findings = list(doubts)
    for (posterior, forecaster), sure in zip(families, named, strict=True):
        findings += _named(frames, posterior, sure, forecaster, added)
    decided = {
        unit for posterior, _ in families for unit in posterior.unit[posterior.n >= LEAST_READINGS]
    }
    installed = set(frames.installs.loc[frames.installs["removed_t"].isna(), "unit"])
    return Screened(
        findings=findings,
        units=len(installed),
        undecided=len(installed - decided),
        expected_false=expected_false([finding.probability for finding in findings]),
    )


def _weigh_pressures(frames, added: pd.DataFrame) -> tuple[Posterior, list[FoundCause]]:
    observations = pressure_observations(frames)
    effects = gauges.gauge_effects(learn(observations))
    observations = gauges.corrected(observations, effects)
    first_t = frames.installs.groupby("unit")["installed_t"].min()
    filled_t = last_filling(frames)["t"]
    start_t = pd.concat([first_t, filled_t], axis=1).max(axis=1)
    put_in_t = pd.concat([filled_t, added.groupby("unit")["t"].max()], axis=1).max(axis=1)
    units = frames.units.set_index("unit")
    visits = int((frames.readings["kind"] == "visit").sum())
    posterior = weigh(
        observations,
        causes.PRESSURE,
        start_t,
        frames.as_of_t,
        expansion=units["expansion"],
        added=added,
        filled_t=put_in_t,
        prior_ratio={"refrigerant_leak": topping_evidence(added, visits)},
    )
    return posterior, [_doubt(frames, row) for row in gauges.doubtful(effects).itertuples()]


def _doubt(frames, row) -> FoundCause:
    touched = frames.readings[
        (frames.readings["gauge"] == row.gauge) & (frames.readings["t"] >= row.since_t)
    ]["unit"]
    return FoundCause(
        cause="doubtful_instrument",
        probability=float(1 - np.exp(-0.5 * min(abs(row.z), 8) ** 2)),
        since_t=row.since_t,
        evidence=[
            {
                "feature": "gauge_bias_k",
                "baseline": 0.0,
                "now": float(row.effect_k),
                "slope_per_year": None,
                "n": int(row.units),
            }
        ],
        gauge=row.gauge,
        touched=tuple(int(unit) for unit in np.unique(touched)),
    )


def _weigh_banks(frames) -> Posterior:
    observations = bank_observations(frames)
    first_t = observations.groupby("unit")["t"].min()
    bank_t = observations.groupby("unit")["bank_t"].first()
    # A bank may have been wearing since it was new, before the unit came.
    start_t = pd.concat([first_t, bank_t], axis=1).min(axis=1)
    return weigh(observations, causes.BANK, start_t, frames.as_of_t)


def _sure(posteriors: list[Posterior]) -> list[NDArray]:
    """Which units of each family have a cause sure enough to name, judged over the whole fleet."""
    best = [
        np.where(x.n >= LEAST_READINGS, x.probability.max(axis=1, initial=0.0), np.nan)
        for x in posteriors
    ]
    named = surest(np.concatenate(best), FALSE_SHARE, LEAST_PROBABILITY)
    return np.split(named, np.cumsum([len(x) for x in best])[:-1])


def _named(frames, posterior: Posterior, sure: NDArray, forecaster, added) -> list[FoundCause]:
    """The findings of a family: the one most probable cause of each unit that is sure enough."""
    found = []
    for j, name in enumerate(posterior.causes):
        mine = np.flatnonzero(sure & (posterior.probability.argmax(axis=1) == j))
        if not len(mine):
            continue
        onset, rate, weight = (part[mine] for part in posterior.hypothesis[name])
        since_t = forecast.weighted_quantiles(onset, weight, (0.5,))[:, 0]
        units = posterior.unit[mine]
        event, dates = forecaster(frames, name, units, onset, rate, weight, posterior, added)
        proofs = evidence(
            Proof(frames, posterior.observations, name, units, since_t, rate, onset, weight, added)
        )
        found += [
            FoundCause(
                cause=name,
                probability=float(posterior.probability[row, j]),
                since_t=float(since_t[i]),
                evidence=proofs[i],
                unit=int(units[i]),
                forecast_event=event,
                forecast_t=tuple(map(float, dates[i])) if event else None,
            )
            for i, row in enumerate(mine)
        ]
    return found


def _charge_forecast(frames, name, units, onset, rate, weight, posterior, added):
    if name != "refrigerant_leak":
        return "", None
    filled = last_filling(frames)["mass_g"].reindex(units)
    nameplate = frames.units.set_index("unit")["charge_g"].reindex(units)
    missing = (1 - filled / nameplate).fillna(0.0).to_numpy(float)
    parts = added.groupby("unit")["part"].sum().reindex(units).fillna(0.0).to_numpy(float)
    dates = forecast.charge_dates(onset, rate, missing, parts)
    return "charge_below_80_percent", forecast.weighted_quantiles(dates, weight, INTERVAL)


def _bank_forecast(frames, name, units, onset, rate, weight, posterior, added):
    if name != "battery_wear":
        return "", None
    usable_ah = bank_capacity_ah(frames, posterior.observations, units)
    draw = frames.units.set_index("unit")["draw_low_a"].reindex(units).to_numpy(float)
    allowed = forecast.bank_need(usable_ah, draw)
    if np.isnan(allowed).all():
        return "", None
    dates = forecast.loss_dates(onset, rate, np.nan_to_num(allowed, nan=0.2))
    return "bank_below_8_h_at_low_output", forecast.weighted_quantiles(dates, weight, INTERVAL)
