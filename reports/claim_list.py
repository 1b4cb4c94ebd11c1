"""The clerk's work list: which claims, by when, how old, and what they add up to."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleetcool.models import Person
from installs.models import PartGroup, Terms
from service.claim_rules import ACTS
from service.models import Claim, ClaimLine, ClaimState, ClaimStep, ClaimStepKind, Visit

__all__ = [
    "Total",
    "age_days",
    "claim_rows",
    "deadline_of",
    "due_within",
    "granted",
    "groups_of",
    "mine_to_decide",
    "open_claims",
    "totals",
    "truck_of",
    "waits_days",
]

TO_DECIDE = (ClaimState.SUBMITTED, ClaimState.AWAITING_SECOND)


def claim_rows(user: Person) -> QuerySet[Claim]:
    """The claims that a person sees, with all that a list names of each; newest first.

    `last_at` is the moment of the last step, or of the logging; `last_by` who took that step.
    """
    last = ClaimStep.objects.filter(claim=OuterRef("pk")).order_by("-position")
    return (
        Claim.objects.visible_to(user)
        .with_all()
        .with_state()
        .with_asked()
        .annotate(
            last_at=Coalesce(Subquery(last.values("at")[:1]), "logged_at"),
            last_by=Subquery(last.values("by")[:1]),
        )
        .order_by("-logged_at", "-pk")
    )


def open_claims(rows: QuerySet[Claim]) -> QuerySet[Claim]:
    """All but those that are closed."""
    return rows.exclude(last_kind=ClaimStepKind.CLOSED)


def due_within(rows: QuerySet[Claim], days: int, today: date) -> QuerySet[Claim]:
    """Those that were never submitted and must be within so many days, or should have been."""
    due = Q(pk__in=[])
    last = today + timedelta(days=days)
    for claim_days in Terms.objects.values_list("claim_days", flat=True).distinct():
        due |= Q(terms__claim_days=claim_days, failed_on__lte=last - timedelta(days=claim_days))
    return rows.filter(due, ~Exists(ClaimStep.objects.filter(claim=OuterRef("pk"))))


def mine_to_decide(rows: QuerySet[Claim], user: Person) -> QuerySet[Claim]:
    """Those that wait for a decision which this person may take: nothing they logged themselves."""
    if user.role not in ACTS:
        return rows.none()
    own_lines = ClaimLine.objects.filter(claim=OuterRef("pk"), entered_by=user)
    own_visits = Visit.objects.filter(Q(entered_by=user) | Q(technician__person=user))
    waiting = rows.in_state(*TO_DECIDE).exclude(logged_by=user)
    waiting = waiting.filter(~Exists(own_lines), ~Exists(own_visits.filter(pk=OuterRef("visit"))))
    return waiting.exclude(last_kind=ClaimStepKind.FIRST_APPROVED, last_by=user.pk)


def deadline_of(claim: Claim) -> date | None:
    """The last day on which it can be submitted; None without terms."""
    return claim.failed_on + timedelta(days=claim.terms.claim_days) if claim.terms else None


def age_days(claim: Claim, today: date) -> int:
    """Days since it was logged, until it was closed."""
    last = claim.last_step
    ended = last.day if last and last.kind == ClaimStepKind.CLOSED else today
    return max((ended - _day(claim.logged_at)).days, 0)


def waits_days(claim: Claim, today: date) -> int:
    """Days since its last step, or since it was logged."""
    last = claim.last_step
    return max((today - (last.day if last else _day(claim.logged_at))).days, 0)


def truck_of(claim: Claim) -> str:
    """The truck as it was the customer's; one that was sold since shows its VIN alone."""
    if claim.install is None:
        return ""
    tractor = claim.install.tractor
    is_theirs = tractor.customer_id == claim.customer_id
    return (is_theirs and tractor.truck_number) or tractor.vin


def granted(claim: Claim) -> dict[int, Decimal]:
    """What the decision that stands approves of each line, by the line's key."""
    decision = claim.decision
    if decision is None or decision.kind == ClaimStepKind.FIRST_APPROVED:
        return {}
    lines = decision.decision.get("lines", [])
    return {line["line"]: Decimal(line["approved"]) for line in lines}


def groups_of(claim: Claim) -> list[str]:
    """The part groups of its lines, each once, as words."""
    return list(dict.fromkeys(str(PartGroup(line.part_group).label) for line in claim.lines.all()))


@dataclass
class Total:
    """What claims of one currency add up to."""

    currency: str
    claims: int = 0
    asked: Decimal = field(default=Decimal("0.00"))
    approved: Decimal = field(default=Decimal("0.00"))


def totals(claims: Iterable[Claim]) -> list[Total]:
    """Return the sums by currency; each line is rounded for itself, as on its claim."""
    found: dict[str, Total] = {}
    for claim in claims:
        total = found.setdefault(claim.currency, Total(claim.currency))
        total.claims += 1
        total.asked += claim.asked
        total.approved += claim.approved or 0
    return [found[currency] for currency in sorted(found)]


def _day(moment) -> date:
    return timezone.localtime(moment, timezone.get_default_timezone()).date()
