"""One claim: what it asks for, what the rules say, what is on record, and every step taken."""

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.models import Person
from reports.claim_list import age_days, deadline_of, granted, truck_of
from reports.claim_readings import reading_lines
from reports.claim_records import certificate_facts, certificate_of, movement_lines, photos_of
from reports.claim_rules import (
    KeptRule,
    ToldRules,
    decline_choices,
    kept_rules,
    rule_cited,
    told_rules,
)
from reports.claim_words import sum_text
from reports.forms.claims import DescribeForm, LinesForm, StepForm, forms_for
from service.claim_rules import ACTS, steps_open_to
from service.models import Claim, ClaimLine, ClaimState, ClaimStep, ClaimStepKind

__all__ = ["LineRow", "StepRow", "claim_page", "line_rows", "step_rows"]

# What a supplier is asked for and pays is the shop's own affair.
WITH_SUPPLIERS = (ClaimStepKind.SENT_TO_MAKER, ClaimStepKind.CREDITED)


class LineRow(NamedTuple):
    """A line with what was approved of it; None while nothing is decided."""

    line: ClaimLine
    granted: Decimal | None


class StepRow(NamedTuple):
    """One step in words: what, by whom, why, which sum, and the rule that a decline cites."""

    step: ClaimStep
    what: str
    who: str
    sum: str
    rule: str
    kept: list[KeptRule]


def claim_page(
    claim: Claim,
    user: Person,
    today: date,
    bound: DescribeForm | LinesForm | StepForm | None = None,
) -> dict[str, object]:
    """What stands on a claim's page; `bound` is a form that came back with what is wrong in it.

    A fixed number of queries, however many steps and records there are.
    """
    told = told_rules(claim, user, today) if user.sees_all else None
    deadline = deadline_of(claim)
    context = {
        "claim": claim,
        "state": capfirst(claim.state.label),
        "truck": truck_of(claim),
        "lines": line_rows(claim),
        "age": age_days(claim, today),
        "deadline": deadline,
        "days_left": (deadline - today).days if deadline and claim.state == "draft" else None,
        "told": told,
        "steps": step_rows(claim, user),
        "certificate": (certificate := certificate_of(claim, user)),
        "certificate_facts": certificate_facts(certificate, user) if user.sees_all else [],
        "readings": reading_lines(claim, user),
        "movements": movement_lines(claim, user),
        "photos": photos_of(claim, user),
    }
    if user.role not in ACTS:
        return context
    return context | _acts(claim, user, told, bound)


def _acts(claim: Claim, user: Person, told: ToldRules, bound) -> dict[str, object]:
    step_forms = forms_for(claim, user, decline_choices(told.assessment), bound)
    context = {
        "forms": step_forms,
        "why_not": _why_not(claim, user),
        "refused": bound if isinstance(bound, StepForm) and bound not in step_forms else None,
    }
    if claim.state in (ClaimState.DRAFT, ClaimState.MORE_ASKED):
        context |= {
            "describe": bound if isinstance(bound, DescribeForm) else DescribeForm(claim, user),
            "edit_lines": bound if isinstance(bound, LinesForm) else LinesForm(claim, user),
        }
    return context


def _why_not(claim: Claim, user: Person) -> str:
    """Why this person may not decide on a claim that waits for a decision; empty where they may."""
    waits = claim.state in (ClaimState.SUBMITTED, ClaimState.AWAITING_SECOND)
    if not waits or ClaimStepKind.APPROVED in steps_open_to(claim, user):
        return ""
    last = claim.last_step
    if last.kind == ClaimStepKind.FIRST_APPROVED and last.by_id == user.pk:
        return _("You have approved it; a second person has to do so now.")
    return _("You logged the claim, a line of it or its visit, so somebody else decides on it.")


def line_rows(claim: Claim) -> list[LineRow]:
    approved = granted(claim)
    return [LineRow(line, approved.get(line.pk)) for line in claim.lines.all()]


def step_rows(claim: Claim, user: Person) -> list[StepRow]:
    """The steps in their order; of the shop's people and sums a customer is told nothing."""
    steps = [step for step in claim.steps.all() if user.sees_all or step.kind not in WITH_SUPPLIERS]
    return [
        StepRow(
            step,
            capfirst(step.get_kind_display()),
            (step.by.get_full_name() or step.by.get_username()) if user.sees_all else _("the shop"),
            sum_text(step.amount, claim.currency) if step.amount and user.sees_all else "",
            rule_cited(step),
            kept_rules(step.decision) if user.sees_all else [],
        )
        for step in steps
    ]
