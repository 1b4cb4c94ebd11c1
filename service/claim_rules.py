"""What may be done with a claim, by whom, and what bars it; each refusal in words."""

from decimal import Decimal

from django.core.exceptions import PermissionDenied, ValidationError
from django.utils.translation import gettext as _

from fleetcool.models import Person, Role
from service.claim_facts import ClaimAssessment
from service.engineering.coverage import Verdict
from service.models import Claim, ClaimState, ClaimStepKind

__all__ = [
    "ACTS",
    "check_may_decide",
    "check_step",
    "check_why",
    "declining_rules",
    "is_short",
    "steps_open_to",
]

# Who makes claims, decides them, and recovers what they cost.
ACTS = (Role.WARRANTY_CLERK, Role.OWNER)
# What counts as a reason: a word is none.
LEAST_WHY = 8

State, Kind = ClaimState, ClaimStepKind
DECISIONS = (Kind.APPROVED, Kind.DECLINED)
TO_BE_DECIDED = (*DECISIONS, Kind.MORE_ASKED)
# A credit may still be owed from before a claim was opened again.
SETTLED = (Kind.SENT_TO_MAKER, Kind.CREDITED, Kind.CLOSED, Kind.REOPENED)
# The steps that may follow where a claim stands. An approval may turn out one of three kinds: in
# full, in part, or the first of two.
FOLLOWS = {
    State.DRAFT: (Kind.SUBMITTED,),
    State.SUBMITTED: TO_BE_DECIDED,
    State.MORE_ASKED: (Kind.ANSWERED, Kind.DECLINED),
    State.AWAITING_SECOND: TO_BE_DECIDED,
    State.APPROVED: SETTLED,
    State.APPROVED_IN_PART: SETTLED,
    State.DECLINED: (Kind.CLOSED, Kind.REOPENED),
    State.SENT_TO_MAKER: SETTLED,
    State.CREDITED: SETTLED,
    State.CLOSED: (Kind.REOPENED,),
}


def steps_open_to(claim: Claim, person: Person) -> list[ClaimStepKind]:
    """The steps that a person may take with a claim as it stands, for the forms to show."""
    if person.role not in ACTS:
        return []
    steps = list(FOLLOWS[claim.state])
    if person.pk in _loggers(claim):
        steps = [step for step in steps if step not in DECISIONS]
    if not is_short(claim):
        steps = [step for step in steps if step != Kind.CREDITED]
    last = claim.last_step
    if last and last.kind == Kind.FIRST_APPROVED and last.by_id == person.pk:
        steps.remove(Kind.APPROVED)
    return steps


def check_step(claim: Claim, kind: ClaimStepKind) -> None:
    """Raise ValidationError where a step may not follow on the last one."""
    if kind not in FOLLOWS[claim.state]:
        raise ValidationError(
            _("This claim is “%(state)s”; it cannot be “%(step)s” from there.")
            % {"state": claim.state.label, "step": kind.label}
        )


def check_may_decide(claim: Claim, by: Person) -> None:
    """Raise where a person may not decide: another role, or they logged any of it themselves."""
    if by.role not in ACTS:
        raise PermissionDenied
    if by.pk in _loggers(claim):
        raise ValidationError(
            _("Nobody decides on what they logged themselves; another person has to.")
        )


def check_why(why: str) -> str:
    """Return a reason without its outer spaces; raise ValidationError for what says nothing."""
    why = why.strip()
    if len(why) < LEAST_WHY:
        raise ValidationError(_("Say why, in a few words."))
    return why


def declining_rules(said: ClaimAssessment) -> list[str]:
    """The keys of the rules that a decline may cite: those that fail, then those in doubt."""
    rules = said.rules()
    verdicts = (Verdict.FAILS, Verdict.CANNOT_SAY)
    return [
        key for want in verdicts for key, (_line, rule) in rules.items() if rule.verdict == want
    ]


def is_short(claim: Claim) -> bool:
    """Whether a supplier still owes on a claim."""
    asked = sum((one.asked for one in claim.recoveries.all()), Decimal(0))
    credited = sum(
        (step.amount for step in claim.steps.all() if step.kind == Kind.CREDITED), Decimal(0)
    )
    return credited < asked


def _loggers(claim: Claim) -> set[int]:
    """Whoever opened it, wrote any of its lines, or logged the visit or was at it."""
    visit = claim.visit
    at_visit = visit.technician.person_id if visit.technician else None
    people = {claim.logged_by_id, visit.entered_by_id, at_visit}
    people |= {line.entered_by_id for line in claim.lines.all()}
    return people - {None}
