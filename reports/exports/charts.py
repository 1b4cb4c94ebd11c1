"""What a picture of values over time shows, as plain data: the same for a screen and for print.

`reports.exports.svg` draws it. Nothing here knows of places, letters or colours.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, NamedTuple

__all__ = ["Band", "Chart", "Epoch", "Limit", "Path", "Series", "Whisker"]

MOST_SERIES = 3


class Series(NamedTuple):
    """A named set of `points`, (when, value), in order of time; the values in the chart's unit.

    `hollow` says of each point whether it is to count for little; empty where none is. `joined`
    points have a line through them.
    """

    name: str
    points: Sequence[tuple[datetime, float]]
    hollow: Sequence[bool] = ()
    joined: bool = True


class Epoch(NamedTuple):
    """A day that a reader should know of, and the word that says why.

    `break` is where a series begins anew, `added` where refrigerant was put in, `tool` where
    another gauge was used, `onset` where a fault is believed to begin, `now` the day of looking.
    """

    day: date
    word: str
    shape: Literal["break", "added", "tool", "onset", "now"] = "break"


class Band(NamedTuple):
    """A range of values to compare with, and the word for it; of equal ends it is a line.

    From `first` to `last`, or over the whole chart. Bands of one word are named once.
    """

    low: float
    high: float
    word: str
    first: date | None = None
    last: date | None = None


class Path(NamedTuple):
    """A line with no marks on it: what is reckoned, not measured; `ahead` of the day of looking."""

    word: str
    points: Sequence[tuple[datetime, float]]
    ahead: bool = False


class Limit(NamedTuple):
    """A value that matters, as a line across the chart, and the word for it."""

    value: float
    word: str


class Whisker(NamedTuple):
    """A day that is not surely known, at a value: the earliest, the middle and the latest.

    `middle` is None where it lies beyond the chart; `open_end` says that `high` does.
    """

    low: datetime
    middle: datetime | None
    high: datetime
    value: float
    word: str
    open_end: bool = False


@dataclass(frozen=True)
class Chart:
    """One picture. Up to three series share its axes.

    Raises ValueError when there is no point at all, or more series than marks to tell them by.
    """

    title: str
    unit: str
    series: Sequence[Series] = ()
    epochs: Sequence[Epoch] = ()
    bands: Sequence[Band] = ()
    paths: Sequence[Path] = ()
    limit: Limit | None = None
    whisker: Whisker | None = None
    # What a hollow point is, for the legend; the word for it stands where there is one.
    hollow_word: str = ""
    description: str = ""

    def __post_init__(self) -> None:
        lines = (*self.series, *self.paths)
        if not self.whisker and not any(len(line.points) for line in lines):
            raise ValueError("a chart needs at least one point")
        if len(self.series) > MOST_SERIES:
            raise ValueError(
                f"a chart has marks for {MOST_SERIES} series, not for {len(self.series)}"
            )
