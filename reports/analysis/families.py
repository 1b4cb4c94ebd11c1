"""A fleet's frames to what is believed of each unit's circuit and of its bank."""

import pandas as pd

from reports.analysis import causes, gauges
from reports.analysis.causes import Cause
from reports.analysis.detector import Background, Posterior, weigh
from reports.analysis.observations import bank_observations, last_filling, pressure_observations
from reports.analysis.settled import freed_of_mended, gauges_settled_t, settled_t
from reports.analysis.toppings import topping_evidence

__all__ = ["weigh_banks", "weigh_pressures"]


def weigh_pressures(frames, added: pd.DataFrame) -> tuple[Posterior, pd.DataFrame]:
    """Return what is believed of the circuits, and the doubtful gauges (see gauges.doubtful)."""
    observations, errors = gauges.put_right(pressure_observations(frames))
    observations = freed_of_mended(observations, frames.settled, causes.PRESSURE)
    first_t = frames.installs.groupby("unit")["installed_t"].min()
    filled_t = last_filling(frames)["t"]
    start_t = pd.concat([first_t, filled_t], axis=1).max(axis=1)
    put_in_t = pd.concat([filled_t, added.groupby("unit")["t"].max()], axis=1).max(axis=1)
    units = frames.units.set_index("unit")
    visits = int((frames.readings["kind"] == "visit").sum())
    background = Background(
        start_t=start_t,
        as_of_t=frames.as_of_t,
        expansion=units["expansion"],
        added=added,
        filled_t=put_in_t,
        prior_ratio={"refrigerant_leak": topping_evidence(added, visits)},
        not_before_t=_settled(frames, causes.PRESSURE),
    )
    doubts = gauges.doubtful(errors)
    looked_at_t = doubts["gauge"].map(gauges_settled_t(frames.settled))
    return weigh(observations, causes.PRESSURE, background), doubts[
        ~(doubts["since_t"] < looked_at_t)
    ]


def weigh_banks(frames) -> Posterior:
    """Return what is believed of the banks."""
    observations = bank_observations(frames)
    first_t = observations.groupby("unit")["t"].min()
    bank_t = observations.groupby("unit")["bank_t"].first()
    # A bank may have been wearing since it was new, before the unit came.
    start_t = pd.concat([first_t, bank_t], axis=1).min(axis=1)
    background = Background(start_t, frames.as_of_t, not_before_t=_settled(frames, causes.BANK))
    observations = freed_of_mended(observations, frames.settled, causes.BANK)
    return weigh(observations, causes.BANK, background)


def _settled(frames, family: tuple[Cause, ...]) -> dict[str, pd.Series]:
    return {name: settled_t(frames.settled, name) for name in {cause.name for cause in family}}
