"""What the screen would have said at each of many moments, knowing only what was known then."""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from multiprocessing import get_context

import pandas as pd

from reports.analysis.verdicts import Screened, screen
from reports.knowledge import FleetFrames

__all__ = ["EVERY", "look_days", "replay"]

EVERY = {
    "week": pd.DateOffset(weeks=1),
    "month": pd.DateOffset(months=1),
    "quarter": pd.DateOffset(months=3),
}
Judge = Callable[[FleetFrames], Screened]


def look_days(first: date, last: date, every: str) -> list[date]:
    """Return the days from first up to last, a week, month or quarter apart.

    A month without such a day has its last instead (31 January, 28 February, 31 March). Raises
    KeyError for another word.
    """
    start, days = pd.Timestamp(first), []
    while (day := (start + len(days) * EVERY[every]).date()) <= last:
        days.append(day)
    return days


def replay(
    frames: FleetFrames, times: Sequence[float], *, judge: Judge = screen, processes: int = 1
) -> Iterator[Screened]:
    """Yield what was to be said at each of the times (`t`), in their order.

    `frames` hold all that is known at the last of them. Several processes share the times out;
    `judge` must then be a function that a new process can import.
    """
    if processes < 2:
        for t in times:
            yield judge(frames.known(t))
        return
    # A fresh interpreter holds no database connection of its parent's.
    with ProcessPoolExecutor(
        processes, get_context("spawn"), initializer=_hold, initargs=(frames, judge)
    ) as pool:
        yield from pool.map(_look, times)


def _hold(frames: FleetFrames, judge: Judge) -> None:
    global _held
    _held = frames, judge


def _look(t: float) -> Screened:
    frames, judge = _held
    return judge(frames.known(t))
