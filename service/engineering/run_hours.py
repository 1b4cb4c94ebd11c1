"""How long a unit ran between two days, from the nights that are on record."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from math import sqrt
from typing import NamedTuple, Self

from scipy.special import stdtrit

__all__ = ["Night", "RunHours", "run_hours"]

# With fewer nights there is no rate to speak of.
LEAST_NIGHTS = 3
# One-sided.
CONFIDENCE = 0.95
DAY_H = 24.0


class Night(NamedTuple):
    """A rest period: the day on which it began, and how long the unit ran in it, h."""

    on: date
    run_h: float


class RunHours(NamedTuple):
    """Run hours, h. The low bound is what is on record; the high one is passed once in 20 times.

    `middle_h` is the estimate at the unit's mean rate; None where the nights are too few for one.
    """

    low_h: float
    middle_h: float | None
    high_h: float
    seen_days: int
    unseen_days: int

    @classmethod
    def read(cls, meter_h: float) -> Self:
        """Hours as a meter shows them."""
        return cls(meter_h, meter_h, meter_h, 0, 0)

    def at_most(self, meter_h: float) -> Self:
        """The same, where a meter shows that it cannot be more."""
        middle_h = None if self.middle_h is None else min(self.middle_h, meter_h)
        return self._replace(
            low_h=min(self.low_h, meter_h), middle_h=middle_h, high_h=min(self.high_h, meter_h)
        )


def run_hours(nights: Iterable[Night], start: date, end: date) -> RunHours:
    """Return how long a unit ran from a day up to, and with, another.

    What was seen is summed; a day of which nothing is on record may have been a night off, or one
    at the unit's mean rate. So the low bound counts none of them, and the high one is the upper
    prediction limit of their sum were each like those seen (Student's t, from memory of any
    textbook), at most 24 h a day.
    """
    by_day: dict[date, float] = defaultdict(float)
    for night in nights:
        if start <= night.on <= end:
            by_day[night.on] += night.run_h
    seen, seen_h = len(by_day), sum(by_day.values())
    unseen = max((end - start).days + 1 - seen, 0)
    most_h = seen_h + DAY_H * unseen
    if unseen == 0:
        return RunHours(seen_h, seen_h, seen_h, seen, 0)
    if seen < LEAST_NIGHTS:
        return RunHours(seen_h, None, most_h, seen, unseen)
    mean_h = seen_h / seen
    spread_h = sqrt(sum((h - mean_h) ** 2 for h in by_day.values()) / (seen - 1))
    middle_h = min(seen_h + unseen * mean_h, most_h)
    beyond_h = stdtrit(seen - 1, CONFIDENCE) * spread_h * sqrt(unseen + unseen**2 / seen)
    return RunHours(seen_h, middle_h, min(middle_h + float(beyond_h), most_h), seen, unseen)
