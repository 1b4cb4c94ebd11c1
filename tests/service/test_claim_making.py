"""A claim as it is made: opened from a visit, its lines, and what they add up to."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from service import claiming
from service.claim_facts import assess_claim
from service.models import (
    Claim,
    ClaimLine,
    ClaimState,
    MovementKind,
    Settled,
)
from tests.factories import MovementFactory
from tests.service.claims import (
    AT,
    COMPRESSOR,
    LABOUR,
    claim_of,
    fresh,
    line,
    money,
    shop_terms,
    submitted,
    visit_of,
)

DAY = date(2024, 6, 5)


@pytest.fixture
def terms(db):
    return shop_terms()


# opening


def test_a_claim_is_opened_with_what_the_visit_changed(terms, clara):
    visit = visit_of()
    MovementFactory(unit=visit.unit, visit=visit, at=visit.at, mass_g=505.5, movement="added")
    claim = claiming.open_from_visit(visit, clara, AT)
    lines = [(one.kind, one.part_group, one.serial_out, one.quantity) for one in claim.lines.all()]
    assert lines == [
        ("part", "compressor", "CMP-1", money("1")),
        ("refrigerant", "refrigerant", "", money("505.5")),
    ]
    assert (claim.terms, claim.currency, claim.failed_on) == (terms, "USD", date(2024, 6, 4))
    assert (claim.customer, claim.install.unit, claim.words) == (
        visit.customer,
        visit.unit,
        "no cold air",
    )
    assert (claim.state, claim.number) == (ClaimState.DRAFT, f"W-{claim.pk:06d}")


def test_what_was_recovered_is_no_line(terms, clara):
    visit = visit_of()
    MovementFactory(unit=visit.unit, visit=visit, at=visit.at, movement=MovementKind.RECOVERED)
    assert claiming.open_from_visit(visit, clara, AT).lines.count() == 1


def test_opened_twice_it_is_one_claim(terms, clara, osman):
    visit = visit_of()
    first = claiming.open_from_visit(visit, clara, AT)
    assert claiming.open_from_visit(visit, osman, AT) == first
    assert first.lines.count() == 1


def test_a_visit_that_was_logged_twice_opens_none(terms, clara):
    visit = visit_of()
    visit.settled, visit.settled_at = Settled.SAME, AT
    visit.save()
    with pytest.raises(ValidationError, match="logged twice"):
        claiming.open_from_visit(visit, clara, AT)


@pytest.mark.parametrize("person", ["olga", "tomas", "frida"])
def test_others_than_the_clerk_and_the_owner_open_none(terms, request, person):
    with pytest.raises(PermissionDenied):
        claiming.open_from_visit(visit_of(), request.getfixturevalue(person), AT)


def test_a_unit_under_no_terms_may_be_claimed_for_and_is_not_covered(clara):
    claim = claim_of(clara)
    assert claim.terms is None
    assert assess_claim(claim, DAY).covered == "not_covered"


# lines and words


def test_an_amount_is_rounded_to_the_hundredth_as_an_invoice_does(terms, clara):
    """By hand: 0.335 × 12.70 = 4.2545, 2.5 × 0.01 = 0.025 and 3 × 0.333… is not typed."""
    claim = claim_of(
        clara,
        lines=[
            line("refrigerant", "R-134a, kg", "0.335", "12.70"),
            line("travel", "Travel, km", "2.5", "0.01"),
        ],
    )
    assert [one.amount for one in claim.lines.all()] == [money("4.25"), money("0.03")]
    assert claim.asked == money("4.28")


def test_a_claim_worked_by_hand(terms, clara):
    """312.40 + 2.5 × 48.00 + 0.52 × 31.75 (16.51) + 84 × 0.65 (54.60) = 503.51."""
    claim = claim_of(
        clara,
        lines=[
            COMPRESSOR,
            LABOUR,
            line("refrigerant", "R-134a, kg", "0.52", "31.75"),
            line("travel", "Travel, km", "84", "0.65"),
        ],
    )
    assert claim.asked == money("503.51")
    assert Claim.objects.with_asked().get().sum_asked == money("503.51")


def test_tenths_add_up_exactly_in_the_database_too(terms, clara):
    """In binary 0.10 + 0.20 is not 0.30."""
    lines = [line("travel", "Toll", "1", amount) for amount in ("0.10", "0.20")]
    claim_of(clara, lines=lines)
    assert Claim.objects.with_asked().filter(sum_asked=money("0.30")).exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"quantity": money("0")}, "above 0"),
        ({"unit_price": money("-1.00")}, "not below 0"),
        ({"name": ""}, "blank"),
        ({"part_group": "labour"}, "which group"),
    ],
)
def test_a_line_that_cannot_be_is_refused_and_the_others_stay(terms, clara, change, words):
    claim = claim_of(clara)
    with pytest.raises(ValidationError, match=words):
        claiming.write_lines(claim, [LABOUR, COMPRESSOR | change], clara, AT)
    assert claim.lines.count() == 2


def test_lines_stand_once_it_is_handed_in_until_more_is_asked(terms, clara, osman):
    claim = submitted(clara)
    with pytest.raises(ValidationError, match="handed in"):
        claiming.write_lines(claim, [LABOUR], clara, AT)
    claiming.ask_more(claim, osman, AT, "which serial went in?")
    claiming.write_lines(claim, [LABOUR], clara, AT)
    assert claim.lines.get().name == "Labour, h"
    assert ClaimLine.history.filter(name="Compressor", history_type="-").exists()


def test_what_the_customer_was_asked_and_the_meter_are_amended(terms, clara):
    claim = claiming.amend(claim_of(clara), clara, AT, meter_h=1200.0, moved_by_others=False)
    assert (fresh(claim).meter_h, fresh(claim).moved_by_others) == (1200.0, False)


def test_nothing_has_failed_on_a_day_to_come(terms, clara):
    with pytest.raises(ValidationError, match="still to come"):
        claiming.amend(claim_of(clara), clara, AT, failed_on=DAY + timedelta(days=1))


def test_a_claim_for_nothing_is_not_handed_in(terms, clara):
    claim = claiming.open_from_visit(visit_of(), clara, AT)
    with pytest.raises(ValidationError, match="asks for nothing"):
        claiming.submit(claim, clara, AT)
