"""Which of the asked-for installs fit beside the others: a unit stands in one tractor at a time."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

__all__ = ["Interval", "fit"]


@dataclass(frozen=True)
class Interval:
    """A unit stands somewhere from start up to, not including, end; an open end is None.

    name says where it comes from; place is its position in the book, None for one on record.
    """

    unit_id: int
    start: date
    end: date | None
    name: str
    place: int | None = None

    def overlaps(self, other: "Interval") -> bool:
        mine, others = self.end or date.max, other.end or date.max
        return (
            self.start < others
            and other.start < mine
            and self.start != self.end
            and other.start != other.end
        )


def fit(asked: Iterable[Interval], standing: Iterable[Interval]) -> list[tuple[Interval, Interval]]:
    """Return the asked intervals that find no place, each with one that stands in its way.

    An asked interval takes the place of the standing one of the same unit and start. They are
    taken by start, and again as long as one that found a place has made room for another.
    """
    by_unit: dict[int, dict[date, Interval]] = defaultdict(dict)
    for interval in standing:
        by_unit[interval.unit_id][interval.start] = interval
    waiting: dict[int, list[Interval]] = defaultdict(list)
    for interval in sorted(asked, key=lambda one: one.start):
        waiting[interval.unit_id].append(interval)
    return [pair for unit_id, some in waiting.items() for pair in _fit_unit(some, by_unit[unit_id])]


def _fit_unit(asked: list[Interval], standing: dict[date, Interval]):
    while True:
        left = []
        for interval in asked:
            others = (one for start, one in standing.items() if start != interval.start)
            if obstacle := next((one for one in others if one.overlaps(interval)), None):
                left.append((interval, obstacle))
            else:
                standing[interval.start] = interval
        if not left or len(left) == len(asked):
            return left
        asked = [interval for interval, _ in left]
