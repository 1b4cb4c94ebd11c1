"""One gauge enters two features: what a pipe temperature tells beyond the pressure beside it.

Superheat and depression hold the same suction pressure, subcooling and lift the same discharge
pressure, so an error of the gauge moves both alike. A pipe feature is therefore weighed as what it
tells beyond its partner at the same reading: r(superheat) - share * r(depression), the residual
of the normal regression of one on the other, whose errors are no longer related.
"""

import numpy as np
import pandas as pd

from reports.analysis.baseline import PRIORS, levelled

__all__ = ["PARTNER", "beyond_partner"]

PARTNER = {"superheat_k": "evaporating_depression_k", "subcooling_k": "condensing_lift_k"}
# The share before any fleet is seen, and its weight in pairs of readings. From memory.
SHARE, PRIOR_PAIRS = 0.5, 50


def beyond_partner(seen: pd.DataFrame) -> pd.DataFrame:
    """Return learned observations with the pipe features freed of their partner's error.

    `share` is what was taken off of the partner's residual, 0 where nothing was. A pipe feature
    whose partner was not read is left out.
    """
    parts = []
    for feature, rows in seen.groupby("feature"):
        partner = PARTNER.get(feature)
        if partner is None:
            parts.append(rows.assign(share=0.0))
            continue
        beside = seen[seen["feature"] == partner].set_index("reading")
        rows = rows[rows["reading"].isin(beside.index)].copy()
        other = beside.loc[rows["reading"]]
        share = _share(rows, other, PRIORS[partner].noise)
        weight = np.minimum(rows["weight"], other["weight"].to_numpy())
        rows["r"] -= share * other["r"].to_numpy()
        rows = levelled(rows, PRIORS[feature])
        rows["weight"] = np.minimum(rows["weight"], weight)
        parts.append(rows.assign(share=share))
    return pd.concat(parts).sort_index()


def _share(rows: pd.DataFrame, other: pd.DataFrame, usual_noise: float) -> float:
    """Regression of a pipe feature on its partner within units, big changes counting for less."""
    cell = rows["cell"].to_numpy()
    y = rows["r"] - rows.groupby("cell")["r"].transform("median")
    x = pd.Series(other["r"].to_numpy(), rows.index)
    x = x - x.groupby(cell).transform("median")
    y_noise, x_noise = rows["noise"].to_numpy(), other["noise"].to_numpy()
    far = np.maximum(np.abs(y) / y_noise, np.abs(x) / x_noise)
    weight = np.minimum(1.0, 2.0 / np.maximum(far, 1e-9)) ** 2
    prior = PRIOR_PAIRS * usual_noise**2
    slope = ((weight * x * y).sum() + SHARE * prior) / ((weight * x * x).sum() + prior)
    return float(np.clip(slope, 0.0, 1.0))
