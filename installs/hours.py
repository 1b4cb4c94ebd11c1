"""The roster as a person reads it: each technician's week, certificate and days away."""

from collections.abc import Iterable, Iterator
from datetime import date
from itertools import groupby
from typing import NamedTuple

from django.db.models import Prefetch

from installs.models import Booking, Credential, DayOff, Shift, Technician, Weekday

__all__ = ["Rostered", "roster"]


class Rostered(NamedTuple):
    technician: Technician
    # `Monday–Friday 08:00–17:00, Bay yard`, a line for each run of equal days.
    week: list[str]
    away: list[DayOff]
    may_open_circuit: bool
    # Bookings that lie in days on which the technician is away.
    stranded: list[Booking]


def roster(user, today: date) -> list[Rostered]:
    """Return every technician with the week's hours and the days away that are not over."""
    technicians = Technician.objects.visible_to(user).prefetch_related(
        "skills",
        Prefetch("shifts", Shift.objects.select_related("yard")),
        Prefetch("days_off", DayOff.objects.filter(last_day__gte=today)),
        Prefetch(
            "bookings",
            Booking.objects.open().filter(begins_at__date__gte=today).with_all(),
        ),
    )
    accepted = Credential.accepted()
    return [
        Rostered(
            technician,
            _week(technician.shifts.all()),
            away := list(technician.days_off.all()),
            technician.may_sign_refrigerant(today, accepted),
            [b for b in technician.bookings.all() if any(day.covers(b.local_day) for day in away)],
        )
        for technician in technicians
    ]


def _week(shifts: Iterable[Shift]) -> list[str]:
    hours: dict[tuple, list[int]] = {}
    for shift in shifts:
        hours.setdefault((shift.begins, shift.ends, shift.yard), []).append(shift.weekday)
    return [
        f"{days} {begins:%H:%M}–{ends:%H:%M}, {yard}"
        for (begins, ends, yard), weekdays in hours.items()
        for days in _runs(weekdays)
    ]


def _runs(weekdays: list[int]) -> Iterator[str]:
    """Days that follow one another as one: `Monday–Friday`."""
    for _offset, run in groupby(enumerate(sorted(weekdays)), lambda place: place[1] - place[0]):
        labels = [str(Weekday(weekday).label) for _place, weekday in run]
        yield labels[0] if len(labels) == 1 else f"{labels[0]}–{labels[-1]}"
