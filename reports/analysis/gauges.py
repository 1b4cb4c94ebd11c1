"""Gauges that read off: what one gauge says of many units, against what other gauges say of them.

A gauge's readings are taken in runs, so that one that was dropped in June is doubted from June on.
Its error and the units' own levels are found together: reading = level of the unit + error of the
gauge, as far as the feature feels it, + noise, with both drawn towards zero by what is known of
their spread (a crossed random-effects model, solved by turns; Robinson 1991, 'That BLUP is a good
thing', section 2). The error of a fall is a pressure; what it comes to in kelvins differs from
reading to reading.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm

from reports.analysis.baseline import learn
from reports.analysis.screening import benjamini_hochberg

__all__ = ["doubtful", "named_gauges", "put_right"]

# The side of a gauge set, and the feature that tells its error.
SIDES = {"evaporating_depression_k": "suction", "condensing_lift_k": "discharge"}
FEELS = SIDES | {"superheat_k": "suction", "subcooling_k": "discharge"}
RUN, LEAST_UNITS = 12, 4
# Spread of honest gauges' errors, kPa (good to 1 or 2 % of a scale of some 500 or 2,000 kPa; the
# thermometer that goes with the set shows on the discharge side); and what makes one doubtful: this
# far off, this surely, and more surely where a dozen readings alone say so. Common practice, no source.
SPREAD_KPA = {"suction": 5.0, "discharge": 10.0}
DOUBT_KPA = {"suction": 28.0, "discharge": 50.0}
DOUBT_Z, DOUBT_Z_ALONE, FALSE_SHARE = 6.0, 8.0, 0.01
ROUNDS = 40
# A residual beyond this many noises speaks of the unit, not of the gauge.
MOST = 3.0
# A value of a gauge that is surely off is worth less, even put right.
PUT_RIGHT = 1.25
COLUMNS = ["gauge", "side", "run", "stretch", "from_t", "error_kpa", "z", "units", "off"]


def named_gauges(readings: pd.DataFrame) -> pd.Series:
    """Return each reading's gauge; where it was not noted, the one its technician had last."""
    noted = readings.sort_values("t", kind="stable")
    noted = noted["gauge"].where(noted["gauge"] != "").groupby(noted["taken_by"])
    guessed = noted.ffill().fillna(noted.bfill()).fillna("")
    return readings["gauge"].where(readings["gauge"] != "", guessed.reindex(readings.index))


def in_runs(observations: pd.DataFrame) -> pd.DataFrame:
    """Return the observations with `run`: which dozen of its gauge's readings each belongs to."""
    nth = observations.groupby("gauge")["t"].rank(method="dense") - 1
    return observations.assign(run=np.floor(nth / RUN))


def gauge_errors(seen: pd.DataFrame) -> pd.DataFrame:
    """Return one row a gauge, side and run: what the gauge then reads too high.

    `error_kpa`, `z`, `units` and `from_t` are those of the stretch of runs in which the gauge kept
    one error. `seen` are learned observations (see baseline.learn) in runs.
    """
    rows = seen[seen["feature"].isin(SIDES) & (seen["gauge"] != "")]
    if rows.empty:
        return pd.DataFrame(columns=COLUMNS)
    rows = rows.assign(side=rows["feature"].map(SIDES))
    groups = rows.groupby(["gauge", "side", "run"])
    run, cell = groups.ngroup().to_numpy(), pd.factorize(rows["cell"])[0]
    table = groups.agg(units=("unit", "nunique")).reset_index()
    table["judged"] = table["units"] >= LEAST_UNITS
    spread = table["side"].map(SPREAD_KPA).to_numpy()
    error, unsure = _solve(rows, run, cell, table["judged"].to_numpy(), spread)
    sure = _surely_off(error, unsure, table["side"], 2)
    table["stretch"] = _stretches(table.assign(error=error, sure=sure))
    stretch = table["stretch"].to_numpy()[run]
    whole = rows.groupby(stretch).agg(
        units=("unit", "nunique"),
        from_t=("t", "min"),
        runs=("run", "nunique"),
        of=("side", "first"),
    )
    spread = whole["of"].map(SPREAD_KPA).to_numpy()
    error, unsure = _solve(rows, stretch, cell, (whole["units"] >= LEAST_UNITS).to_numpy(), spread)
    honest = spread**2 / (spread**2 + unsure**2)
    off = _surely_off(error, unsure, whole["of"], whole["runs"].to_numpy())
    whole = whole.assign(error_kpa=np.where(off, error, honest * error), z=error / unsure, off=off)
    return table.drop(columns="units").join(whole, on="stretch")[COLUMNS]


def _stretches(table: pd.DataFrame) -> NDArray:
    """Number the stretches of runs in which a gauge is off, or is not.

    A gauge that is surely off in one run is off in all those nearer to that error than to none. A
    run of too few units goes with the one before it.
    """
    keys = ["gauge", "side"]
    known = table["error"].where(table["sure"]).groupby([table[key] for key in keys])
    off = (table["error"] / known.transform("median") > 0.5).astype(float)
    off = off.where(table["judged"]).groupby([table[key] for key in keys]).ffill().fillna(0.0)
    another = table[keys].ne(table[keys].shift()).any(axis=1)
    return (another | off.ne(off.shift())).cumsum().to_numpy() - 1


def _surely_off(error: NDArray, unsure: NDArray, side: pd.Series, runs: NDArray | int) -> NDArray:
    """Whether a gauge is off: a dozen readings alone, found among all dozens, must say it louder."""
    least = np.where(np.asarray(runs) > 1, DOUBT_Z, DOUBT_Z_ALONE)
    return (np.abs(error) >= least * unsure) & (np.abs(error) >= side.map(DOUBT_KPA).to_numpy())


def _solve(
    rows: pd.DataFrame, group: NDArray, cell: NDArray, judged: NDArray, spread: NDArray
) -> tuple[NDArray, NDArray]:
    """Plain errors of groups of readings, kPa, and their standard errors; levels are found beside."""
    r, noise, k = (rows[name].to_numpy(float) for name in ("r", "noise", "k_per_kpa"))
    weight = rows["weight"].to_numpy(float) / noise**2
    of_level = 1 / rows["spread"].to_numpy(float)[np.unique(cell, return_index=True)[1]] ** 2
    in_group, in_cell = np.bincount(group, weight * k**2), np.bincount(cell, weight) + of_level
    error = np.zeros(len(in_group))
    for _ in range(ROUNDS):
        level = np.bincount(cell, weight * (r - k * error[group])) / in_cell
        middle = k * error[group]
        off = middle + np.clip(r - level[cell] - middle, -MOST * noise, MOST * noise)
        # An error that shows itself large is drawn towards zero the less.
        held = 1 / (spread**2 + error**2)
        error = np.where(judged, np.bincount(group, weight * k * off) / (in_group + held), 0.0)
    # A level that rests on this very gauge carries none of its error away.
    others = in_cell[cell] - weight
    unsure = np.sqrt(np.bincount(group, (weight * k) ** 2 * (1 / weight + 1 / others))) / in_group
    # What the shrinkage took is given back.
    return error * (in_group + held) / in_group, unsure


def corrected(observations: pd.DataFrame, errors: pd.DataFrame) -> pd.DataFrame:
    """Return the observations with what each gauge reads too high taken off."""
    rows = observations.assign(side=observations["feature"].map(FEELS))
    error = rows.merge(errors, on=["gauge", "side", "run"], how="left")[["error_kpa", "off"]]
    error = error.astype(float).fillna(0.0)
    return observations.assign(
        y=observations["y"] - observations["k_per_kpa"] * error["error_kpa"].to_numpy(),
        coarseness=observations["coarseness"] * np.where(error["off"] > 0, PUT_RIGHT, 1.0),
    )


def put_right(observations: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return observations of pressures with what their gauges read too high taken off, and that."""
    observations = in_runs(observations)
    errors = gauge_errors(learn(observations))
    return corrected(observations, errors), errors


def doubtful(errors: pd.DataFrame) -> pd.DataFrame:
    """Return, per doubtful gauge, its furthest error: gauge, error_kpa, z, units, since_t.

    Every stretch of every gauge is a test; the false-discovery rate is held over them all.
    """
    errors = errors[errors["units"] >= LEAST_UNITS].drop_duplicates("stretch")
    p = benjamini_hochberg(2 * norm.sf(errors["z"].abs().to_numpy(float)))
    sure = errors[(p <= FALSE_SHARE) & errors["off"].astype(bool)]
    if sure.empty:
        return sure.assign(since_t=pd.Series(dtype=float))
    since = sure.groupby("gauge")["from_t"].min()
    furthest = sure.loc[sure.groupby("gauge")["z"].apply(lambda z: z.abs().idxmax())]
    return furthest.assign(since_t=furthest["gauge"].map(since))
