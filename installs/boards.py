"""The bookings of a yard laid out by day and by bay, for the eye."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.db.models import QuerySet
from django.utils import timezone

from installs.closed_days import holiday_name
from installs.models import Bay, Booking, DayOff, Technician, Yard
from installs.slots import moment

__all__ = ["board"]


@dataclass(frozen=True)
class Cell:
    """A place in the table of a day: a booking over some rows, or a time that is free."""

    booking: Booking | None = None
    rows: int = 1


@dataclass(frozen=True)
class Lane:
    """A bay with what is done in it on one day, in the order of time."""

    bay: Bay
    bookings: list[Booking]


@dataclass(frozen=True)
class Day:
    day: date
    lanes: list[Lane]
    holiday: str = ""
    away: list[Technician] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        return not any(lane.bookings for lane in self.lanes)

    def table(self) -> list[tuple[datetime, datetime, list[Cell]]]:
        """The rows of a table with the bays as columns: from, to, and the cells that begin there.

        A row ends wherever a booking begins or ends; a booking takes as many rows as it lasts.
        """
        bookings = [booking for lane in self.lanes for booking in lane.bookings]
        edges = sorted({edge for one in bookings for edge in (one.begins_at, one.ends_at)})
        return [
            (begin, end, [cell for lane in self.lanes for cell in _cells(lane, begin, edges)])
            for begin, end in zip(edges, edges[1:], strict=False)
        ]


def board(yard: Yard, first: date, days: int, bookings: QuerySet[Booking]) -> list[Day]:
    """Lay out the bookings that stand in a yard's bays over some days, in three queries."""
    zone = timezone.get_default_timezone()
    last = first + timedelta(days=days - 1)
    begin = moment(first, time.min, zone)
    end = moment(last + timedelta(days=1), time.min, zone)
    bays = list(yard.bays.all())
    taken = list(bookings.standing().with_all().between(begin, end).filter(bay__in=bays))
    away = DayOff.objects.filter(
        technician__shifts__yard=yard, first_day__lte=last, last_day__gte=first
    )
    away = list(away.select_related("technician").distinct())
    return [
        Day(
            day=day,
            lanes=[Lane(bay, _of(bay, day, taken)) for bay in bays],
            holiday=holiday_name(day),
            away=[absence.technician for absence in away if absence.covers(day)],
        )
        for day in (first + timedelta(days=ahead) for ahead in range(days))
    ]


def _of(bay: Bay, day: date, bookings: Iterable[Booking]) -> list[Booking]:
    return [one for one in bookings if one.bay_id == bay.pk and one.local_day == day]


def _cells(lane: Lane, begin: datetime, edges: list[datetime]) -> list[Cell]:
    """The cell of a bay that begins at a moment; none where a booking reaches over it."""
    for booking in lane.bookings:
        if booking.begins_at == begin:
            return [Cell(booking, edges.index(booking.ends_at) - edges.index(begin))]
        if booking.begins_at < begin < booking.ends_at:
            return []
    return [Cell()]
