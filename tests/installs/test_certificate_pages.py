"""The page of a certificate, and what whoever scans its code may know."""

from datetime import UTC, datetime

import pytest
from django.urls import reverse

from installs.certificates import issue
from installs.models import Certificate, Customer, Override
from tests.factories import StepRecordFactory
from tests.installs.proved import MEASURED, proved_commissioning

NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)


@pytest.fixture
def certificate(frida, osman) -> Certificate:
    """Frida's unit K-7, one proof of which Osman let pass."""
    commissioning = proved_commissioning(Customer.objects.get(code="FRI"), serial="K-7")
    record = StepRecordFactory(
        commissioning=commissioning,
        step="supply",
        measured=MEASURED["supply"] | {"fuse_to_battery_cm": 60},
        taken_at=NOON,
    )
    Override.objects.create(
        record=record, proof="fuse_to_battery", reason="Sheathed all the way", person=osman, at=NOON
    )
    return issue(commissioning, commissioning.technician, "Dana Driver", [], NOON)


def page(client, address: str) -> str:
    return client.get(address).content.decode().replace("\xa0", " ")


def secrets(certificate: Certificate) -> list[str]:
    tractor = certificate.commissioning.install.tractor
    return [
        "Frida",
        tractor.vin,
        f">{tractor.truck_number}<",
        "Ines Instala",
        "Dana Driver",
        "Shop yard",
        "Sheathed",
        "R-134a",
    ]


@pytest.mark.parametrize("person", [None, "olga", "frank"])
def test_the_public_page_shows_serial_day_and_state_only(client, request, certificate, person):
    if person:
        client.force_login(request.getfixturevalue(person))
    text = page(client, certificate.get_public_url())
    for fact in ("K-7", "2026-11-30", "Valid"):
        assert fact in text
    assert [word for word in secrets(certificate) if word in text] == []


def test_the_page_of_a_certificate_has_what_the_public_one_hides(client, frida, certificate):
    client.force_login(frida)
    text = page(client, certificate.get_absolute_url())
    assert [word for word in secrets(certificate) if word not in text] == []


def test_the_public_page_is_not_for_search_engines(client, certificate):
    response = client.get(certificate.get_public_url())
    assert response["X-Robots-Tag"] == "noindex"
    assert '<meta name="robots" content="noindex">' in response.content.decode()


@pytest.mark.parametrize("token", ["x", "a" * 22, "a" * 400])
def test_a_guessed_token_opens_nothing(client, certificate, token):
    assert client.get(reverse("certificate_public", args=[token])).status_code == 404


def test_the_public_page_says_when_it_is_withdrawn_but_not_why(client, olga, certificate):
    client.force_login(olga)
    client.post(reverse("certificate_withdraw", args=[certificate.pk]), {"why": "Wrong serial"})
    text = page(client, certificate.get_public_url())
    assert "Withdrawn" in text
    assert "Valid" not in text
    assert "Wrong serial" not in text


def test_the_public_page_says_when_the_unit_has_left_the_truck(client, certificate):
    install = certificate.commissioning.install
    install.removed_on = NOON.date()
    install.save()
    text = page(client, certificate.get_public_url())
    assert "Ended: the unit has left the truck" in text
    assert "Valid" not in text


def test_what_was_let_pass_stands_in_plain_sight(client, frida, certificate):
    client.force_login(frida)
    text = page(client, certificate.get_absolute_url())
    assert (
        "Battery supply, Cable from battery to fuse: look again. "
        "Let pass by osman on 2026-11-30: Sheathed all the way" in text
    )


def test_quantities_are_in_the_persons_units(client, frida, certificate):
    client.force_login(frida)
    # 550 g are 19.4 oz, 20 °C are 68 °F: defined conversions, NIST SP 811.
    text = page(client, certificate.get_absolute_url())
    assert "19.4 oz" in text
    assert "68.0 °F" in text


@pytest.mark.parametrize("person", ["olga", "osman"])
def test_the_office_and_the_owner_withdraw_it_with_a_reason(client, request, certificate, person):
    who = request.getfixturevalue(person)
    client.force_login(who)
    address = reverse("certificate_withdraw", args=[certificate.pk])
    assert "Say in a few words why" in client.post(address, {"why": "bad"}).content.decode()
    assert client.post(address, {"why": "Wrong serial on the plate"}).status_code == 302
    certificate.refresh_from_db()
    assert certificate.withdrawn_by == who
    assert certificate.withdrawn_why == "Wrong serial on the plate"


@pytest.mark.parametrize(("person", "status"), [("tomas", 403), ("frida", 403), ("frank", 403)])
def test_nobody_else_withdraws_it(client, request, certificate, person, status):
    client.force_login(request.getfixturevalue(person))
    address = reverse("certificate_withdraw", args=[certificate.pk])
    assert client.post(address, {"why": "Wrong serial on the plate"}).status_code == status
    certificate.refresh_from_db()
    assert certificate.withdrawn_at is None


def test_the_page_asks_few_questions_of_the_database(
    client, frida, certificate, django_assert_max_num_queries
):
    client.force_login(frida)
    with django_assert_max_num_queries(5):
        client.get(certificate.get_absolute_url())
