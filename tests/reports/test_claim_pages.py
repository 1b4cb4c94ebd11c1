"""The claims' pages: the work list, one claim with its rules and steps, and what suppliers owe."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse
from django.utils import timezone

from fleetcool.models import Role
from installs.models import Customer, PartGroup, Terms
from reports.claim_rules import kept_rules
from service.claiming import approve, close, credit, decline, open_from_visit, send_to_maker, submit
from service.models import Claim, ClaimState, Supplier, VisitPhoto
from tests.factories import (
    ClaimFactory,
    CustomerFactory,
    InstallFactory,
    PersonFactory,
    ScreenRunFactory,
    VisitFactory,
)
from tests.fleets import fleet_of

LIST, RECOVERY = reverse("claims"), reverse("claims_recovery")
NOW = datetime(2024, 6, 10, 15, tzinfo=UTC)


@pytest.fixture
def fleet(frida):
    terms = Terms.objects.create(
        name="Shop terms", given_from=date(2020, 1, 1), four_eyes_above=Decimal(500)
    )
    for group in PartGroup:
        terms.covers.create(part_group=group, months=36)
    fleet = fleet_of(
        Customer.objects.get(code="FRI"), ScreenRunFactory(), truck="T-1", serial="K-7"
    )
    Claim.objects.update(terms=terms)
    return fleet


@pytest.fixture
def claim(fleet):
    return Claim.objects.get()


@pytest.fixture
def clerk(client, clara):
    client.force_login(clara)
    return client


def page(response) -> str:
    assert response.status_code == 200
    return unescape(response.content.decode()).replace("\xa0", " ")


def numbers(client, **asked) -> set[str]:
    """The claims that the list shows for what is asked."""
    return {row.record.number for row in client.get(LIST, asked).context["table"].page}


def take(client, claim, step, **told):
    return client.post(reverse("claim_step", args=[claim.pk, step]), told)


# The work list


def test_the_list_says_what_is_asked_and_by_when(clerk, claim):
    text = page(clerk.get(LIST))
    assert "80.00 USD" in text
    # Failed on 4 June 2024, 30 days to claim in.
    assert "2024-07-04" in text
    assert "too late" in text


def test_what_is_closed_is_left_out_unless_asked_for(clerk, claim, osman):
    submit(claim, claim.logged_by, NOW)
    # The terms give 30 days from the failure on 4 June, so on 10 July it is too late.
    ClaimFactory(visit__install=InstallFactory(unit__serial="K-8"))
    approve(claim, osman, NOW, why="a clear case, though photos are missing")
    close(claim, osman, NOW, why="paid out to the customer")
    assert claim.number not in numbers(clerk)
    assert numbers(clerk, state="closed") == {claim.number}
    assert claim.number in numbers(clerk, state="all")


def test_the_list_is_narrowed_by_state_customer_model_and_part_group(clerk, claim):
    other = ClaimFactory(lines=[{"part_group": "fans", "name": "fan"}])
    assert numbers(clerk, customer=claim.customer_id) == {claim.number}
    assert numbers(clerk, model=other.unit.model_id) == {other.number}
    assert numbers(clerk, part_group="fans") == {other.number}
    assert numbers(clerk, state="submitted") == set()
    assert numbers(clerk, state="draft") == {claim.number, other.number}


def test_a_claim_is_found_once_by_number_serial_or_part(clerk, claim):
    ClaimFactory(visit__install__unit__model=claim.unit.model)
    for name in ("fan", "board"):
        told = {"kind": "part", "part_group": "fans", "name": name, "serial_in": "PART-9"}
        claim.lines.create(
            **told, quantity=Decimal(1), unit_price=Decimal(5), entered_by=claim.logged_by
        )
    for words in (claim.number, claim.unit.serial, "part-9", "T-1"):
        shown = [row.record for row in clerk.get(LIST, {"q": words}).context["table"].page]
        assert shown == [claim], words
    assert numbers(clerk, q="9" * 40) == set()


def test_a_deadline_that_nears_is_found(clerk, claim):
    today = timezone.localdate()
    Claim.objects.update(failed_on=today - timedelta(days=25))
    assert numbers(clerk, within="4") == set()
    assert numbers(clerk, within="5") == {claim.number}
    submit(claim, claim.logged_by, timezone.now())
    assert numbers(clerk, within="5") == set()


def test_mine_to_decide_leaves_out_what_i_logged(clerk, claim, clara):
    submit(claim, claim.logged_by, NOW)
    own = ClaimFactory(logged_by=clara)
    submit(own, clara, NOW)
    assert numbers(clerk, mine="on") == {claim.number}


def test_mine_to_decide_leaves_out_what_waits_for_a_second(clerk, claim, clara):
    claim.lines.update(unit_price=Decimal(400), amount=Decimal(800))
    submit(claim, claim.logged_by, NOW)
    approve(claim, clara, NOW, why="a clear case, though photos are missing")
    assert numbers(clerk, mine="on") == set()
    second = PersonFactory(role=Role.OWNER)
    clerk.force_login(second)
    assert numbers(clerk, mine="on") == {claim.number}


def test_office_and_technician_have_no_filter_of_decisions(client, claim, olga):
    client.force_login(olga)
    assert "Mine to decide" not in page(client.get(LIST))


def test_sums_of_different_currencies_are_not_added(clerk, claim):
    ClaimFactory(currency="CAD", lines=[{"unit_price": Decimal("9.99"), "quantity": Decimal(1)}])
    totals = {t.currency: t.asked for t in clerk.get(LIST).context["totals"]}
    assert totals == {"CAD": Decimal("9.99"), "USD": Decimal("80.00")}


def test_a_list_costs_the_same_however_long_it_is(clerk, claim, django_assert_max_num_queries):
    ClaimFactory.create_batch(4, visit__install__unit__model=claim.unit.model)
    with django_assert_max_num_queries(20):
        clerk.get(LIST)


# One claim


def test_a_claim_is_opened_at_its_visit(clerk, clara):
    visit = VisitFactory()
    text = page(clerk.get(visit.get_absolute_url()))
    assert "Open a claim" in text
    response = clerk.post(reverse("claim_open", args=[visit.pk]))
    assert response.url == Claim.objects.get(visit=visit).get_absolute_url()
    text = page(clerk.get(visit.get_absolute_url()))
    assert "Open a claim" not in text
    assert Claim.objects.get(visit=visit).number in text


def test_rules_stand_with_their_verdict_and_the_record_they_rest_on(clerk, claim, fleet):
    text = page(clerk.get(claim.get_absolute_url()))
    assert "Within its months" in text
    rules = {rule.code: rule for rule in clerk.get(claim.get_absolute_url()).context["told"].common}
    assert rules["months"].verdict == "holds"
    assert fleet.unit.get_absolute_url() in [link.url for link in rules["months"].links]
    assert rules["evidence_photos"].verdict == "cannot_say"


def test_evidence_that_is_missing_is_said(clerk, claim):
    evidence = clerk.get(claim.get_absolute_url()).context["told"].evidence
    assert ("Evidence: photos of the visit", False) in [(e.label, e.present) for e in evidence]


def test_readings_stand_beside_the_band_of_their_day(clerk, claim):
    text = page(clerk.get(claim.get_absolute_url()))
    assert "of the day" in text


def test_lines_are_written_down_all_at_once(clerk, claim):
    told = {
        "lines-TOTAL_FORMS": "3",
        "lines-INITIAL_FORMS": "1",
        "lines-0-name": "liquid hose",
        "lines-0-kind": "part",
        "lines-0-part_group": "hoses",
        "lines-0-quantity": "1",
        "lines-0-unit_price": "61.50",
        "lines-1-name": "fit the hose",
        "lines-1-kind": "labour",
        "lines-1-quantity": "1.5",
        "lines-1-unit_price": "90",
    }
    assert clerk.post(reverse("claim_lines", args=[claim.pk]), told).status_code == 302
    # 61.50 + 1.5 × 90 = 196.50, by hand.
    assert Claim.objects.get().asked == Decimal("196.50")


def test_a_line_with_something_wrong_keeps_all_that_was_typed(clerk, claim):
    told = {
        "lines-TOTAL_FORMS": "1",
        "lines-INITIAL_FORMS": "1",
        "lines-0-name": "liquid hose of 2 m",
        "lines-0-kind": "part",
        "lines-0-quantity": "1",
        "lines-0-unit_price": "61.50",
    }
    text = page(clerk.post(reverse("claim_lines", args=[claim.pk]), told))
    assert "Say which group the part belongs to." in text
    assert "liquid hose of 2 m" in text
    assert claim.lines.get().name == "liquid hose"


def test_the_meter_is_written_down_and_a_day_to_come_is_refused(clerk, claim):
    url = reverse("claim_describe", args=[claim.pk])
    told = {"failed_on": "2024-06-03", "words": "weeps", "meter_h": "812", "moved_by_others": "no"}
    assert clerk.post(url, told).status_code == 302
    claim.refresh_from_db()
    assert (claim.meter_h, claim.moved_by_others) == (812, False)
    text = page(clerk.post(url, told | {"failed_on": "2999-01-01"}))
    assert "That day is still to come." in text


def test_who_logged_it_is_told_why_they_may_not_decide(client, claim):
    submit(claim, claim.logged_by, NOW)
    client.force_login(claim.logged_by)
    response = client.get(claim.get_absolute_url())
    assert "somebody else decides" in page(response)
    assert "Approve" not in [form.title for form in response.context["forms"]]


def test_a_claim_is_approved_line_by_line(clerk, claim):
    submit(claim, claim.logged_by, NOW)
    line = claim.lines.get()
    told = {f"line-{line.pk}": "60.00", "why": "half of the hoses was worn by rubbing"}
    assert take(clerk, claim, "approve", **told).status_code == 302
    text = page(clerk.get(claim.get_absolute_url()))
    assert "60.00 USD" in text
    assert "The rules as they stood" in text
    assert Claim.objects.get().state == ClaimState.APPROVED_IN_PART


def test_rules_as_they_stood_count_the_evidence_there_was(claim, clara):
    VisitPhoto.objects.create(visit=claim.visit, file="gone.jpg", sha256="0" * 64)
    submit(claim, claim.logged_by, NOW)
    step = approve(claim, clara, NOW, why="a clear case, though nothing was weighed")
    VisitPhoto.objects.create(visit=claim.visit, file="later.jpg", sha256="1" * 64)
    kept = {rule.label: (rule.verdict, rule.words) for rule in kept_rules(step.decision)}
    assert kept["Evidence: photos of the visit"] == ("holds", "1 is there.")


def test_what_is_said_of_every_line_alike_stands_once(claim, clara):
    told = {"kind": "labour", "part_group": "labour", "name": "fit the hose", "quantity": 1}
    claim.lines.create(**told, unit_price=Decimal(90), entered_by=claim.logged_by)
    submit(claim, claim.logged_by, NOW)
    step = approve(claim, clara, NOW, why="a clear case, though nothing is shown")
    kept = [(rule.line, rule.label) for rule in kept_rules(step.decision)]
    assert kept.count(("all that is claimed", "Claimed in time")) == 1
    assert ("liquid hose", "Evidence: photos of the visit") in kept
    assert [label for _line, label in kept].count("Claimed in time") == 1


def test_a_decline_cites_its_rule_on_the_page(clerk, claim):
    submit(claim, claim.logged_by, datetime(2024, 8, 1, 12, tzinfo=UTC))
    rule = f"{claim.lines.get().pk}:deadline"
    told = {"rule": rule, "why": "it came four weeks too late"}
    assert take(clerk, claim, "decline", **told).status_code == 302
    assert "By the rule: liquid hose: Claimed in time" in page(clerk.get(claim.get_absolute_url()))


def test_a_refusal_stands_beside_what_was_typed(clerk, claim):
    submit(claim, claim.logged_by, NOW)
    text = page(take(clerk, claim, "ask-more", why="photos"))
    assert "Say why, in a few words." in text
    assert ">photos</textarea>" in text.replace("\n", "")


def test_an_unknown_step_is_not_found(clerk, claim):
    assert take(clerk, claim, "pay").status_code == 404


def test_a_claim_page_costs_the_same_however_much_there_is(
    clerk, claim, osman, django_assert_max_num_queries
):
    submit(claim, claim.logged_by, NOW)
    approve(claim, osman, NOW, why="a clear case, though photos are missing")
    with django_assert_max_num_queries(70):
        clerk.get(claim.get_absolute_url())


def test_a_fleet_manager_sees_the_decision_and_no_money(client, frida, claim, osman):
    submit(claim, claim.logged_by, NOW)
    decline(claim, osman, NOW, f"{claim.lines.get().pk}:evidence_photos", "no photo shows the hose")
    client.force_login(frida)
    text = page(client.get(claim.get_absolute_url()))
    assert "Declined" in text
    assert "no photo shows the hose" in text
    for word in ("80.00", "40.00", "USD", "Osman", osman.username, claim.logged_by.username):
        assert word not in text
    listed = page(client.get(LIST))
    assert claim.number in listed
    assert "USD" not in listed


def test_the_number_that_a_buyer_gave_the_truck_is_not_told_to_the_seller(client, frida, claim):
    tractor = claim.install.tractor
    tractor.customer, tractor.truck_number = CustomerFactory(), "BUYER-9"
    tractor.save()
    client.force_login(frida)
    assert claim.number in page(client.get(LIST))
    for url in (LIST, claim.get_absolute_url()):
        assert "BUYER-9" not in page(client.get(url))
        assert tractor.vin in page(client.get(url))
    assert numbers(client, q="BUYER-9") == set()


# What suppliers owe


def test_what_suppliers_owe_is_told_by_age(clerk, claim, osman):
    submit(claim, claim.logged_by, NOW)
    approve(claim, osman, NOW, why="a clear case, though photos are missing")
    supplier = Supplier.objects.create(name="Hoses of the north", days_to_pay=30)
    sent_at = timezone.now() - timedelta(days=75)
    recovery = send_to_maker(claim, osman, sent_at, supplier, Decimal("80.00"), "RMA 7")
    credit(claim, osman, timezone.now(), recovery, Decimal("50.00"))
    context = clerk.get(RECOVERY).context
    account = context["accounts"][0]
    # 80 asked, 50 credited: 30 owed, due 45 days ago.
    assert (account.asked, account.credited, account.owed) == (80, 50, 30)
    assert account.short_paid == 1
    assert account.overdue["to_60"] == 30
    assert "Hoses of the north" in page(clerk.get(RECOVERY))
    close(claim, osman, timezone.now(), why="they pay no more than that")
    account = clerk.get(RECOVERY).context["accounts"][0]
    assert (account.owed, account.given_up) == (0, 30)


def test_a_claim_is_sent_to_a_supplier_that_is_not_on_record_yet(clerk, claim, osman):
    submit(claim, claim.logged_by, NOW)
    approve(claim, osman, NOW, why="a clear case, though photos are missing")
    assert "Choose one supplier" in page(take(clerk, claim, "send", asked="80.00"))
    told = {"asked": "80.00", "new_supplier": "Hoses of the north"}
    assert take(clerk, claim, "send", **told).status_code == 302
    assert Claim.objects.get().recoveries.get().supplier.name == "Hoses of the north"


def test_opening_twice_gives_one_claim(clara):
    visit = VisitFactory()
    assert open_from_visit(visit, clara, NOW) == open_from_visit(visit, clara, NOW)
