"""What is done with a claim: each act one transaction, refused in words or written whole.

An act first locks the claim, so that two people who act at once come one after the other. Each
decision keeps what it rested on (`service.claim_decisions`).
"""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from fleetcool.models import Person
from installs.cover import dated_terms, first_install
from installs.models import Install, PartGroup, Terms
from service.book_rules import day_of
from service.claim_decisions import amounts_in, decision_of, given_amounts, sum_of
from service.claim_facts import assess_claim
from service.claim_rules import (
    ACTS,
    check_may_decide,
    check_step,
    check_why,
    declining_rules,
    is_short,
    steps_open_to,
)
from service.engineering.coverage import Covered
from service.models import (
    Claim,
    ClaimLine,
    ClaimState,
    ClaimStep,
    ClaimStepKind,
    LineKind,
    Recovery,
    Supplier,
    Visit,
)

__all__ = [
    "amend",
    "answer",
    "approve",
    "ask_more",
    "close",
    "credit",
    "decline",
    "declining_rules",
    "open_from_visit",
    "reopen",
    "send_to_maker",
    "steps_open_to",
    "submit",
    "write_lines",
]

Kind = ClaimStepKind
# A shop whose units are under no terms still says in what it reckons.
NO_TERMS_CURRENCY = Terms._meta.get_field("currency").default


@transaction.atomic
def open_from_visit(visit: Visit, by: Person, at: datetime) -> Claim:
    """Open a claim for what a visit found; asked twice, the one that is there is returned.

    Its lines are what the visit changed, and a line for the refrigerant that it put in; their
    prices are still 0. Raises PermissionDenied for who may not.
    """
    _check_role(by)
    visit = Visit.objects.select_for_update().get(pk=visit.pk)
    if visit.is_doubled:
        raise ValidationError(
            _("This visit is another one, logged twice; open the claim from that one.")
        )
    if there := Claim.objects.filter(visit=visit).first():
        return there
    failed_on = day_of(visit.at)
    first = first_install(visit.unit)
    dated = dated_terms(first, Terms.objects.all()) if first else None
    claim = Claim(
        visit=visit,
        unit=visit.unit,
        install=_install_of(visit, failed_on),
        customer=visit.customer,
        terms=dated.terms if dated else None,
        currency=dated.terms.currency if dated else NO_TERMS_CURRENCY,
        failed_on=failed_on,
        words=visit.found or visit.complaint,
        logged_by=by,
        logged_at=at,
    )
    _checked(claim).save()
    _write(claim, _proposed(visit), by)
    return claim


@transaction.atomic
def amend(claim: Claim, by: Person, at: datetime, **words) -> Claim:
    """Correct `failed_on`, `words`, `meter_h` or `moved_by_others` while it is still being made."""
    claim = _locked(claim)
    _check_open(claim, by)
    for name in ("failed_on", "words", "meter_h", "moved_by_others"):
        if name in words:
            setattr(claim, name, words.pop(name))
    if words:
        raise TypeError(f"A claim is not amended by {', '.join(words)}.")
    if claim.failed_on > day_of(at):
        raise ValidationError({"failed_on": _("That day is still to come.")})
    _checked(claim).save()
    return claim


@transaction.atomic
def write_lines(
    claim: Claim, lines: list[Mapping[str, object]], by: Person, at: datetime
) -> list[ClaimLine]:
    """Put these lines in place of those there are, while the claim is still being made.

    A line is a mapping by the fields of `ClaimLine`; its history keeps what stood before.
    """
    claim = _locked(claim)
    _check_open(claim, by)
    for line in claim.lines.all():
        line.delete()
    return _write(claim, lines, by)


@transaction.atomic
def submit(claim: Claim, by: Person, at: datetime, why: str = "") -> ClaimStep:
    """Hand it in to be decided. Raises ValidationError for one that asks for nothing."""
    claim = _locked(claim)
    _check(claim, Kind.SUBMITTED, by)
    _check_asks(claim)
    return _take(claim, Kind.SUBMITTED, by, at, why=why)


@transaction.atomic
def ask_more(claim: Claim, by: Person, at: datetime, why: str) -> ClaimStep:
    """Ask whoever made the claim for what is missing, in words."""
    claim = _locked(claim)
    _check(claim, Kind.MORE_ASKED, by)
    return _take(claim, Kind.MORE_ASKED, by, at, why=check_why(why))


@transaction.atomic
def answer(claim: Claim, by: Person, at: datetime, why: str) -> ClaimStep:
    """Answer what was asked; it is to be decided again."""
    claim = _locked(claim)
    _check(claim, Kind.ANSWERED, by)
    _check_asks(claim)
    return _take(claim, Kind.ANSWERED, by, at, why=check_why(why))


@transaction.atomic
def approve(
    claim: Claim,
    by: Person,
    at: datetime,
    amounts: Mapping[int, Decimal] | None = None,
    why: str = "",
) -> ClaimStep:
    """Approve what each line asks for, or these amounts by the key of the line.

    A sum above what the terms let one person approve waits for a second person, who approves the
    same amounts; other amounts are a first approval again. Raises ValidationError where the person
    logged any of it, and without a reason where it is less than asked or the rules do not all hold.
    """
    claim = _locked(claim)
    check_may_decide(claim, by)
    check_step(claim, Kind.APPROVED)
    lines = list(claim.lines.all())
    given = given_amounts(lines, amounts)
    total = sum(given.values(), Decimal("0.00"))
    if total <= 0:
        raise ValidationError(_("Nothing would be approved. Decline it by the rule that fails."))
    today = day_of(at)
    said = assess_claim(claim, today)
    in_part = total < claim.asked
    if in_part or said.covered != Covered.COVERED:
        why = check_why(why)
    decision = decision_of(claim, said, given, today)
    kind = Kind.APPROVED_IN_PART if in_part else Kind.APPROVED
    if _asks_for_second(claim, total) and not _seconds(claim, by, decision):
        kind = Kind.FIRST_APPROVED
    return _take(claim, kind, by, at, why=why, amount=total, decision=decision)


@transaction.atomic
def decline(claim: Claim, by: Person, at: datetime, rule: str, why: str) -> ClaimStep:
    """Decline it by a rule that does not hold (`declining_rules`), and say why."""
    claim = _locked(claim)
    check_may_decide(claim, by)
    check_step(claim, Kind.DECLINED)
    today = day_of(at)
    said = assess_claim(claim, today)
    if rule not in declining_rules(said):
        raise ValidationError(
            _("Name the rule that it is declined by; one that holds is no reason.")
        )
    why = check_why(why)
    nothing = {line.pk: Decimal("0.00") for line in claim.lines.all()}
    decision = decision_of(claim, said, nothing, today)
    return _take(claim, Kind.DECLINED, by, at, why=why, rule=rule, decision=decision)


@transaction.atomic
def send_to_maker(
    claim: Claim,
    by: Person,
    at: datetime,
    supplier: Supplier,
    asked: Decimal,
    reference: str = "",
) -> Recovery:
    """Ask a supplier for what its part cost. All that is asked is at most what was approved."""
    claim = _locked(claim)
    _check(claim, Kind.SENT_TO_MAKER, by)
    asked = sum_of(asked)
    sent = sum((one.asked for one in claim.recoveries.all()), Decimal("0.00"))
    if sent + asked > claim.approved:
        raise ValidationError(
            _("Only %(approved)s was approved, and %(sent)s of it is asked already.")
            % {"approved": claim.approved, "sent": sent}
        )
    sent_on = day_of(at)
    recovery = Recovery(
        claim=claim,
        supplier=supplier,
        reference=reference,
        asked=asked,
        currency=claim.currency,
        sent_on=sent_on,
        due_on=sent_on + timedelta(days=supplier.days_to_pay),
    )
    _checked(recovery).save()
    _take(claim, Kind.SENT_TO_MAKER, by, at, amount=asked, recovery=recovery)
    return recovery


@transaction.atomic
def credit(
    claim: Claim, by: Person, at: datetime, recovery: Recovery, amount: Decimal, why: str = ""
) -> ClaimStep:
    """Write down what a supplier credited; several credits add up to what it was asked for."""
    claim = _locked(claim)
    _check(claim, Kind.CREDITED, by)
    if recovery.claim_id != claim.pk:
        raise ValidationError(_("That was asked on another claim."))
    amount = sum_of(amount)
    owed = recovery.asked - sum(
        (step.amount for step in claim.steps.all() if _credits(step, recovery)), Decimal("0.00")
    )
    if amount > owed:
        raise ValidationError(_("Only %(owed)s is still owed.") % {"owed": owed})
    return _take(claim, Kind.CREDITED, by, at, why=why, amount=amount, recovery=recovery)


@transaction.atomic
def close(claim: Claim, by: Person, at: datetime, why: str = "") -> ClaimStep:
    """Close it. Where a supplier still owes, that is given up, and the reason is asked for."""
    claim = _locked(claim)
    _check(claim, Kind.CLOSED, by)
    if is_short(claim):
        why = check_why(why)
    return _take(claim, Kind.CLOSED, by, at, why=why)


@transaction.atomic
def reopen(claim: Claim, by: Person, at: datetime, why: str) -> ClaimStep:
    """Open it again to be decided anew; the old decision stays among its steps."""
    claim = _locked(claim)
    _check(claim, Kind.REOPENED, by)
    return _take(claim, Kind.REOPENED, by, at, why=check_why(why))


def _locked(claim: Claim) -> Claim:
    """The claim as it stands now, held until the act is done."""
    Claim.objects.select_for_update().get(pk=claim.pk)
    related = ("unit__model", "visit__tractor__bank", "terms", "customer")
    return Claim.objects.select_related(*related).get(pk=claim.pk)


def _check_role(by: Person) -> None:
    if by.role not in ACTS:
        raise PermissionDenied


def _check(claim: Claim, kind: ClaimStepKind, by: Person) -> None:
    _check_role(by)
    check_step(claim, kind)


def _check_open(claim: Claim, by: Person) -> None:
    """Lines and words are changed only before they are handed in, or when more is asked."""
    _check_role(by)
    if claim.state not in (ClaimState.DRAFT, ClaimState.MORE_ASKED):
        raise ValidationError(
            _("It has been handed in. To change it, ask for more first, or open it again.")
        )


def _check_asks(claim: Claim) -> None:
    if claim.asked <= 0:
        raise ValidationError(_("It asks for nothing yet: give what each line costs."))


def _take(claim: Claim, kind: ClaimStepKind, by: Person, at: datetime, **told) -> ClaimStep:
    last = claim.last_step
    step = ClaimStep(
        claim=claim,
        position=last.position + 1 if last else 1,
        kind=kind,
        by=by,
        at=at,
        day=day_of(at),
        **told,
    )
    _checked(step).save()
    return step


def _install_of(visit: Visit, day: date) -> Install | None:
    return Install.objects.on(day).filter(unit=visit.unit).first()


def _proposed(visit: Visit) -> list[dict[str, object]]:
    """What a visit changed, as lines with a price still to come."""
    lines = [
        {
            "kind": LineKind.PART,
            "part_group": part.part_group,
            "name": part.name,
            "serial_out": part.serial_out,
            "serial_in": part.serial_in,
            "quantity": Decimal(1),
        }
        for part in visit.parts.all()
        if part.part_group and part.part_group not in LineKind.values
    ]
    put_in_g = sum(row.mass_g for row in visit.movement_set.exclude(movement="recovered"))
    if put_in_g:
        lines.append(
            {
                "kind": LineKind.REFRIGERANT,
                "part_group": PartGroup.REFRIGERANT,
                "name": _("%(refrigerant)s, g") % {"refrigerant": visit.unit.model.refrigerant},
                "quantity": Decimal(str(round(put_in_g, 3))),
            }
        )
    return [line | {"unit_price": Decimal("0.00")} for line in lines]


def _write(claim: Claim, lines: list[Mapping[str, object]], by: Person) -> list[ClaimLine]:
    written = [ClaimLine(claim=claim, entered_by=by, **line) for line in lines]
    for line in written:
        _checked(line).save()
    return written


def _credits(step: ClaimStep, recovery: Recovery) -> bool:
    return step.kind == Kind.CREDITED and step.recovery_id == recovery.pk


def _asks_for_second(claim: Claim, total: Decimal) -> bool:
    above = claim.terms.four_eyes_above if claim.terms else None
    return above is not None and total > above


def _seconds(claim: Claim, by: Person, decision: dict) -> bool:
    """Whether this person approves what another one has approved first, line for line."""
    last = claim.last_step
    if last.kind != Kind.FIRST_APPROVED:
        return False
    if last.by_id == by.pk:
        raise ValidationError(_("You have approved it; a second person has to do so now."))
    return amounts_in(last.decision) == amounts_in(decision)


def _checked(row):
    """The row, once the model's own rules hold."""
    row.full_clean()
    return row
