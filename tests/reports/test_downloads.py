"""Taking the workbook and the card away over the web."""

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from installs.models import Customer
from tests.factories import InstallFactory, TractorFactory


@pytest.fixture
def franks_unit(frank):
    tractor = TractorFactory(customer=Customer.objects.get(code="FRA"), truck_number="F-91")
    return InstallFactory(tractor=tractor, unit__serial="FRA-1").unit


def body(response) -> BytesIO:
    return BytesIO(b"".join(response.streaming_content))


def trucks(response) -> list[str]:
    book = CalamineWorkbook.from_filelike(body(response))
    return [row[1] for row in book.get_sheet_by_name("Trucks").to_python()[1:]]


def test_the_workbook_comes_as_a_spreadsheet_file(client, frank, franks_unit):
    client.force_login(frank)
    response = client.get(reverse("fleet_workbook"))
    assert "spreadsheetml.sheet" in response["Content-Type"]
    assert response["Content-Disposition"] == 'attachment; filename="fleet-workbook.xlsx"'
    assert trucks(response) == ["F-91"]


def test_another_fleets_manager_gets_a_workbook_without_it(client, frida, franks_unit):
    client.force_login(frida)
    assert trucks(client.get(reverse("fleet_workbook"))) == []


def test_a_manager_may_ask_for_one_customer_of_their_own(client, frank, franks_unit):
    client.force_login(frank)
    own = Customer.objects.get(code="FRA")
    assert trucks(client.get(reverse("fleet_workbook"), {"customer": own.pk})) == ["F-91"]


@pytest.mark.parametrize("guess", ["foreign", "999999", "1' or 1=1", "-1", "²", "9" * 40])
def test_guessing_another_customer_finds_nothing(client, frida, franks_unit, guess):
    client.force_login(frida)
    foreign = Customer.objects.get(code="FRA").pk
    response = client.get(
        reverse("fleet_workbook"), {"customer": foreign if guess == "foreign" else guess}
    )
    assert response.status_code == 404


def test_the_card_comes_as_a_pdf_whatever_the_case_of_the_serial(client, frank, franks_unit):
    client.force_login(frank)
    response = client.get(reverse("unit_card", args=["fra-1"]))
    assert response["Content-Type"] == "application/pdf"
    assert PdfReader(body(response)).metadata.title == "Unit card FRA-1"


def test_another_fleets_card_is_not_there(client, frida, franks_unit):
    client.force_login(frida)
    assert client.get(reverse("unit_card", args=["FRA-1"])).status_code == 404


def test_downloads_answer_no_post(client, frank, franks_unit):
    client.force_login(frank)
    assert client.post(reverse("fleet_workbook")).status_code == 405
    assert client.post(reverse("unit_card", args=["FRA-1"])).status_code == 405


def test_nobody_is_sent_to_sign_in_first(client, franks_unit):
    for address in (reverse("fleet_workbook"), reverse("unit_card", args=["FRA-1"])):
        response = client.get(address)
        assert response.status_code == 302
        assert response.url.startswith(reverse("login"))
