"""What is known of a fleet, as tidy frames, and what of it was known at an earlier moment.

Times are `t`, years of 365.25 days since 2000-01-01 UTC; days are the `t` of their noon.
"""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Self

import numpy as np
import pandas as pd

__all__ = ["DAY_T", "NOON_T", "ORIGIN", "YEAR_S", "FleetFrames", "nothing_settled", "years"]

ORIGIN = datetime(2000, 1, 1, tzinfo=UTC)
YEAR_S = 365.25 * 86_400
DAY_T = 1 / 365.25
NOON_T = 0.5 * DAY_T


def nothing_settled() -> pd.DataFrame:
    """The frame `settled` of a fleet of which no finding was confirmed or refuted."""
    words, times = ("gauge", "cause", "outcome"), ("unit", "since_t", "t", "entered_t")
    return pd.DataFrame(
        {name: pd.Series(dtype=str) for name in words}
        | {name: pd.Series(dtype=float) for name in times}
    )


@dataclass(frozen=True)
class FleetFrames:
    """What is known of some units at a moment; `as_of_t` is that moment in years.

    Whatever happens in a unit's life has its time and `entered_t`, when it was written down. A
    bank is taken as always known: the book tells only of its renewals when they came.

    `settled` has a row each time that someone at the truck confirmed or refuted a cause: unit (NaN
    where it is of a `gauge`), cause, since_t (the onset as last said), t (when it was looked at),
    and the outcome: `confirmed_mended`, `confirmed` (not mended yet) or `refuted`.
    """

    as_of_t: float
    units: pd.DataFrame
    installs: pd.DataFrame
    readings: pd.DataFrame
    overnights: pd.DataFrame
    movements: pd.DataFrame
    banks: pd.DataFrame
    renewals: pd.DataFrame
    settled: pd.DataFrame = field(default_factory=nothing_settled)

    def known(self, t: float) -> Self:
        """Return the frames as they were known at a moment no later than their own.

        Known is what had happened and had been written down. A removal that was still to come is
        not known; a unit and all about it are, from its first known install on.
        """
        installs = _before(self.installs, "installed_t", t)
        removed_t = installs["removed_t"]

        def of_installed(rows: pd.DataFrame) -> pd.DataFrame:
            return rows[rows["unit"].isin(installs["unit"])]

        return replace(
            self,
            as_of_t=t,
            units=of_installed(self.units),
            installs=installs.assign(removed_t=removed_t.where(removed_t < t)),
            readings=of_installed(_before(self.readings, "t", t)),
            overnights=of_installed(_before(self.overnights, "t", t)),
            movements=of_installed(_before(self.movements, "t", t)),
            renewals=_before(self.renewals, "t", t),
            settled=_before(self.settled, "t", t),
        )


def years(moments) -> np.ndarray:
    """Aware datetimes, dates or ISO text as years since 2000-01-01 UTC; missing as NaN."""
    stamps = pd.to_datetime(pd.Series(moments), utc=True, format="ISO8601")
    return ((stamps - pd.Timestamp(ORIGIN)) / pd.Timedelta(seconds=YEAR_S)).to_numpy(float)


def _before(rows: pd.DataFrame, time: str, t: float) -> pd.DataFrame:
    return rows[(rows[time] < t) & (rows["entered_t"] < t)]
