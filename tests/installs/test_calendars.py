"""The feeds, read back by another library (vobject) and against the wording of RFC 5545."""

from datetime import UTC, datetime, timedelta

import pytest
import vobject
from django.urls import reverse

from installs.bookings import call_off, move, slot_of
from installs.calendars import Method, feed, invitation, of_booking
from installs.models import Booking, CalendarFeed
from tests.factories import (
    BayFactory,
    BookingFactory,
    CertifiedFactory,
    CustomerFactory,
    TechnicianFactory,
    TractorFactory,
    YardFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
SPECIAL = 'Box, "left"; back\\slash\nand a second line, ñandú ' + "long " * 30


def events(calendar: bytes) -> list:
    return vobject.readOne(calendar.decode()).contents.get("vevent", [])


@pytest.fixture
def booking():
    bay = BayFactory(name="Bay 1", yard=YardFactory(customer=None, name="Shop yard"))
    customer = CustomerFactory(name="Secret fleet", contact_email="boss@fleet.example")
    return BookingFactory(
        bay=bay,
        technician=CertifiedFactory(name="Ann", yard=bay.yard),
        tractor=TractorFactory(truck_number="T-104", customer=customer),
        job__name="Install",
        contact_email="boss@fleet.example",
        note="Call the boss at home",
    )


@pytest.fixture
def anns(booking):
    return CalendarFeed.objects.create(technician=booking.technician)


def test_an_event_says_when_where_which_truck_and_which_job(booking, anns):
    [event] = events(feed(anns, NOW))
    assert event.uid.value == str(booking.uid)
    assert event.summary.value == "Truck T-104: Install"
    assert event.location.value == "Shop yard, Bay 1"
    assert (event.dtstart.value, event.dtend.value) == (booking.begins_at, booking.ends_at)
    assert (event.sequence.value, event.status.value) == ("0", "CONFIRMED")
    assert abs(event.dtstamp.value - booking.changed_at) < timedelta(seconds=1)
    assert event.url.value.endswith(booking.get_absolute_url())
    assert booking.unit.serial in event.description.value
    assert "Hoses through the floor" in event.description.value


def test_moments_are_written_in_utc(booking):
    text = of_booking(booking).decode()
    assert "DTSTART:20261130T140000Z\r\n" in text
    assert "DTEND:20261130T200000Z\r\n" in text


def test_a_feed_says_no_more_of_the_customer_than_a_technician_needs(booking, anns):
    text = feed(anns, NOW).decode().replace("\r\n ", "")
    assert [word for word in ("Secret", "boss", "home") if word in text] == []


def test_lines_are_folded_at_75_octets_and_end_in_crlf(booking, anns):
    # RFC 5545, 3.1: lines of at most 75 octets, without the line break, which is CRLF.
    booking.job.name = "ñ" * 60
    booking.job.save()
    lines = feed(anns, NOW).split(b"\r\n")
    assert max(len(line) for line in lines) <= 75
    assert b"\n" not in b"".join(lines)
    assert any(line.startswith(b" ") for line in lines)
    assert events(feed(anns, NOW))[0].summary.value == "Truck T-104: " + "ñ" * 60


def test_commas_semicolons_backslashes_and_line_breaks_survive(booking, anns):
    # RFC 5545, 3.3.11.
    booking.tractor.truck_number = SPECIAL[:40]
    booking.tractor.save()
    raw = feed(anns, NOW).decode().replace("\r\n ", "")
    assert 'Box\\, "left"\\; back\\\\slash\\nand' in raw
    assert events(feed(anns, NOW))[0].summary.value == f"Truck {SPECIAL[:40]}: Install"


def test_a_feed_holds_the_bookings_of_its_technician_or_its_bay_only(booking, anns):
    other = BookingFactory(bay=booking.bay, begins_at=NOW, ends_at=NOW + timedelta(hours=6))
    bays = CalendarFeed.objects.create(bay=booking.bay)
    assert [event.uid.value for event in events(feed(anns, NOW))] == [str(booking.uid)]
    assert [event.uid.value for event in events(feed(bays, NOW))] == [
        str(other.uid),
        str(booking.uid),
    ]


def test_what_is_called_off_stays_as_cancelled_for_thirty_days(booking, anns):
    call_off(booking, by=None, why="sold", now=NOW)
    changed = booking.changed_at
    later = changed + timedelta(days=90)
    Booking.objects.update(begins_at=later, ends_at=later + timedelta(hours=6))
    [event] = events(feed(anns, changed + timedelta(days=30)))
    assert (event.status.value, event.sequence.value) == ("CANCELLED", "1")
    assert events(feed(anns, changed + timedelta(days=30, seconds=1))) == []


def test_what_is_long_past_is_left_out(booking, anns):
    assert len(events(feed(anns, booking.ends_at + timedelta(days=30)))) == 1
    assert events(feed(anns, booking.ends_at + timedelta(days=31))) == []


def test_a_moved_booking_is_the_same_event_with_a_higher_sequence(booking, anns):
    later = slot_of(
        booking.job, booking.begins_at + timedelta(days=1), booking.bay, booking.technician
    )
    move(booking, later, by=None, now=NOW)
    [event] = events(feed(anns, NOW))
    assert (event.uid.value, event.sequence.value) == (str(booking.uid), "1")
    assert event.dtstart.value == later.begins_at


def test_a_feed_without_bookings_is_still_a_calendar():
    # RFC 5545, 3.6: at least one component.
    empty = CalendarFeed.objects.create(technician=TechnicianFactory(name="New one"))
    calendar = vobject.readOne(feed(empty, NOW).decode())
    assert calendar.prodid.value
    assert calendar.version.value == "2.0"
    assert "vtimezone" in calendar.contents


def test_a_feed_costs_one_query_however_many_bookings(booking, anns, django_assert_num_queries):
    for day in range(1, 4):
        BookingFactory(
            technician=booking.technician,
            begins_at=booking.begins_at + timedelta(days=day),
            ends_at=booking.ends_at + timedelta(days=day),
        )
    with django_assert_num_queries(1):
        assert len(events(feed(anns, NOW))) == 4


def test_an_invitation_asks_the_customers_calendar_and_a_cancelled_one_takes_it_back(booking):
    # RFC 5546, 3.2.2 and 3.2.5: METHOD, ORGANIZER and ATTENDEE are asked for.
    method, calendar = invitation(booking, NOW)
    assert method == Method.REQUEST
    read = vobject.readOne(calendar.decode())
    assert read.method.value == "REQUEST"
    assert read.vevent.attendee.value == "mailto:boss@fleet.example"
    assert read.vevent.organizer.value.startswith("mailto:")
    assert read.vevent.dtstamp.value == NOW
    assert "description" not in read.vevent.contents
    call_off(booking, by=None, why="sold", now=NOW)
    method, calendar = invitation(booking, NOW)
    read = vobject.readOne(calendar.decode())
    assert (method, read.method.value) == (Method.CANCEL, "CANCEL")
    assert (read.vevent.status.value, read.vevent.sequence.value) == ("CANCELLED", "1")


# The address


def test_a_feed_is_opened_by_its_token_without_signing_in(client, booking, anns):
    response = client.get(reverse("calendar_feed", args=[anns.token]))
    assert response.status_code == 200
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert "no-store" in response["Cache-Control"]
    assert len(events(response.content)) == 1


def test_a_wrong_token_opens_nothing(client, anns):
    assert client.get(reverse("calendar_feed", args=["x" * 32])).status_code == 404
    upper = anns.token.swapcase()
    assert client.get(reverse("calendar_feed", args=[upper])).status_code == 404


def test_a_changed_address_closes_the_old_one(client, olga, anns):
    client.force_login(olga)
    old = anns.token
    whose = f"technician-{anns.technician.pk}"
    client.post(reverse("calendar_change"), {"whose": whose})
    anns.refresh_from_db()
    assert client.get(reverse("calendar_feed", args=[old])).status_code == 404
    assert client.get(reverse("calendar_feed", args=[anns.token])).status_code == 200
    assert anns.token in client.get(reverse("calendars")).content.decode()


def test_the_office_opens_a_feed_for_a_bay(client, olga, booking):
    client.force_login(olga)
    assert "Make an address" in client.get(reverse("calendars")).content.decode()
    client.post(reverse("calendar_change"), {"whose": f"bay-{booking.bay.pk}"})
    assert CalendarFeed.objects.get().bay == booking.bay


def test_a_technician_has_their_own_address_only(client, tomas, booking, anns):
    own = TechnicianFactory(name="Tomás", person=tomas)
    client.force_login(tomas)
    page = client.get(reverse("calendars"))
    assert [one.of for one in page.context["feeds"]] == [own]
    refused = client.post(
        reverse("calendar_change"), {"whose": f"technician-{booking.technician.pk}"}
    )
    assert refused.status_code == 404
    client.post(reverse("calendar_change"), {"whose": f"technician-{own.pk}"})
    assert CalendarFeed.objects.filter(technician=own).exists()


@pytest.mark.parametrize("person", ["clara", "frida"])
def test_others_have_no_address(client, request, person):
    client.force_login(request.getfixturevalue(person))
    assert client.get(reverse("calendars")).status_code == 403
