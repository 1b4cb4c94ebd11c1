"""Who works when: what the office sees and enters."""

from datetime import date

import pytest
from django.urls import reverse

from installs.models import Credential, DayOff
from tests.factories import BayFactory, BookingFactory, CertifiedFactory, TechnicianFactory


@pytest.fixture
def address(client, olga):
    client.force_login(olga)
    return reverse("hours")


def test_the_office_enters_a_single_day_off(client, address):
    technician = TechnicianFactory()
    client.post(address, {"technician": technician.pk, "first_day": "2026-12-24", "why": "family"})
    away = DayOff.objects.get()
    assert (away.first_day, away.last_day) == (date(2026, 12, 24), date(2026, 12, 24))


def test_days_in_the_wrong_order_are_refused_in_words(client, address):
    technician = TechnicianFactory()
    said = client.post(
        address,
        {"technician": technician.pk, "first_day": "2026-12-24", "last_day": "2026-12-20"},
    )
    assert "The last day off comes before the first." in said.content.decode()
    assert not DayOff.objects.exists()


def test_a_booking_in_the_days_off_is_told_of_at_once_and_on_the_page(client, address):
    booking = BookingFactory()
    said = client.post(
        address,
        {
            "technician": booking.technician.pk,
            "first_day": booking.local_day.isoformat(),
            "why": "",
        },
        follow=True,
    ).content.decode()
    assert "1 booking lies in these days" in said
    assert booking.get_absolute_url() in said


def test_equal_days_are_read_as_one_line(client, address):
    yard = BayFactory().yard
    technician = CertifiedFactory(yard=yard)
    technician.shifts.filter(weekday=2).delete()
    said = client.get(address).content.decode()
    assert "Monday–Tuesday 08:00–17:00, Shop yard" in said
    assert "Thursday–Friday 08:00–17:00, Shop yard" in said


def test_days_are_taken_back(client, address):
    away = DayOff.objects.create(
        technician=TechnicianFactory(), first_day=date(2099, 1, 1), last_day=date(2099, 1, 2)
    )
    client.post(reverse("day_off_end", args=[away.pk]))
    assert not DayOff.objects.exists()


def test_a_technician_reads_the_page_and_changes_nothing(client, address, tomas):
    client.force_login(tomas)
    assert client.get(address).context["form"] is None
    client.post(address, {"technician": TechnicianFactory().pk, "first_day": "2026-12-24"})
    assert not DayOff.objects.exists()


def test_the_page_asks_the_database_no_more_for_more_technicians(
    client, address, django_assert_max_num_queries
):
    yard = BayFactory().yard
    for _number in range(8):
        CertifiedFactory(yard=yard)
    with django_assert_max_num_queries(12):
        client.get(address)


class TestWhoseCertificateCounts:
    def test_section_609_does_in_the_united_states(self, db):
        assert CertifiedFactory().may_sign_refrigerant(date(2026, 11, 25))

    def test_not_after_its_last_day(self, db):
        expired = CertifiedFactory(certified_until=date(2026, 6, 30))
        assert expired.may_sign_refrigerant(date(2026, 6, 30))
        assert not expired.may_sign_refrigerant(date(2026, 7, 1))

    def test_not_that_of_another_country(self, db, settings):
        settings.REGION = "MX"
        assert not CertifiedFactory().may_sign_refrigerant(date(2026, 11, 25))

    def test_one_that_the_shop_recorded_as_accepted_does(self, db, settings):
        settings.REGION = "MX-NLE"
        Credential.objects.create(scheme="Registro local", authority="The local authority")
        technician = CertifiedFactory(certification_scheme="registro LOCAL")
        assert technician.may_sign_refrigerant(date(2026, 11, 25))
