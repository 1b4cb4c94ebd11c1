"""The pages of campaigns: look before opening, tell, write down, and the one line on a unit's page."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pytest
from django.utils import timezone
from pypdf import PdfReader

from reports.campaign_page import completion
from reports.exports.letter import write_letter
from service.campaigning import addressees
from service.models import Campaign, CampaignUnit
from tests.factories import (
    BookingFactory,
    CampaignFactory,
    CampaignUnitFactory,
    CustomerFactory,
    InstallFactory,
    UnitFactory,
    VisitFactory,
)

pytestmark = pytest.mark.django_db

BULLETIN = {
    "number": "B-7",
    "title": "Fans",
    "words": "Bearings run dry.",
    "until_done": "Listen for grinding.",
    "lots": "",
    "made_from": "",
    "made_to": "",
    "serials": "",
}


@pytest.fixture
def clerk(client, clara):
    client.force_login(clara)
    return client


def in_a_truck(customer=None, **unit):
    about = {f"unit__{name}": value for name, value in unit.items()}
    return InstallFactory(tractor__customer=customer or CustomerFactory(), **about)


def affected(customer=None, **about) -> CampaignUnit:
    return CampaignUnitFactory(unit=in_a_truck(customer).unit, **about)


def test_a_bulletin_is_looked_at_before_it_is_opened(clerk):
    UnitFactory(serial="A-1", lot="L7", made_on=date(2024, 1, 5))
    UnitFactory(serial="A-2", lot="L7", made_on=None)
    asked = BULLETIN | {"lots": "L7", "made_from": "2024-01-01"}
    page = clerk.post("/campaigns/new/", asked | {"look": "1"}).content.decode()
    assert "It is for 1 unit<" in page
    assert "A-1, " in page
    assert "1 unit that may belong to it has no made-on day on record." in page
    assert not Campaign.objects.exists()


def test_it_is_opened_for_the_units_that_were_shown(clerk, clara):
    UnitFactory(serial="A-1")
    UnitFactory(serial="A-2")
    asked = BULLETIN | {"serials": "a-1\n"}
    shown = clerk.post("/campaigns/new/", asked | {"look": "1"}).context["mark"]
    response = clerk.post("/campaigns/new/", asked | {"shown": shown, "open": "1"})
    opened = Campaign.objects.get()
    assert response.url == f"/campaigns/{opened.pk}/"
    assert [row.unit.serial for row in opened.units.all()] == ["A-1"]
    assert opened.opened_by == clara


def test_a_range_that_was_changed_after_the_look_is_shown_again(clerk):
    UnitFactory(serial="A-1")
    UnitFactory(serial="A-2")
    asked = BULLETIN | {"serials": "A-1"}
    shown = clerk.post("/campaigns/new/", asked | {"look": "1"}).context["mark"]
    asked |= {"serials": "A-1, A-2", "shown": shown, "open": "1"}
    page = clerk.post("/campaigns/new/", asked).content.decode()
    assert "These are not the units that were shown." in page
    assert not Campaign.objects.exists()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "Say whom it is for"),
        ({"serials": "NO-1"}, "Not on record: NO-1."),
        ({"lots": "L99"}, "No unit on record is in this range."),
        ({"made_from": "2024-02-01", "made_to": "2024-01-01"}, "comes before the first"),
        ({"lots": "x" * 50}, "is too long; one a line."),
    ],
)
def test_a_range_that_cannot_be_is_refused_in_words(clerk, asked, words):
    page = clerk.post("/campaigns/new/", BULLETIN | asked | {"open": "1"}).content.decode()
    assert words in page
    assert not Campaign.objects.exists()


def test_one_press_writes_to_all_who_were_not_told(clerk, mailoutbox):
    row = affected(CustomerFactory(contact_email="a@example.org"))
    affected(CustomerFactory(contact_email="b@example.org"), campaign=row.campaign)
    affected(CustomerFactory(), campaign=row.campaign)
    page = clerk.post(f"/campaigns/{row.campaign.pk}/send/", follow=True).content.decode()
    assert "2 e-mails went out." in page
    assert sorted(letter.to[0] for letter in mailoutbox) == ["a@example.org", "b@example.org"]
    assert "no e-mail on record: print the letter" in page


def test_one_who_was_telephoned_is_written_down_as_told(clerk):
    row = affected()
    customer = row.unit.installs.get().customer
    clerk.post(f"/campaigns/{row.campaign.pk}/told/{customer.pk}/")
    row.refresh_from_db()
    assert row.told_at is not None


def test_a_visit_says_when_the_work_was_done(clerk):
    install = in_a_truck()
    row = CampaignUnitFactory(unit=install.unit)
    at = datetime(2025, 4, 2, 15, tzinfo=UTC)
    visit = VisitFactory(install=install, at=at)
    clerk.post(row.get_absolute_url(), {"visit": visit.pk, "told": "on"})
    row.refresh_from_db()
    assert (row.visit, row.done_on) == (visit, date(2025, 4, 2))


@pytest.mark.parametrize(
    ("days", "words"), [(2, "still to come"), (-9999, "before the campaign was opened")]
)
def test_work_is_not_done_tomorrow_or_before_the_bulletin(clerk, days, words):
    row = affected()
    day = timezone.localdate() + timedelta(days=days)
    page = clerk.post(row.get_absolute_url(), {"done_on": day.isoformat()}).content.decode()
    assert words in page
    row.refresh_from_db()
    assert row.done_on is None


def test_only_the_trucks_own_bookings_are_offered(clerk):
    row = affected()
    own = BookingFactory(tractor=row.unit.installs.get().tractor, unit=None, unit_model=None)
    other = BookingFactory(unit=None, unit_model=None)
    form = clerk.get(row.get_absolute_url()).context["form"]
    assert list(form.fields["booking"].queryset) == [own]
    clerk.post(row.get_absolute_url(), {"booking": other.pk})
    row.refresh_from_db()
    assert row.booking is None


def test_a_visit_to_another_unit_is_not_taken(clerk):
    row = affected()
    other = VisitFactory(at=datetime(2025, 4, 2, 15, tzinfo=UTC))
    clerk.post(row.get_absolute_url(), {"visit": other.pk})
    row.refresh_from_db()
    assert row.visit is None


def test_what_was_told_and_done_is_counted_by_day():
    campaign = CampaignFactory()
    day = date(2025, 3, 10)
    told = datetime(2025, 3, 5, 15, tzinfo=UTC)
    rows = [
        CampaignUnitFactory(campaign=campaign, told_at=told, done_on=day),
        CampaignUnitFactory(campaign=campaign, told_at=told),
        CampaignUnitFactory(campaign=campaign),
    ]
    picture = completion(campaign, rows, date(2025, 3, 20))
    assert picture.rows == [
        ["2025-03-03", "0", "0"],
        ["2025-03-05", "2", "0"],
        ["2025-03-10", "2", "1"],
        ["2025-03-20", "2", "1"],
    ]
    assert "<svg" in picture.svg


def test_the_page_asks_as_often_for_many_units_as_for_one(clerk, django_assert_max_num_queries):
    row = affected()
    path = row.campaign.get_absolute_url()
    with django_assert_max_num_queries(14) as few:
        clerk.get(path)
    for _number in range(4):
        affected(campaign=row.campaign)
    with django_assert_max_num_queries(len(few.captured_queries)):
        clerk.get(path)


def test_a_fleet_manager_reads_one_line_on_the_units_page(client, frida):
    row = affected(frida.customers.get())
    client.force_login(frida)
    page = client.get(row.unit.get_absolute_url()).content.decode()
    assert str(row.campaign) in page
    assert "Until it is done: If it grinds, switch it off and call us." in page
    assert row.campaign.get_absolute_url() not in page


@pytest.mark.parametrize("act", ["send/", "told/{customer}/", "units/{serial}/", ""])
@pytest.mark.parametrize(
    ("person", "may"),
    [("olga", True), ("clara", True), ("osman", True), ("tomas", False), ("frida", False)],
)
def test_a_campaign_is_run_by_those_who_may_only(client, request, frida, person, may, act):
    """A GET is enough for a page and a POST for an act; nothing is given, so nothing is written."""
    row = affected(frida.customers.get())
    client.force_login(request.getfixturevalue(person))
    names = {"customer": frida.customers.get().pk, "serial": row.unit.serial}
    path = row.campaign.get_absolute_url() + act.format(**names)
    ask = client.post if act and "units" not in act else client.get
    assert (ask(path).status_code in (200, 302)) == may
    row.refresh_from_db()
    assert (row.told_at is not None) == (may and "told" in act)


def letter_of(row: CampaignUnit, user, day: date = date(2025, 3, 12)) -> bytes:
    file = BytesIO()
    write_letter(file, row.campaign, addressees(row.campaign)[0], user, printed_on=day)
    return file.getvalue()


def test_the_letter_names_the_customers_trucks_and_the_caution(clara):
    row = affected(CustomerFactory(name="Frida's fleet"))
    stranger = affected(CustomerFactory(name="Z fleet"), campaign=row.campaign)
    pages = PdfReader(BytesIO(letter_of(row, clara))).pages
    text = "\n".join(page.extract_text() for page in pages)
    install = row.unit.installs.get()
    for word in ("To Frida's fleet", install.truck, install.tractor.vin, row.unit.serial):
        assert word in text
    assert "If it grinds, switch it off" in text
    assert stranger.unit.serial not in text
    assert len(pages) == 1


def test_a_letter_of_many_trucks_goes_on_over_pages(clara):
    customer = CustomerFactory()
    row = affected(customer)
    for _number in range(50):
        affected(customer, campaign=row.campaign)
    assert len(PdfReader(BytesIO(letter_of(row, clara))).pages) == 2


def test_the_same_letter_has_the_same_bytes(clara):
    row = affected()
    assert letter_of(row, clara) == letter_of(row, clara)
