"""No path of steps loses or rewrites a decision."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcool.models import Role
from service import claiming
from service.claim_facts import assess_claim
from service.models import Claim, ClaimLine, ClaimState, ClaimStep, ClaimStepKind, Recovery
from service.models.claims import CENT
from tests.factories import PersonFactory
from tests.service.claims import AT, COMPRESSOR, LABOUR, WHY, claim_of, fresh, shop_terms, supplier

pytestmark = pytest.mark.django_db
ACTS = {
    "submit": "submitted",
    "approve": "approved",
    "approve in part": "approved",
    "decline": "declined",
    "ask more": "more_asked",
    "answer": "answered",
    "send": "sent_to_maker",
    "credit": "credited",
    "close": "closed",
    "reopen": "reopened",
    "reprice": "",
    "amend": "",
}
# The way to a credit is long: these are taken three times as often as the rest.
ON_THE_WAY = ("approve", "approve in part", "send", "credit")
# Cents: some sums are above what one person may approve, and some are above what is owed.
CENTS = st.one_of(st.integers(1, 5_000), st.integers(0, 60_000))
# Who acts: two who may decide, mostly; the one who logged it; one who may nothing.
WHO = st.sampled_from([1, 2, 1, 2, 1, 2, 0, 3])
# Mostly what may be done now, at times just anything; which of those, who, and how much.
act = st.tuples(st.integers(0, 4), st.integers(0, 59), WHO, CENTS)


@pytest.fixture
def stage():
    """A claim on its way to be decided, and the people around it."""
    shop_terms(four_eyes_above="300.00")
    roles = (Role.WARRANTY_CLERK, Role.OWNER, Role.WARRANTY_CLERK, Role.OFFICE)
    people = [PersonFactory(role=role) for role in roles]
    claim = claim_of(people[0])
    claiming.submit(claim, people[0], AT)
    return claim, people


def do(stage, luck: int, which: int, who: int, cents: int) -> None:
    claim, people = stage
    claim, by = fresh(claim), people[who]
    open_to = claiming.steps_open_to(claim, by) if luck else []
    names = [name for name, kind in ACTS.items() if kind in open_to] or list(ACTS)
    names += [name for name in names if name in ON_THE_WAY] * 2
    name = names[which % len(names)]
    amount = Decimal(cents) / 100
    line = claim.lines.first()
    match name:
        case "submit":
            claiming.submit(claim, by, AT)
        case "approve":
            claiming.approve(claim, by, AT, why=WHY)
        case "approve in part":
            claiming.approve(claim, by, AT, {line.pk: amount}, WHY)
        case "decline":
            rules = claiming.declining_rules(assess_claim(claim, AT.date()))
            claiming.decline(claim, by, AT, rules[cents % len(rules)], WHY)
        case "ask more":
            claiming.ask_more(claim, by, AT, WHY)
        case "answer":
            claiming.answer(claim, by, AT, WHY)
        case "send":
            claiming.send_to_maker(claim, by, AT, supplier(), amount % 100 + CENT)
        case "credit" if recovery := Recovery.objects.filter(claim=claim).last():
            claiming.credit(claim, by, AT, recovery, amount % 20 + CENT)
        case "close":
            claiming.close(claim, by, AT, WHY)
        case "reopen":
            claiming.reopen(claim, by, AT, WHY)
        case "reprice":
            lines = [COMPRESSOR | {"unit_price": amount}, LABOUR]
            claiming.write_lines(claim, lines, by, AT)
        case "amend":
            claiming.amend(claim, by, AT, meter_h=float(cents))


def rows() -> list[dict]:
    return list(ClaimStep.objects.order_by("position").values())


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(act, min_size=8, max_size=16))
def test_whatever_is_done_no_decision_is_lost_or_rewritten(stage, acts):
    claim, people = stage
    sid = transaction.savepoint()
    kept = rows()
    for one in acts:
        lines = list(ClaimLine.objects.values())
        try:
            with transaction.atomic():
                do(stage, *one)
        except (ValidationError, PermissionDenied):
            # What is refused leaves all as it was.
            assert rows() == kept and list(ClaimLine.objects.values()) == lines
            continue
        now = rows()
        assert now[: len(kept)] == kept
        assert len(now) - len(kept) in (0, 1)
        kept = now
        check(fresh(claim), people)
    transaction.savepoint_rollback(sid)


def check(claim: Claim, people: list) -> None:
    """What holds of a claim after any step."""
    steps = list(claim.steps.order_by("position"))
    assert [step.position for step in steps] == list(range(1, len(steps) + 1))
    assert claim.state == ClaimStepKind(steps[-1].kind).leads_to
    assert Claim.objects.in_state(claim.state).get() == claim
    for before, step in zip([None, *steps], steps, strict=False):
        if not ClaimStepKind(step.kind).decides:
            continue
        # Decided by one of the two who may, with every rule as it stood.
        assert step.by in people[1:3]
        assert all(line["rules"] for line in step.decision["lines"])
        approved = sum(Decimal(line["approved"]) for line in step.decision["lines"])
        assert approved == (step.amount or 0)
        if step.kind in ("approved", "approved_in_part") and step.amount > 300:
            assert before.kind == "first_approved" and before.by != step.by
            assert before.amount == step.amount
    if claim.state == ClaimState.DECLINED:
        assert steps[-1].rule
    for recovery in Recovery.objects.aged(AT.date()):
        assert 0 <= recovery.owed <= recovery.asked
        assert recovery.credited + recovery.owed == recovery.asked
