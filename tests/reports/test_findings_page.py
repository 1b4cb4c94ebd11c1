"""Which trucks to bring in: the page that a fleet manager opens first."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleetcool.models import UnitSystem
from reports.models import Cause
from tests.factories import (
    ConcernFactory,
    FindingFactory,
    InstallFactory,
    ScreenRunFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
)

URL = "/findings/"


@pytest.fixture
def run(db):
    return ScreenRunFactory()


def finding_in(customer, run, *, truck: str, **changes):
    install = InstallFactory(
        tractor=TractorFactory(customer=customer, truck_number=truck),
        **{key: changes.pop(key) for key in ("unit",) if key in changes},
    )
    return FindingFactory(install=install, run=run, **changes)


def trucks_of(response) -> list[str]:
    return [row.record.tractor.truck_number for row in response.context["table"].page.object_list]


def test_findings_page_gives_cause_why_action_and_caution(client, frida, run):
    frida.unit_system = UnitSystem.SI
    frida.save()
    finding_in(frida.customers.get(), run, truck="T-1")
    client.force_login(frida)
    page = client.get(URL).content.decode().replace("\xa0", " ")
    assert "Refrigerant leak" in page
    assert "97 %, nearly sure" in page
    assert "Condensing lift fell from 18.2 K to 12.9 K" in page
    assert "Do not just top it up." in page
    assert "goggles and gloves" in page
    assert "The whole charge, recovered and weighed, is what was put in." in page
    assert "As of 1 September 2025" in page


def test_the_soonest_forecast_comes_first_and_a_sure_one_without_a_date_last(client, frida, run):
    ours = frida.customers.get()
    finding_in(ours, run, truck="SURE", probability=0.99, forecast_event="", forecast_on=None)
    finding_in(ours, run, truck="LATE", forecast_on=date(2026, 1, 15))
    finding_in(ours, run, truck="SOON", forecast_on=date(2025, 10, 15))
    client.force_login(frida)
    assert trucks_of(client.get(URL)) == ["SOON", "LATE", "SURE"]


def test_findings_narrow_by_cause_customer_and_words(client, olga, frida, frank, run):
    finding_in(frida.customers.get(), run, truck="LEAKS")
    finding_in(frank.customers.get(), run, truck="TIRED", cause=Cause.BATTERY_WEAR)
    client.force_login(olga)
    assert trucks_of(client.get(URL, {"cause": Cause.BATTERY_WEAR})) == ["TIRED"]
    assert trucks_of(client.get(URL, {"customer": frida.customers.get().pk})) == ["LEAKS"]
    assert trucks_of(client.get(URL, {"q": "tire"})) == ["TIRED"]


def standing(customer, run, **trucks):
    """Findings with a concern each, one a truck, given what is done with it."""
    for truck, act in trucks.items():
        finding = finding_in(customer, run, truck=truck)
        finding.concern = ConcernFactory(unit=finding.unit, customer=customer)
        finding.save()
        if act:
            act(finding.concern)


@pytest.fixture
def many_states(frida, tomas, olga, run):
    now, tomorrow = timezone.now(), timezone.localdate() + timedelta(days=1)
    long_ago = datetime(2025, 9, 1, 15, tzinfo=UTC)
    standing(
        frida.customers.get(),
        run,
        NEW=None,
        SEEN=lambda one: one.acknowledge(olga, at=now),
        BOOKED=lambda one: one.book(olga, tomorrow, at=now),
        FOUND=lambda one: one.found(tomas, one.cause, now.date(), at=now),
        LATER=lambda one: one.put_off(frida, "Busy", tomorrow, at=now),
        DUE=lambda one: one.put_off(frida, "Busy", date(2025, 9, 3), at=long_ago),
        MENDED=lambda one: one.found(tomas, one.cause, date(2025, 9, 5), mended=True, at=now),
    )


@pytest.mark.parametrize(
    ("asked", "trucks"),
    [
        ("", {"NEW", "SEEN", "BOOKED", "FOUND", "DUE"}),
        ("new", {"NEW"}),
        ("acknowledged", {"SEEN"}),
        ("booked", {"BOOKED"}),
        ("confirmed", {"FOUND"}),
        ("put_off", {"LATER"}),
        ("settled", {"MENDED"}),
        ("all", {"NEW", "SEEN", "BOOKED", "FOUND", "LATER", "DUE", "MENDED"}),
    ],
)
def test_findings_narrow_by_how_they_stand(client, frida, many_states, asked, trucks):
    client.force_login(frida)
    assert set(trucks_of(client.get(URL, {"state": asked} if asked else {}))) == trucks


def test_what_is_left_out_is_said_and_can_be_asked_for(client, frida, many_states):
    client.force_login(frida)
    page = client.get(URL).content.decode()
    assert '<a href="?state=put_off">1 put off</a>' in page
    assert '<a href="?state=settled">1 settled since</a>' in page


def test_each_finding_says_how_it_stands(client, frida, many_states):
    client.force_login(frida)
    page = client.get(URL, {"state": "all"}).content.decode()
    for words in ("new", "acknowledged", "put off until 3 September 2025", "confirmed and mended"):
        assert words in page


def test_a_list_of_many_states_costs_what_one_finding_costs(
    client, frida, olga, run, django_assert_max_num_queries
):
    def fill(n):
        for number in range(n):
            act = {
                f"T{n}-{number}": lambda one: one.book(olga, date(2030, 1, 1), at=timezone.now())
            }
            standing(frida.customers.get(), run, **act)

    client.force_login(frida)
    fill(1)
    with django_assert_max_num_queries(20) as few:
        client.get(URL)
    fill(9)
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(URL)


def test_findings_sort_by_truck_when_asked(client, frida, run):
    for truck in ("B", "A", "C"):
        finding_in(frida.customers.get(), run, truck=truck)
    client.force_login(frida)
    assert trucks_of(client.get(URL, {"sort": "-truck"})) == ["C", "B", "A"]


def test_only_the_newest_screening_is_shown(client, frida, run):
    older = ScreenRunFactory(finished_at="2025-08-01T12:00Z", as_of=date(2025, 8, 1))
    finding_in(frida.customers.get(), older, truck="MENDED")
    finding_in(frida.customers.get(), run, truck="OPEN")
    client.force_login(frida)
    assert trucks_of(client.get(URL)) == ["OPEN"]


def test_a_refrigerant_that_burns_is_named_beside_what_to_do(client, frida, run):
    unit = UnitFactory(model=UnitModelFactory(refrigerant="R-290"))
    finding_in(frida.customers.get(), run, truck="T-1", unit=unit)
    client.force_login(frida)
    assert "R-290 burns" in client.get(URL).content.decode()


def test_a_doubtful_gauge_is_shown_to_the_shop_only(client, olga, frida, run):
    FindingFactory(
        run=run,
        unit=None,
        tractor=None,
        customer=None,
        gauge="G-9",
        touched=["S-1"],
        cause=Cause.DOUBTFUL_INSTRUMENT,
        evidence=[],
    )
    client.force_login(olga)
    assert "gauge G-9" in client.get(URL).content.decode()
    client.force_login(frida)
    assert "G-9" not in client.get(URL).content.decode()


def test_before_the_first_screening_the_shop_is_told_what_to_run(client, olga, frida):
    client.force_login(olga)
    assert "manage.py screen" in client.get(URL).content.decode()
    client.force_login(frida)
    page = client.get(URL).content.decode()
    assert "has not been screened yet" in page
    assert "manage.py" not in page


@pytest.mark.parametrize("page", ["0", "-3", "nonsense", "999"])
def test_a_nonsense_page_number_still_gives_a_page(client, frida, run, page):
    finding_in(frida.customers.get(), run, truck="T-1")
    client.force_login(frida)
    response = client.get(URL, {"page": page, "per_page": "0", "sort": "nonsense"})
    assert trucks_of(response) == ["T-1"]


def test_units_are_kept_by_the_person_who_chose_them(client, frida, run):
    client.force_login(frida)
    response = client.post(reverse("set_unit_system"), {"unit_system": "si", "next": URL})
    frida.refresh_from_db()
    assert (response.url, frida.unit_system) == (URL, "si")


def test_a_strange_unit_system_is_refused_and_a_strange_address_not_followed(client, frida):
    client.force_login(frida)
    form = {"unit_system": "furlongs", "next": "https://elsewhere.example/"}
    response = client.post(reverse("set_unit_system"), form)
    frida.refresh_from_db()
    assert (response.url, frida.unit_system) == ("/", UnitSystem.US)


def test_the_page_is_strict_about_where_its_parts_come_from(client, frida, run):
    finding_in(frida.customers.get(), run, truck="T-1")
    client.force_login(frida)
    response = client.get(URL)
    assert "unsafe-inline" not in response.headers["Content-Security-Policy"]
    page = response.content.decode()
    assert "style=" not in page
    assert "<script" not in page
