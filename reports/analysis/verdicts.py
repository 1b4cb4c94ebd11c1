"""The screen itself: a fleet's frames in, findings and the count of what could not be judged out."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from reports.analysis import forecast
from reports.analysis.asking import Ask, asks, first_readings
from reports.analysis.detector import Posterior
from reports.analysis.families import weigh_banks, weigh_pressures
from reports.analysis.observations import last_filling
from reports.analysis.proof import Proof, evidence, sound_hours
from reports.analysis.screening import expected_false, surest
from reports.analysis.toppings import additions

__all__ = ["FoundCause", "Screened", "screen"]

# The share of findings that may be false over the fleet, and how sure a cause must be to be named.
FALSE_SHARE = 0.15
LEAST_PROBABILITY = 0.70
# Two causes that both may be are not told apart yet: none other may be left with more than this.
MOST_OF_ANOTHER = 0.15
# Fewer observations than this cannot tell a drift from a unit's own level.
LEAST_READINGS = 2
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
    """`undecided_units` have too few readings; `asks` are what to measure of them and of others."""

    findings: list[FoundCause]
    units: int
    undecided: int
    expected_false: float
    asks: tuple[Ask, ...] = ()
    undecided_units: tuple[int, ...] = ()


def screen(frames, *, ask: bool = False) -> Screened:
    """Screen a fleet for drift, and `ask` what to measure next where that is left undecided.

    `frames` as given by the records' side (reports.frames).
    """
    added = additions(frames)
    pressure, doubts = weigh_pressures(frames, added)
    bank = weigh_banks(frames)
    families = [(pressure, _charge_forecast), (bank, _bank_forecast)]
    named = _sure([posterior for posterior, _ in families])
    findings = [_doubt(frames, row) for row in doubts.itertuples()]
    for (posterior, forecaster), sure in zip(families, named, strict=True):
        findings += _named(frames, posterior, sure, forecaster, added)
    decided = {
        unit for posterior, _ in families for unit in posterior.unit[posterior.n >= LEAST_READINGS]
    }
    installed = set(frames.installs.loc[frames.installs["removed_t"].isna(), "unit"])
    too_few = tuple(sorted(int(unit) for unit in installed - decided))
    asked = first_readings(too_few, frames.as_of_t) if ask else []
    for (posterior, _), sure in zip(families, named, strict=True):
        unnamed = ~sure & (posterior.n >= LEAST_READINGS) & np.isin(posterior.unit, [*installed])
        asked += asks(posterior, unnamed) if ask else []
    return Screened(
        findings=findings,
        units=len(installed),
        undecided=len(too_few),
        expected_false=expected_false([finding.probability for finding in findings]),
        asks=tuple(asked),
        undecided_units=too_few,
    )


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
                "feature": "gauge_bias_kpa",
                "baseline": 0.0,
                "now": float(row.error_kpa),
                "slope_per_year": None,
                "n": int(row.units),
            }
        ],
        gauge=row.gauge,
        touched=tuple(int(unit) for unit in np.unique(touched)),
    )


def _sure(posteriors: list[Posterior]) -> list[NDArray]:
    """Which units of each family have a cause sure enough to name, judged over the whole fleet."""
    best = []
    for x in posteriors:
        ranked = np.sort(x.probability, axis=1)
        told_apart = ranked[:, -2] <= MOST_OF_ANOTHER
        best.append(np.where((x.n >= LEAST_READINGS) & told_apart, ranked[:, -1], np.nan))
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
    dates = forecast.charge_dates(onset, rate, missing, *_by_unit(added, units))
    return "charge_below_80_percent", forecast.weighted_quantiles(dates, weight, INTERVAL)


def _by_unit(added: pd.DataFrame, units: NDArray) -> tuple[NDArray, NDArray]:
    """Times of the units' additions and the parts added by then, (units, most), in order."""
    own = added[added["unit"].isin(units)].sort_values("t")
    nth = own.groupby("unit").cumcount()
    shape = len(units), int(nth.max() + 1) if len(own) else 0
    t, part = np.full(shape, np.inf), np.zeros(shape)
    at = np.searchsorted(units, own["unit"]), nth
    t[at], part[at] = own["t"], own["part"]
    return t, np.cumsum(part, axis=1)


def _bank_forecast(frames, name, units, onset, rate, weight, posterior, added):
    if name != "battery_wear":
        return "", None
    allowed = forecast.bank_need(*sound_hours(frames, posterior.observations, units))
    if np.isnan(allowed).all():
        return "", None
    new_t = posterior.observations.groupby("unit")["bank_t"].first().reindex(units).to_numpy(float)
    new_t = np.where(np.isnan(new_t), onset.min(axis=1), new_t)
    allowed = np.nan_to_num(allowed, nan=0.2)
    dates, which = forecast.bank_dates(onset, rate, allowed, new_t)
    quantiles = forecast.weighted_quantiles(dates, weight[:, which] / 3, INTERVAL)
    return "bank_below_8_h_at_low_output", quantiles
