"""The day's visits: what is booked today and tomorrow, and the trucks that are due by a finding."""

from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.utils import timezone

from fleetcool.models import Person, Role
from installs.models import Booking, Install, Tractor, Unit
from reports.care_rows import due_words
from reports.visits import Stop, ask_rows, due_rows, stops_page

__all__ = ["Booked", "day_page"]

DAYS = 2


class Booked(NamedTuple):
    """A booking of the day, the serial of the unit that is visited, and what care is due at it.

    Both are empty where there is none.
    """

    booking: Booking
    serial: str
    care: str


class DueStop(NamedTuple):
    """A truck that is due, the unit in it, and what care rides with the stop; empty for none."""

    stop: Stop
    serial: str
    care: str


def day_page(user: Person, today: date) -> dict[str, object]:
    """Return the bookings of today and tomorrow, a technician's own, and the trucks that are due."""
    bookings = list(_bookings(user, today))
    page, _counts = stops_page(due_rows(user, today), ask_rows(user), today, 1)
    booked = {booking.tractor_id for booking in bookings}
    stops = [stop for stop in page.object_list if stop.tractor.pk not in booked]
    units = _units([*(one.tractor for one in bookings), *(one.tractor for one in stops)])
    care = due_words(list(units.values()), user, today)
    return {
        "today": today,
        "booked": [
            Booked(one, unit.serial if unit else "", care.get(unit.pk, "") if unit else "")
            for one in bookings
            for unit in [units.get(one.tractor_id) or one.unit]
        ],
        "due": [
            DueStop(one, unit.serial, care.get(unit.pk, ""))
            for one in stops
            if (unit := units.get(one.tractor.pk))
        ],
    }


def _bookings(user: Person, today: date):
    begin = timezone.make_aware(datetime.combine(today, time.min))
    end = timezone.make_aware(datetime.combine(today + timedelta(days=DAYS), time.min))
    bookings = Booking.objects.visible_to(user).open().between(begin, end).with_all()
    if user.role == Role.TECHNICIAN:
        bookings = bookings.filter(technician__person=user)
    return bookings.order_by("begins_at")


def _units(tractors: list[Tractor]) -> dict[int, Unit]:
    """The unit in each truck now, by the truck's number in the database."""
    installs = Install.objects.current().filter(tractor__in=[one.pk for one in tractors])
    rows = installs.order_by("installed_on").select_related("unit")
    return {install.tractor_id: install.unit for install in rows}
