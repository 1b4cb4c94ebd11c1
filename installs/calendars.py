"""Bookings as iCalendar (RFC 5545): feeds that a calendar reads, and invitations by e-mail.

Moments are in UTC, which needs no time-zone table on the other side. A feed goes to whoever has
its address: it says what a technician needs to find the truck, and nothing else of the customer.
"""

from datetime import datetime, timedelta
from email.utils import parseaddr
from enum import StrEnum

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, Timezone, vCalAddress

from installs.models import Booking, BookingState, CalendarFeed

__all__ = ["Method", "feed", "invitation", "of_booking"]

PRODUCT = "-//Fleetcool//Bookings//EN"
# How long a calendar still hears of a booking that is past, or was called off.
KEPT = timedelta(days=30)
# How often it may ask again (RFC 7986).
ASK_AGAIN = timedelta(minutes=15)


class Method(StrEnum):
    """What the other calendar is to do (RFC 5546)."""

    REQUEST = "REQUEST"
    CANCEL = "CANCEL"


def feed(of: CalendarFeed, now: datetime) -> bytes:
    """The bookings of a technician or of a bay, those of the last month included."""
    whose = {"technician": of.technician} if of.technician_id else {"bay": of.bay}
    bookings = Booking.objects.with_all().filter(**whose, ends_at__gte=now - KEPT)
    bookings = bookings.exclude(state=BookingState.CALLED_OFF, changed_at__lt=now - KEPT)
    calendar = _calendar([_for_the_shop(booking) for booking in bookings])
    calendar.add("x-wr-calname", str(of))
    calendar.add("refresh-interval", ASK_AGAIN)
    if not calendar.subcomponents:
        # A calendar must hold something; the shop's zone says nothing and is allowed.
        zone, year = timezone.get_default_timezone_name(), timedelta(days=366)
        calendar.add_component(Timezone.from_tzid(zone, first_date=now, last_date=now + year))
    return calendar.to_ical()


def of_booking(booking: Booking) -> bytes:
    """One booking as a file for somebody of the shop."""
    return _calendar([_for_the_shop(booking)]).to_ical()


def invitation(booking: Booking, now: datetime) -> tuple[Method, bytes]:
    """What the customer's calendar takes in: the booking, or that it is called off."""
    method = Method.CANCEL if booking.state == BookingState.CALLED_OFF else Method.REQUEST
    event = _event(booking, written_at=now)
    event.add("organizer", vCalAddress(f"mailto:{parseaddr(settings.DEFAULT_FROM_EMAIL)[1]}"))
    attendee = vCalAddress(f"mailto:{booking.contact_email}")
    attendee.params["RSVP"] = "FALSE"
    event.add("attendee", attendee)
    calendar = _calendar([event])
    calendar.add("method", method.value)
    return method, calendar.to_ical()


def _calendar(events: list[Event]) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    for event in events:
        calendar.add_component(event)
    return calendar


def _event(booking: Booking, written_at: datetime) -> Event:
    """What everyone is told of a booking: when, where, which truck, which job."""
    event = Event()
    event.add("uid", str(booking.uid))
    event.add("dtstamp", written_at)
    event.add("sequence", booking.sequence)
    event.add("status", "CANCELLED" if booking.state == BookingState.CALLED_OFF else "CONFIRMED")
    event.add("dtstart", booking.begins_at)
    event.add("dtend", booking.ends_at)
    truck = booking.tractor.truck_number or booking.tractor.vin
    event.add("summary", _("Truck %(truck)s: %(job)s") % {"truck": truck, "job": booking.job})
    event.add("location", f"{booking.bay.yard}, {booking.bay.name}")
    return event


def _for_the_shop(booking: Booking) -> Event:
    event = _event(booking, written_at=booking.changed_at)
    event.add("last-modified", booking.changed_at)
    lines = [_("VIN %(vin)s") % {"vin": booking.tractor.vin}, str(booking.technician)]
    if booking.unit_model:
        serial = booking.unit or _("no unit held")
        lines.append(
            _("Unit %(model)s, %(serial)s") % {"model": booking.unit_model, "serial": serial}
        )
    if booking.pass_through:
        lines.append(_("Hoses %(way)s") % {"way": booking.get_pass_through_display()})
    if booking.mounting_side:
        lines.append(_("Mounted: %(side)s") % {"side": booking.get_mounting_side_display()})
    event.add("description", "\n".join(lines))
    event.add("url", settings.SITE_URL + booking.get_absolute_url())
    return event
