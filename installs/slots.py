"""The free times for a job, bay by technician, as plain computation.

Moments are aware. Working hours are the clock on the shop's wall; the length of a job is real
time, so that both stay right on the days on which daylight-saving time begins and ends.
"""

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

__all__ = ["Diary", "Slot", "Span", "WorkingHours", "free_slots", "moment", "working_spans"]

GRID_MINUTES = 30


class Span(NamedTuple):
    """A time from one moment up to, not including, another."""

    begins_at: datetime
    ends_at: datetime

    def overlaps(self, other: "Span") -> bool:
        return self.begins_at < other.ends_at and other.begins_at < self.ends_at

    def covers(self, other: "Span") -> bool:
        return self.begins_at <= other.begins_at and other.ends_at <= self.ends_at


@dataclass(frozen=True)
class Slot:
    """A time at which a bay and a technician are both free, in UTC."""

    begins_at: datetime
    ends_at: datetime
    bay: Hashable
    technician: Hashable

    @property
    def span(self) -> Span:
        return Span(self.begins_at, self.ends_at)


@dataclass(frozen=True)
class WorkingHours:
    """A technician's hours in the yard on one day of the week (Monday is 0), by the wall clock."""

    technician: Hashable
    weekday: int
    begins: time
    ends: time


@dataclass(frozen=True)
class Diary:
    """What is open and what is taken in one yard. Bays and technicians come in order of choice."""

    zone: tzinfo
    bays: Sequence[Hashable]
    hours: Sequence[WorkingHours]
    is_holiday: Callable[[date], bool] = field(default=lambda day: False)
    # First and last day of each absence.
    days_off: Mapping[Hashable, Sequence[tuple[date, date]]] = field(default_factory=dict)
    # The last day on which a technician may do the job; no limit for those not named.
    able_until: Mapping[Hashable, date] = field(default_factory=dict)
    bays_busy: Mapping[Hashable, Sequence[Span]] = field(default_factory=dict)
    technicians_busy: Mapping[Hashable, Sequence[Span]] = field(default_factory=dict)
    truck_busy: Sequence[Span] = ()


def moment(day: date, clock: time, zone: tzinfo) -> datetime:
    """Return when a wall clock of the zone shows this time, in UTC.

    A time that the clock skips in spring is an hour later; one that it shows twice is the first.
    """
    return datetime.combine(day, clock, zone).astimezone(UTC)


def working_spans(diary: Diary, day: date) -> list[tuple[Hashable, Span]]:
    """Return who works from when to when on a day; no one on a holiday or past `able_until`."""
    if diary.is_holiday(day):
        return []
    return [
        (
            hours.technician,
            Span(moment(day, hours.begins, diary.zone), moment(day, hours.ends, diary.zone)),
        )
        for hours in diary.hours
        if hours.weekday == day.weekday()
        and day <= diary.able_until.get(hours.technician, date.max)
        and not any(
            first <= day <= last for first, last in diary.days_off.get(hours.technician, ())
        )
    ]


def free_slots(
    diary: Diary,
    minutes: int,
    from_: datetime,
    days: int,
    *,
    not_before: time = time.min,
    grid_minutes: int = GRID_MINUTES,
) -> Iterator[Slot]:
    """Yield the times at which a job of so many minutes can begin, the earliest first.

    From the moment `from_` and over so many days, never before a time of day, on the wall clock's
    quarters or halves of an hour. A technician is offered once for a beginning, in the first bay
    that is free.
    """
    length, grid = timedelta(minutes=minutes), timedelta(minutes=grid_minutes)
    today = from_.astimezone(diary.zone).date()
    for day in (today + timedelta(days=ahead) for ahead in range(days)):
        earliest = max(from_.astimezone(UTC), moment(day, not_before, diary.zone))
        slots = [
            slot
            for technician, working in working_spans(diary, day)
            for begins_at in _beginnings(working, length, earliest, grid, diary.zone)
            if (slot := _slot(diary, technician, Span(begins_at, begins_at + length)))
        ]
        # Sorting is stable: technicians stay in order of choice.
        yield from sorted(slots, key=lambda slot: slot.begins_at)


def _beginnings(
    working: Span, length: timedelta, earliest: datetime, grid: timedelta, zone: tzinfo
) -> Iterator[datetime]:
    begins_at = max(working.begins_at, earliest)
    local = begins_at.astimezone(zone)
    past_the_hour = timedelta(
        minutes=local.minute, seconds=local.second, microseconds=local.microsecond
    )
    begins_at += -past_the_hour % grid
    while begins_at + length <= working.ends_at:
        yield begins_at
        begins_at += grid


def _slot(diary: Diary, technician: Hashable, span: Span) -> Slot | None:
    """The slot of a technician in the first bay that is free, if there is any."""
    if _taken(span, diary.truck_busy) or _taken(span, diary.technicians_busy.get(technician, ())):
        return None
    for bay in diary.bays:
        if not _taken(span, diary.bays_busy.get(bay, ())):
            return Slot(span.begins_at, span.ends_at, bay, technician)
    return None


def _taken(span: Span, busy: Sequence[Span]) -> bool:
    return any(span.overlaps(other) for other in busy)
