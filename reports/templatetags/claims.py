"""How templates write a claim's sums, its age and how long there is to submit it."""

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django import template
from django.utils import timezone
from django.utils.translation import gettext as _

from reports.claim_list import age_days, deadline_of, groups_of, truck_of, waits_days
from reports.claim_words import days_left_text, days_text, sum_text
from service.models import Claim, ClaimState

register = template.Library()
register.filter("days_left", days_left_text)
register.filter("truck_of", truck_of)


class Left(NamedTuple):
    """How long there is to submit a claim: days until the deadline, and that in words."""

    days: int
    words: str
    deadline: date


class Age(NamedTuple):
    since_logged: str
    since_step: str


@register.simple_tag
def money(value: Decimal | None, currency: str) -> str:
    return sum_text(value, currency)


@register.filter
def plain(quantity: Decimal) -> str:
    """A quantity without the zeros that say nothing."""
    return f"{quantity.normalize():f}"


@register.filter
def groups_text(claim: Claim) -> str:
    return ", ".join(groups_of(claim)) or _("nothing written down yet")


@register.simple_tag
def claim_left(claim: Claim) -> Left | None:
    """None for a claim that is submitted already, and for one under no terms."""
    deadline = deadline_of(claim)
    if deadline is None or claim.state != ClaimState.DRAFT:
        return None
    days = (deadline - timezone.localdate()).days
    return Left(days, days_left_text(days), deadline)


@register.simple_tag
def claim_age(claim: Claim) -> Age:
    today = timezone.localdate()
    return Age(days_text(age_days(claim, today)), days_text(waits_days(claim, today)))
