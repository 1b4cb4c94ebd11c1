"""The day's visits: what is booked today and tomorrow, and the trucks that are due by a finding."""

from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.utils import timezone

from fleetcool.models import Person, Role
from installs.models import Booking, Install, Tractor
from reports.visits import Stop, ask_rows, due_rows, stops_page

__all__ = ["Booked", "day_page"]

DAYS = 2


class Booked(NamedTuple):
    """A booking of the day, and the serial of the unit that is visited; empty where there is none."""

    booking: Booking
    serial: str


class DueStop(NamedTuple):
    """A truck that is due, and the unit in it."""

    stop: Stop
    serial: str


def day_page(user: Person, today: date) -> dict[str, object]:
    """Return the bookings of today and tomorrow, a technician's own, and the trucks that are due."""
    bookings = list(_bookings(user, today))
    page, _counts = stops_page(due_rows(user, today), ask_rows(user), today, 1)
    booked = {booking.tractor_id for booking in bookings}
    stops = [stop for stop in page.object_list if stop.tractor.pk not in booked]
    serials = _serials([*(one.tractor for one in bookings), *(one.tractor for one in stops)])
    return {
        "today": today,
        "booked": [
            Booked(one, serials.get(one.tractor_id) or (one.unit.serial if one.unit else ""))
            for one in bookings
        ],
        "due": [
            DueStop(one, serials[one.tractor.pk]) for one in stops if one.tractor.pk in serials
        ],
    }


def _bookings(user: Person, today: date):
    begin = timezone.make_aware(datetime.combine(today, time.min))
    end = timezone.make_aware(datetime.combine(today + timedelta(days=DAYS), time.min))
    bookings = Booking.objects.visible_to(user).open().between(begin, end).with_all()
    if user.role == Role.TECHNICIAN:
        bookings = bookings.filter(technician__person=user)
    return bookings.order_by("begins_at")


def _serials(tractors: list[Tractor]) -> dict[int, str]:
    """The unit in each truck now, by the truck's number in the database."""
    installs = Install.objects.current().filter(tractor__in=[one.pk for one in tractors])
    return dict(installs.order_by("installed_on").values_list("tractor_id", "unit__serial"))
