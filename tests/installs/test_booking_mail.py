"""The customer's e-mail, sent to a real mail server on this machine, or to one that is down."""

import socket
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
import vobject
from aiosmtpd.controller import Controller
from django.db import transaction
from django.urls import reverse
from django.utils import translation

from installs.bookings import book, call_off, hold, move, slot_of
from installs.models import Booking
from tests.factories import (
    BayFactory,
    CertifiedFactory,
    JobFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)
TUESDAY_8 = datetime(2026, 12, 1, 14, tzinfo=UTC)


class Received:
    """Keeps what comes in, as a mail server does; refuses all while `refusing`."""

    def __init__(self) -> None:
        self.messages: list[EmailMessage] = []
        self.refusing = False

    async def handle_DATA(self, server, session, envelope):
        if self.refusing:
            return "452 No room"
        self.messages.append(message_from_bytes(envelope.content, policy=policy.default))
        return "250 Taken"


@pytest.fixture
def smtp(settings):
    """Send by SMTP, to a port where nobody listens until a server is started."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.DEFAULT_FROM_EMAIL = "The shop <office@shop.example>"
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        settings.EMAIL_PORT = probe.getsockname()[1]
    return settings.EMAIL_PORT


@pytest.fixture
def server(smtp):
    received = Received()
    controller = Controller(received, hostname="127.0.0.1", port=smtp)
    controller.start()
    yield received
    controller.stop()


@pytest.fixture
def booked(django_capture_on_commit_callbacks):
    bay = BayFactory(name="Bay 1", yard=YardFactory(customer=None, name="Shop yard"))
    ann, job, model = (
        CertifiedFactory(yard=bay.yard),
        JobFactory(name="Install"),
        UnitModelFactory(),
    )
    for n in (1, 2):
        UnitFactory(serial=f"U-{n}", model=model, yard=bay.yard)
    slot = slot_of(job, TUESDAY_8, bay, ann)
    tractor = TractorFactory(truck_number="T-104")

    def run(email="boss@fleet.example", language="en") -> Booking:
        tractor.customer.language = language
        with django_capture_on_commit_callbacks(execute=True):
            return book(job, tractor, slot, by=None, now=NOW, unit_model=model, contact_email=email)

    return run


def invited(message: EmailMessage):
    """The calendar that is attached to a message, and the method its header names."""
    [part] = [part for part in message.walk() if part.get_content_type() == "text/calendar"]
    assert part.get_filename() == "booking.ics"
    return part.get_param("method"), vobject.readOne(part.get_payload(decode=True).decode())


def test_a_customer_who_reads_spanish_is_written_to_in_spanish(server, booked):
    booked(language="es")
    [message] = server.messages
    assert "martes" in message["Subject"].casefold()
    assert "Bring it by" not in message.get_body(("plain",)).get_content()


def test_the_customer_is_told_of_a_booking_with_the_calendar_file(server, booked):
    booking = booked()
    [message] = server.messages
    assert (message["To"], message["From"]) == (
        "boss@fleet.example",
        "The shop <office@shop.example>",
    )
    assert message["Subject"] == "Booked: truck T-104 on Tuesday, 1 December 2026 at 08:00"
    words = message.get_body(("plain",)).get_content()
    assert "Bring it by: 08:00" in words
    assert "Ready about: 14:00 CST" in words
    assert "Where: Shop yard, Bay 1" in words
    method, calendar = invited(message)
    assert (method, calendar.method.value) == ("REQUEST", "REQUEST")
    assert calendar.vevent.organizer.value == "mailto:office@shop.example"
    assert calendar.vevent.dtstart.value == TUESDAY_8
    booking.refresh_from_db()
    assert booking.mailed_sequence == 0


def test_without_an_address_nothing_is_sent(server, booked):
    booking = booked(email="")
    assert server.messages == []
    assert booking.mailed_sequence is None


def test_the_same_asked_twice_is_told_once(server, booked):
    assert booked() == booked()
    assert len(server.messages) == 1


def test_a_move_is_told_with_a_higher_sequence_and_a_call_off_takes_it_back(
    server, booked, django_capture_on_commit_callbacks
):
    booking = booked()
    later = slot_of(booking.job, TUESDAY_8.replace(hour=15), booking.bay, booking.technician)
    with django_capture_on_commit_callbacks(execute=True):
        move(booking, later, by=None, now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        call_off(booking, by=None, why="The boss is cross", now=NOW)
    _first, moved, gone = server.messages
    assert moved["Subject"].startswith("New time: truck T-104")
    assert "Bring it by: 09:00" in moved.get_body(("plain",)).get_content()
    assert gone["Subject"].startswith("Called off: truck T-104")
    assert "cross" not in gone.get_body(("plain",)).get_content()
    read = [invited(message) for message in server.messages]
    assert [method for method, _calendar in read] == ["REQUEST", "REQUEST", "CANCEL"]
    assert [calendar.vevent.sequence.value for _m, calendar in read] == ["0", "1", "2"]
    assert {calendar.vevent.uid.value for _m, calendar in read} == {str(booking.uid)}


def test_to_hold_another_unit_is_no_news_to_the_customer(
    server, booked, django_capture_on_commit_callbacks
):
    booking = booked()
    with django_capture_on_commit_callbacks(execute=True):
        hold(booking, "U-2", by=None)
    assert len(server.messages) == 1


def test_mail_goes_out_in_the_shops_language_whoever_books(server, booked):
    with translation.override("es"):
        booked()
    assert server.messages[0]["Subject"].startswith("Booked: truck")


def test_nothing_is_told_of_what_was_rolled_back(
    server, booked, django_capture_on_commit_callbacks
):
    booking = booked()
    with (
        django_capture_on_commit_callbacks(execute=True),
        pytest.raises(RuntimeError),
        transaction.atomic(),
    ):
        call_off(booking, by=None, why="sold", now=NOW)
        raise RuntimeError
    assert len(server.messages) == 1


def test_a_mail_server_that_is_down_loses_no_booking(smtp, booked):
    booking = booked()
    booking.refresh_from_db()
    assert booking.is_open
    assert booking.mailed_sequence is None


def test_the_page_says_that_the_mail_did_not_go_and_sends_it_again(client, olga, smtp, booked):
    booking = booked()
    client.force_login(olga)
    again = reverse("booking_confirm", args=[booking.pk])
    page = client.get(booking.get_absolute_url()).content.decode()
    assert "has not been told" in page
    assert again in page
    # Still down: still said.
    page = client.post(again, follow=True).content.decode()
    assert "could not be sent" in page
    assert "has not been told" in page
    received = Received()
    controller = Controller(received, hostname="127.0.0.1", port=smtp)
    controller.start()
    try:
        page = client.post(again, follow=True).content.decode()
    finally:
        controller.stop()
    assert "The confirmation went to boss@fleet.example" in page
    assert "has not been told" not in page
    assert len(received.messages) == 1


def test_a_server_that_refuses_the_mail_is_as_one_that_is_down(server, booked):
    server.refusing = True
    assert booked().mailed_sequence is None
    assert Booking.objects.count() == 1


def test_a_change_of_which_the_mail_failed_is_not_told_by_the_mail_before(
    client, olga, server, booked, django_capture_on_commit_callbacks
):
    booking = booked()
    server.refusing = True
    with django_capture_on_commit_callbacks(execute=True):
        call_off(booking, by=olga, why="sold", now=NOW)
    client.force_login(olga)
    page = client.get(booking.get_absolute_url()).content.decode()
    assert "has not been told" in page
