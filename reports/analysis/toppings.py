"""What was put into a circuit since it was last filled by weight, and what that says by itself."""

import numpy as np
import pandas as pd
from scipy.stats import norm

from reports.analysis.observations import last_filling

__all__ = ["additions", "topping_evidence"]

DAY_T = 1 / 365.25
# Chance that a visit adds refrigerant to a unit that lacks none, before a fleet is seen.
NEEDLESS = 0.05


def additions(frames) -> pd.DataFrame:
    """Return what was added since the last weighed charge: unit, t, mass_g and part of the charge.

    What was recovered and not put back counts as negative. Movements of the filling day itself
    belong to the filling.
    """
    moved = frames.movements[frames.movements["movement"] != "charged"].copy()
    moved["filled_t"] = moved["unit"].map(last_filling(frames)["t"]).fillna(-np.inf)
    moved = moved[moved["t"] > moved["filled_t"] + DAY_T]
    moved = moved.merge(frames.units[["unit", "charge_g"]], on="unit")
    sign = np.where(moved["movement"] == "recovered", -1.0, 1.0)
    moved["part"] = sign * moved["mass_g"] / moved["charge_g"]
    return moved[["unit", "t", "mass_g", "part"]].sort_values(["unit", "t"], ignore_index=True)


def topping_evidence(added: pd.DataFrame, visits: int) -> pd.Series:
    """Return, per unit, the log evidence for a leak in the mere fact that it was topped up.

    A top-up that was needed comes with a leak and in a mass near the loss; a needless one comes
    to any unit, by feel. How often a shop tops up at all is learned from its own visits, so that
    in a fleet where everything is topped up a top-up says little. Sizes: common practice, no source.
    """
    topped = added[added["part"] > 0]
    if topped.empty:
        return pd.Series(dtype=float)
    seen = len(topped) / max(visits, len(topped))
    needless = max(NEEDLESS, 0.7 * seen)
    needed = 0.35
    by_feel = norm.pdf(topped["part"], 0.10, 0.07)
    by_need = norm.pdf(topped["part"], 0.15, 0.10)
    ratio = np.log1p(needed * by_need / (needless * np.maximum(by_feel, 0.2)))
    return pd.Series(ratio, index=topped.index).groupby(topped["unit"]).sum()
