"""What is done with a claim, by whom, and what bars it."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from fleetcool.models import Role
from service import claiming
from service.claim_facts import assess_claim
from service.models import (
    Claim,
    ClaimLine,
    ClaimState,
    ClaimStep,
    ClaimStepKind,
)
from tests.factories import PersonFactory, TechnicianFactory
from tests.service.claims import (
    AT,
    COMPRESSOR,
    LABOUR,
    WHY,
    claim_of,
    fresh,
    money,
    shop_terms,
    submitted,
    supplier,
    visit_of,
)

DAY = date(2024, 6, 5)


@pytest.fixture
def terms(db):
    return shop_terms()


@pytest.fixture
def claire(db):
    return PersonFactory(username="claire", role=Role.WARRANTY_CLERK)


def approved(clara, osman, why: str = WHY) -> Claim:
    claim = submitted(clara)
    claiming.approve(claim, osman, AT, why=why)
    return fresh(claim)


# deciding


def test_a_claim_is_approved_in_full_by_another_person(terms, clara, osman):
    claim = approved(clara, osman)
    assert (claim.state, claim.approved) == (ClaimState.APPROVED, money("432.40"))
    step = claim.decision
    assert (step.by, step.at, step.day, step.position) == (osman, AT, DAY, 2)


def test_an_approval_against_a_rule_in_doubt_says_why(terms, clara, osman):
    claim = submitted(clara)
    assert assess_claim(claim, DAY).covered == "cannot_say"
    with pytest.raises(ValidationError, match="Say why"):
        claiming.approve(claim, osman, AT)


def test_nobody_decides_on_what_they_logged(terms, clara, osman):
    claim = submitted(clara)
    for act in (
        lambda: claiming.approve(claim, clara, AT, why=WHY),
        lambda: claiming.decline(claim, clara, AT, "1:months", WHY),
    ):
        with pytest.raises(ValidationError, match="logged themselves"):
            act()
    assert fresh(claim).state == ClaimState.SUBMITTED


def test_nobody_decides_on_a_line_they_wrote(terms, clara, osman):
    claim = claim_of(clara)
    claiming.write_lines(claim, [LABOUR], osman, AT)
    claiming.submit(claim, clara, AT)
    with pytest.raises(ValidationError, match="logged themselves"):
        claiming.approve(claim, osman, AT, why=WHY)


@pytest.mark.parametrize("how", ["wrote the visit down", "was at the truck"])
def test_nobody_decides_on_their_own_visit(terms, clara, osman, how):
    visit = visit_of()
    if how == "was at the truck":
        visit.technician = TechnicianFactory(person=osman)
    else:
        visit.entered_by = osman
    visit.save()
    claim = submitted(clara, visit=visit)
    with pytest.raises(ValidationError, match="logged themselves"):
        claiming.approve(claim, osman, AT, why=WHY)


def test_the_office_decides_nothing(terms, clara, olga):
    with pytest.raises(PermissionDenied):
        claiming.approve(submitted(clara), olga, AT, why=WHY)


def test_a_claim_is_approved_in_part_line_by_line(terms, clara, osman):
    claim = submitted(clara)
    part, labour = claim.lines.all()
    claiming.approve(claim, osman, AT, {part.pk: money("300.00")}, WHY)
    claim = fresh(claim)
    assert (claim.state, claim.approved) == (ClaimState.APPROVED_IN_PART, money("300.00"))
    lines = {
        one["name"]: (one["asked"], one["approved"]) for one in claim.decision.decision["lines"]
    }
    assert lines == {"Compressor": ("312.40", "300.00"), "Labour, h": ("120.00", "0.00")}


@pytest.mark.parametrize("amount", ["312.41", "-0.01", "1.005", "NaN"])
def test_an_amount_that_cannot_be_is_not_approved(terms, clara, osman, amount):
    claim = submitted(clara)
    with pytest.raises(ValidationError):
        claiming.approve(claim, osman, AT, {claim.lines.first().pk: money(amount)}, WHY)


def test_binary_numbers_are_no_money(terms, clara, osman):
    claim = submitted(clara)
    with pytest.raises(TypeError):
        claiming.approve(claim, osman, AT, {claim.lines.first().pk: 300.0}, WHY)


def test_nothing_is_approved_by_approving_nothing(terms, clara, osman):
    with pytest.raises(ValidationError, match="Decline it"):
        claiming.approve(submitted(clara), osman, AT, {}, WHY)


def test_a_decline_cites_a_rule_that_does_not_hold(terms, clara, osman):
    claim = submitted(clara)
    part = claim.lines.first()
    with pytest.raises(ValidationError, match="Name the rule"):
        claiming.decline(claim, osman, AT, f"{part.pk}:months", WHY)
    claiming.decline(claim, osman, AT, f"{part.pk}:evidence_photos", WHY)
    step = fresh(claim).decision
    assert (step.kind, step.rule) == ("declined", f"{part.pk}:evidence_photos")
    said = {one["code"]: one["verdict"] for one in step.decision["lines"][0]["rules"]}
    assert (said["months"], said["evidence_photos"]) == ("holds", "cannot_say")


def test_more_is_asked_answered_and_decided(terms, clara, osman):
    claim = submitted(clara)
    claiming.ask_more(claim, osman, AT, "photos of the plate, please")
    assert fresh(claim).state == ClaimState.MORE_ASKED
    claiming.answer(claim, clara, AT, "added at the visit")
    claiming.approve(claim, osman, AT, why=WHY)
    assert fresh(claim).state == ClaimState.APPROVED


@pytest.mark.parametrize("why", ["", "   ", "because"])
def test_a_word_is_no_reason(terms, clara, osman, why):
    claim = submitted(clara)
    with pytest.raises(ValidationError, match="Say why"):
        claiming.ask_more(claim, osman, AT, why)


# four eyes


DEAR = [COMPRESSOR | {"unit_price": money("500.01")}]


def test_at_the_sum_one_person_is_enough(terms, clara, osman):
    claim = submitted(clara, lines=[COMPRESSOR | {"unit_price": money("500.00")}])
    claiming.approve(claim, osman, AT, why=WHY)
    assert fresh(claim).state == ClaimState.APPROVED


def test_a_cent_above_it_a_second_person_approves(terms, clara, osman, claire):
    claim = submitted(clara, lines=DEAR)
    claiming.approve(claim, osman, AT, why=WHY)
    assert (fresh(claim).state, fresh(claim).approved) == (ClaimState.AWAITING_SECOND, None)
    with pytest.raises(ValidationError, match="second person"):
        claiming.approve(claim, osman, AT, why=WHY)
    claiming.approve(claim, claire, AT, why=WHY)
    assert fresh(claim).state == ClaimState.APPROVED
    assert [step.by for step in claim.steps.all()] == [clara, osman, claire]


def test_the_second_is_not_whoever_logged_it(terms, clara, osman):
    claim = submitted(clara, lines=DEAR)
    claiming.approve(claim, osman, AT, why=WHY)
    with pytest.raises(ValidationError, match="logged themselves"):
        claiming.approve(claim, clara, AT, why=WHY)


def test_other_amounts_are_a_first_approval_again(terms, clara, osman, claire):
    claim = submitted(clara, lines=[*DEAR, LABOUR])
    claiming.approve(claim, osman, AT, why=WHY)
    part, labour = claim.lines.all()
    claiming.approve(claim, claire, AT, {part.pk: part.amount}, WHY)
    assert fresh(claim).state == ClaimState.AWAITING_SECOND
    claiming.approve(claim, osman, AT, {part.pk: part.amount}, WHY)
    assert (fresh(claim).state, fresh(claim).approved) == ("approved_in_part", money("500.01"))


def test_less_than_the_sum_needs_no_second(terms, clara, osman):
    claim = submitted(clara, lines=DEAR)
    claiming.approve(claim, osman, AT, {claim.lines.get().pk: money("500.00")}, WHY)
    assert fresh(claim).state == ClaimState.APPROVED_IN_PART


def test_the_second_may_decline_instead(terms, clara, osman, claire):
    claim = submitted(clara, lines=DEAR)
    claiming.approve(claim, osman, AT, why=WHY)
    claiming.decline(claim, claire, AT, f"{claim.lines.get().pk}:evidence_photos", WHY)
    assert fresh(claim).state == ClaimState.DECLINED


def test_terms_without_a_sum_ask_for_no_second(db, clara, osman):
    shop_terms(four_eyes_above=None)
    claim = submitted(clara, lines=[COMPRESSOR | {"unit_price": money("99999.99")}])
    claiming.approve(claim, osman, AT, why=WHY)
    assert fresh(claim).state == ClaimState.APPROVED


# recovery, closing, opening again


def test_from_visit_to_credited_and_closed(terms, clara, osman):
    claim = approved(clara, osman)
    sent = claiming.send_to_maker(claim, clara, AT, supplier(), money("312.40"), "RMA 7")
    assert (sent.sent_on, sent.due_on) == (DAY, date(2024, 7, 5))
    claiming.credit(claim, clara, AT, sent, money("312.40"))
    assert fresh(claim).state == ClaimState.CREDITED
    claiming.close(claim, clara, AT)
    assert fresh(claim).state == ClaimState.CLOSED


def test_no_more_is_asked_back_than_was_approved(terms, clara, osman):
    claim = approved(clara, osman)
    claiming.send_to_maker(claim, clara, AT, supplier(), money("400.00"))
    with pytest.raises(ValidationError, match="432.40 was approved, and 400.00"):
        claiming.send_to_maker(claim, clara, AT, supplier(name="Other"), money("32.41"))
    claiming.send_to_maker(claim, clara, AT, supplier(name="Other"), money("32.40"))


def test_no_more_is_credited_than_is_owed(terms, clara, osman):
    claim = approved(clara, osman)
    sent = claiming.send_to_maker(claim, clara, AT, supplier(), money("0.30"))
    claiming.credit(claim, clara, AT, sent, money("0.10"))
    claiming.credit(claim, clara, AT, sent, money("0.10"))
    with pytest.raises(ValidationError, match="Only 0.10 is still owed"):
        claiming.credit(claim, clara, AT, sent, money("0.11"))
    claiming.credit(claim, clara, AT, sent, money("0.10"))


def test_a_credit_for_another_claim_is_refused(terms, clara, osman):
    one, other = approved(clara, osman), approved(clara, osman)
    sent = claiming.send_to_maker(one, clara, AT, supplier(), money("10.00"))
    claiming.send_to_maker(other, clara, AT, supplier(), money("10.00"))
    with pytest.raises(ValidationError, match="another claim"):
        claiming.credit(other, clara, AT, sent, money("10.00"))


def test_what_a_supplier_still_owes_is_given_up_with_a_reason_only(terms, clara, osman):
    claim = approved(clara, osman)
    claiming.send_to_maker(claim, clara, AT, supplier(), money("10.00"))
    with pytest.raises(ValidationError, match="Say why"):
        claiming.close(claim, clara, AT)
    claiming.close(claim, clara, AT, "they closed down")


def test_a_claim_that_is_not_approved_is_not_sent(terms, clara):
    with pytest.raises(ValidationError, match="cannot be"):
        claiming.send_to_maker(submitted(clara), clara, AT, supplier(), money("1.00"))


def test_opened_again_it_keeps_the_old_decision(terms, clara, osman):
    claim = submitted(clara)
    cited = f"{claim.lines.first().pk}:evidence_photos"
    claiming.decline(claim, osman, AT, cited, WHY)
    before = ClaimStep.objects.filter(kind="declined").values().get()
    claiming.reopen(claim, clara, AT, "the photos came in")
    assert (fresh(claim).state, fresh(claim).decision) == (ClaimState.SUBMITTED, None)
    claiming.approve(claim, osman, AT, why=WHY)
    assert ClaimStep.objects.filter(kind="declined").values().get() == before
    assert fresh(claim).decision.kind == "approved"


# what holds in the database


def test_a_step_is_never_changed_or_deleted(terms, clara, osman):
    step = approved(clara, osman).decision
    with pytest.raises(TypeError):
        step.save()
    with pytest.raises(TypeError):
        step.delete()
    with pytest.raises(IntegrityError), transaction.atomic():
        ClaimStep.objects.update(why="something else")


def test_two_steps_never_take_one_place(terms, clara, osman):
    claim = submitted(clara)
    with pytest.raises(IntegrityError), transaction.atomic():
        ClaimStep.objects.bulk_create(
            [ClaimStep(claim=claim, position=1, kind="closed", by=osman, at=AT, day=DAY)]
        )


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("declined", {"why": WHY}),
        ("approved", {}),
        ("closed", {"amount": 1}),
        ("reopened", {}),
        ("credited", {"amount": 1}),
    ],
)
def test_the_database_holds_what_a_step_must_say(terms, clara, osman, kind, told):
    claim = submitted(clara)
    with pytest.raises(IntegrityError), transaction.atomic():
        ClaimStep.objects.bulk_create(
            [ClaimStep(claim=claim, position=2, kind=kind, by=osman, at=AT, day=DAY, **told)]
        )


# many claims


def test_every_state_is_found_by_its_last_step(terms, clara, osman):
    draft, handed_in, settled = claim_of(clara), submitted(clara), approved(clara, osman)
    states = Claim.objects
    assert list(states.in_state(ClaimState.DRAFT)) == [draft]
    assert list(states.in_state(ClaimState.SUBMITTED)) == [handed_in]
    assert set(states.in_state(ClaimState.APPROVED, ClaimState.DRAFT)) == {draft, settled}
    assert {one.state for one in states.with_state()} == {"draft", "submitted", "approved"}


def test_every_kind_of_step_leads_somewhere():
    assert {kind.leads_to for kind in ClaimStepKind} == set(ClaimState) - {ClaimState.DRAFT}


def test_frida_sees_the_claims_of_her_own_fleet(terms, clara, frida, frank):
    visit = visit_of()
    visit.customer = frida.customers.get()
    visit.save()
    claim = submitted(clara, visit=visit)
    assert list(Claim.objects.visible_to(frida)) == [claim]
    assert ClaimStep.objects.visible_to(frida).count() == 1
    assert not Claim.objects.visible_to(frank).exists()
    assert not ClaimLine.objects.visible_to(frank).exists()


def test_the_steps_shown_are_those_that_may_be_taken(terms, clara, osman, olga):
    claim = submitted(clara)
    assert claiming.steps_open_to(claim, osman) == ["approved", "declined", "more_asked"]
    assert claiming.steps_open_to(claim, clara) == ["more_asked"]
    assert claiming.steps_open_to(claim, olga) == []
