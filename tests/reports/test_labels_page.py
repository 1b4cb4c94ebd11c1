"""The page on which labels are chosen, and the PDF it leads to."""

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from reports.views import labels as views
from tests.factories import InstallFactory, TractorFactory, UnitFactory, YardFactory

pytestmark = pytest.mark.django_db

PAGE, SHEET = "labels", "label_sheet"


@pytest.fixture
def yard():
    return YardFactory(customer=None, name="Shop yard")


@pytest.fixture
def office(client, olga):
    client.force_login(olga)
    return client


@pytest.fixture
def stock(yard):
    """Two units in the yard, one scrapped there, one in a truck and one that was in it before."""
    for serial in ("K-8", "K-7"):
        UnitFactory(serial=serial, yard=yard)
    UnitFactory(serial="K-1", yard=yard, left_stock="scrapped")
    tractor = TractorFactory()
    InstallFactory(unit=UnitFactory(serial="T-1"), tractor=tractor, removed_on="2024-06-01")
    InstallFactory(unit=UnitFactory(serial="T-2"), tractor=tractor, installed_on="2024-06-01")
    return tractor.customer


def chosen(response) -> list[str]:
    return [unit.serial for unit in response.context["chosen"].units]


def sheet(client, asked) -> PdfReader:
    return opened(client, reverse(SHEET, query=asked))


def opened(client, address: str) -> PdfReader:
    response = client.get(address)
    assert response.headers["Content-Type"] == "application/pdf"
    return PdfReader(BytesIO(b"".join(response.streaming_content)))


def test_a_yard_is_what_lies_in_it(office, stock, yard):
    assert chosen(office.get(reverse(PAGE), {"yard": yard.pk})) == ["K-7", "K-8"]


def test_a_customer_is_what_stands_in_their_trucks_now(office, stock):
    assert chosen(office.get(reverse(PAGE), {"customer": stock.pk})) == ["T-2"]


def test_serials_come_in_the_order_typed_and_once(office, stock):
    asked = {"serials": "T-2\r\n\r\n k-8 \r\nK-7\r\nK-8\r\n"}
    assert chosen(office.get(reverse(PAGE), asked)) == ["T-2", "K-8", "K-7"]


def test_a_serial_that_no_unit_has_is_named_with_its_line_and_the_others_go_on(office, stock):
    asked = {"serials": "K-7\n\nNO-9\nK-8"}
    response = office.get(reverse(PAGE), asked)
    assert response.context["chosen"].wrong == [(3, "NO-9")]
    assert "Line 3: <strong>NO-9</strong>" in response.content.decode()
    words = sheet(office, asked).pages[0].extract_text()
    assert "K-7" in words
    assert "K-8" in words
    assert "NO-9" not in words


@pytest.mark.parametrize(("skip", "sheets"), [(22, "1 sheet"), (23, "2 sheets")])
def test_the_page_counts_labels_and_sheets_and_leads_to_the_pdf(office, stock, yard, skip, sheets):
    response = office.get(reverse(PAGE), {"yard": yard.pk, "skip": skip})
    words = " ".join(response.content.decode().split())
    assert f"2 labels, {sheets}</p>" in words
    (address,) = response.context["files"]
    assert len(opened(office, address).pages) == int(sheets[0])


@pytest.mark.parametrize(
    "asked",
    [{"skip": 3}, {"yard": "YARD", "serials": "K-7"}, {"yard": 0}, {"skip": 24, "serials": "K-7"}],
)
def test_what_cannot_be_is_said_on_the_page_and_prints_nothing(office, stock, yard, asked):
    asked = {name: yard.pk if value == "YARD" else value for name, value in asked.items()}
    response = office.get(reverse(SHEET), asked, follow=True)
    assert response.redirect_chain[0][0].startswith(reverse(PAGE) + "?")
    assert response.context["form"].errors
    assert "chosen" not in response.context


def test_serials_of_no_unit_alone_lead_back_to_the_page_that_names_them(office):
    response = office.get(reverse(SHEET), {"serials": "NO-9"}, follow=True)
    assert response.context["chosen"].wrong == [(1, "NO-9")]
    assert "there is no label to print" in response.content.decode()


def test_many_labels_come_in_files_of_whole_sheets(office, yard, monkeypatch):
    monkeypatch.setattr(views, "SHEETS_PER_FILE", 1)
    for number in range(30):
        UnitFactory(serial=f"K-{number:02d}", yard=yard)
    files = office.get(reverse(PAGE), {"yard": yard.pk, "skip": 4}).context["files"]
    read = [opened(office, address) for address in files]
    assert [len(pdf.pages) for pdf in read] == [1, 1]
    first, second = (pdf.pages[0].extract_text() for pdf in read)
    assert [n for n in range(30) if f"K-{n:02d}" in first] == [*range(20)]
    assert [n for n in range(30) if f"K-{n:02d}" in second] == [*range(20, 30)]


def test_the_questions_asked_do_not_grow_with_the_units(
    office, yard, django_assert_max_num_queries
):
    for number in range(30):
        UnitFactory(serial=f"K-{number:02d}", yard=yard)
    # The session, the person, both lists to choose from, the yard chosen and the units.
    with django_assert_max_num_queries(8):
        office.get(reverse(PAGE), {"yard": yard.pk})


def test_the_stock_page_leads_here(office):
    assert f'href="{reverse(PAGE)}"' in office.get(reverse("stock")).content.decode()


def test_a_units_page_leads_to_its_own_label(office):
    UnitFactory(serial="A/7&b")
    page = office.get(reverse("unit", args=["A/7&b"])).content.decode()
    assert f'href="{reverse(SHEET)}?serials=A%2F7%26b"' in page
    assert "A/7&b" in sheet(office, {"serials": "A/7&b"}).pages[0].extract_text()


def test_a_fleet_manager_sees_no_link_to_a_label(client, frida):
    install = InstallFactory(tractor__customer=frida.customers.get())
    client.force_login(frida)
    page = client.get(reverse("unit", args=[install.unit.serial])).content.decode()
    assert reverse(SHEET) not in page
