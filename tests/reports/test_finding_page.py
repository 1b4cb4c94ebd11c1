"""One finding: what speaks for it, what was done with it so far, and the forms of the next step."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from reports.models import Cause, Step
from tests.factories import ConcernFactory, FindingFactory, ScreenRunFactory, VisitFactory
from tests.fleets import fleet_of

TODAY = timezone.localdate


@pytest.fixture
def finding(frida):
    run = ScreenRunFactory()
    return fleet_of(frida.customers.get(), run, truck="T-1", serial="K-7").finding


def page_of(client, person, finding) -> str:
    client.force_login(person)
    return client.get(finding.get_absolute_url()).content.decode().replace("\xa0", " ")


def post(client, person, finding, act: str, **data):
    client.force_login(person)
    return client.post(reverse(f"concern_{act}", args=[finding.concern_id]), data, follow=True)


def state(finding) -> str | None:
    finding.concern.refresh_from_db()
    return finding.concern.last_step and finding.concern.last_step.what


def test_it_says_why_what_to_do_with_care_and_what_would_refute_it(client, frida, finding):
    page = page_of(client, frida, finding)
    assert "Condensing lift fell from 32.8 °F to 23.2 °F" in page
    assert "97 %, nearly sure" in page
    assert page.index("goggles and gloves") < page.index("Do not just top it up.")
    assert "R-290 burns" in page
    assert "The whole charge, recovered and weighed, is what was put in." in page
    assert "Evidence in numbers" in page


@pytest.mark.parametrize(
    ("person", "acts"),
    [
        ("tomas", ["acknowledge", "found", "book", "put-off"]),
        ("frida", ["acknowledge", "put-off"]),
        ("clara", []),
    ],
)
def test_each_is_offered_the_steps_that_are_theirs(client, request, finding, person, acts):
    page = page_of(client, request.getfixturevalue(person), finding)
    offered = [act for act in ("acknowledge", "found", "book", "put-off") if f"/{act}/" in page]
    assert offered == acts


def test_frida_takes_it_in_hand_and_is_told_so(client, frida, finding):
    response = post(client, frida, finding, "acknowledge")
    assert response.redirect_chain == [(finding.get_absolute_url(), 302)]
    assert "Written down: acknowledged." in response.content.decode()
    assert state(finding) == Step.ACKNOWLEDGED


def test_frida_puts_it_off_and_her_reason_stands_in_its_life(client, frida, finding):
    until = TODAY() + timedelta(days=20)
    response = post(client, frida, finding, "put_off", words="On the coast run", until=until)
    assert "On the coast run" in response.content.decode()
    assert state(finding) == Step.PUT_OFF


def test_what_is_wrong_in_a_form_is_said_beside_its_field(client, frida, finding):
    response = post(client, frida, finding, "put_off", words="Busy", until="2024-01-01")
    assert response.redirect_chain == []
    form = response.context["bound"]
    assert form.errors == {"until": ["Choose a day that is still to come."]}
    page = response.content.decode()
    assert 'id="error_1_concern_put_off-until"' in page
    # What was written is not lost, and the form stands open.
    assert ">\nBusy</textarea>" in page
    assert '<details class="step" open>' in page
    assert state(finding) is None


def test_olga_books_the_truck_in(client, olga, finding):
    post(client, olga, finding, "book", booked_for=TODAY() + timedelta(days=3))
    assert state(finding) == Step.BOOKED


def test_tomas_confirms_the_leak_and_has_mended_it(client, tomas, finding):
    post(
        client, tomas, finding, "found",
        cause_found=Cause.REFRIGERANT_LEAK, found_on=TODAY(), words="Crimp weeps", mended="on",
    )  # fmt: skip
    assert (state(finding), finding.concern.is_open) == (Step.CONFIRMED, False)
    page = page_of(client, tomas, finding)
    assert "Confirmed and mended" in page
    assert "Crimp weeps" in page
    assert "it was settled on" in page


def test_tomas_refutes_it_with_what_he_found_at_a_visit(client, tomas, finding):
    install = finding.unit.installs.get()
    visit = VisitFactory(install=install, at=datetime(2025, 9, 1, 15, tzinfo=UTC))
    post(client, tomas, finding, "found", cause_found="nothing_wrong", visit=visit.pk)
    step = finding.concern.steps.get()
    assert (step.what, step.visit, step.found_on) == (Step.REFUTED, visit, date(2025, 9, 1))


def test_neither_a_visit_nor_a_day_is_asked_for_again(client, tomas, finding):
    response = post(client, tomas, finding, "found", cause_found="nothing_wrong", found_on="")
    assert list(response.context["bound"].errors) == ["found_on"]


def test_a_visit_to_another_unit_is_no_choice(client, tomas, finding):
    response = post(
        client, tomas, finding, "found", cause_found="nothing_wrong", visit=VisitFactory().pk
    )
    assert "visit" in response.context["bound"].errors


def test_a_visit_from_before_the_trouble_began_is_no_choice(client, tomas, finding):
    install = finding.unit.installs.get()
    early = VisitFactory(install=install, at=datetime(2025, 1, 20, 15, tzinfo=UTC))
    response = post(client, tomas, finding, "found", cause_found="nothing_wrong", visit=early.pk)
    assert "visit" in response.context["bound"].errors


def test_the_second_of_two_people_at_once_is_told(client, tomas, olga, finding):
    post(client, tomas, finding, "found", cause_found="nothing_wrong", found_on=TODAY())
    response = post(client, olga, finding, "book", booked_for=TODAY())
    assert "This was settled in the meantime" in response.content.decode()
    assert finding.concern.steps.count() == 1


def test_who_comes_second_to_take_it_in_hand_is_told(client, tomas, olga, finding):
    post(client, tomas, finding, "acknowledge")
    response = post(client, olga, finding, "acknowledge")
    assert "Someone has taken it in hand already." in response.content.decode()


def test_a_customer_is_not_told_the_names_of_the_shops_people(client, frida, tomas, finding):
    tomas.first_name = "Tomás"
    tomas.save()
    finding.concern.acknowledge(tomas, at=timezone.now())
    assert "by the shop" in page_of(client, frida, finding)
    assert "Tomás" not in page_of(client, frida, finding)
    assert "by Tomás" in page_of(client, tomas, finding)


def test_an_older_finding_leads_to_the_newest(client, frida, finding):
    older = FindingFactory(
        run=ScreenRunFactory(as_of=date(2025, 8, 1)),
        install=finding.unit.installs.get(),
        concern=finding.concern,
    )
    assert f'href="{finding.get_absolute_url()}"' in page_of(client, frida, older)
    assert "A newer screening" not in page_of(client, frida, finding)


def test_the_same_cause_before_is_told_with_how_it_ended(client, frida, tomas, finding):
    before = ConcernFactory(
        unit=finding.unit,
        customer=finding.customer,
        cause=Cause.OVERCHARGE,
        first_said_on=date(2024, 5, 1),
    )
    before.found(tomas, "nothing_wrong", date(2024, 6, 1), at=timezone.now())
    assert "The same cause before" not in page_of(client, frida, finding)
    type(before).objects.filter(pk=before.pk).update(cause=finding.cause)
    page = page_of(client, frida, finding)
    assert "2024-05-01 to 2024-06-01: refuted; found instead: nothing wrong" in page


def test_a_finding_from_before_there_were_concerns_is_still_shown(client, frida):
    finding = FindingFactory(install__tractor__customer=frida.customers.get())
    assert "before the fleet is screened again" in page_of(client, frida, finding)


def test_a_doubtful_gauge_is_looked_at_without_a_visit(client, tomas, frida):
    gauge = {"unit": None, "customer": None, "gauge": "G-9", "cause": Cause.DOUBTFUL_INSTRUMENT}
    concern = ConcernFactory(**gauge)
    finding = FindingFactory(**gauge, tractor=None, touched=["S-1"], evidence=[], concern=concern)
    page = page_of(client, tomas, finding)
    assert "Gauge G-9, of the shop" in page
    assert 'name="visit"' not in page
    post(client, tomas, finding, "found", cause_found="nothing_wrong", found_on=TODAY())
    assert state(finding) == Step.REFUTED
    client.force_login(frida)
    assert client.get(finding.get_absolute_url()).status_code == 404


def test_a_finding_that_is_not_there_is_not_found(client, olga):
    client.force_login(olga)
    assert client.get("/findings/999999/").status_code == 404
    assert client.post("/concerns/999999/acknowledge/").status_code == 404


def test_the_page_costs_the_same_however_long_the_life(
    client, tomas, olga, finding, django_assert_max_num_queries
):
    client.force_login(tomas)
    client.get(finding.get_absolute_url())
    with django_assert_max_num_queries(40) as few:
        client.get(finding.get_absolute_url())
    for day in range(1, 15):
        finding.concern.book(olga, TODAY() + timedelta(days=day), at=timezone.now())
        VisitFactory(install=finding.unit.installs.get(), at=datetime(2025, 8, day, tzinfo=UTC))
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(finding.get_absolute_url())


def test_the_owner_looks_at_a_life_in_the_back_office_and_changes_nothing(client, osman, finding):
    finding.concern.acknowledge(osman, at=timezone.now())
    client.force_login(osman)
    address = reverse("admin:reports_concern_change", args=[finding.concern_id])
    assert "acknowledged" in client.get(address).content.decode()
    assert client.post(address, {"cause": Cause.OVERCHARGE}).status_code == 403
    history = reverse("admin:reports_concern_history", args=[finding.concern_id])
    assert client.get(history).status_code == 200
