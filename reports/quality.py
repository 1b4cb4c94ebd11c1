"""How often the screen was right, what was found instead, and how long its words lie unanswered."""

from collections import Counter
from collections.abc import Iterable
from datetime import date
from statistics import median
from typing import NamedTuple

from django.db.models import OuterRef, Subquery
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from scipy.stats import binomtest

from reports.exports.bars import Share, share_chart
from reports.models import Cause, Concern, ConcernStep, Finding, Step
from reports.states import NEW, found_text

__all__ = ["Hits", "Lying", "Quality", "hits_picture", "quality", "share_bounds"]

LONGEST = 10


class Hits(NamedTuple):
    """How often a cause was confirmed at the truck. The bounds are of the share, at 95 %."""

    cause: Cause
    confirmed: int
    refuted: int
    low: float
    high: float
    instead: list[tuple[str, int]]

    @property
    def looked_at(self) -> int:
        return self.confirmed + self.refuted

    @property
    def in_words(self) -> str:
        """The share as a count, with its range in per cent: never a bare share of a few."""
        words = _("%(n)d of %(of)d, so between %(low)d and %(high)d %%")
        return words % {
            "n": self.confirmed,
            "of": self.looked_at,
            "low": round(100 * self.low),
            "high": round(100 * self.high),
        }


class Lying(NamedTuple):
    """How long some concerns lie, or lay, open, in days; `asked` narrows the findings to them."""

    label: str
    count: int
    median_days: float
    longest_days: int
    asked: str = ""


class Quality(NamedTuple):
    hits: list[Hits]
    open_by_state: list[Lying]
    open_by_cause: list[Lying]
    settled_by_end: list[Lying]
    settled_by_cause: list[Lying]
    longest: list[Concern]


def quality(user, today: date) -> Quality:
    """Return what the shop's records say of the screen; `longest` are the oldest open concerns.

    Each of those has `finding_pk`, its newest finding. The queries are as many for any record.
    """
    newest = Finding.objects.filter(concern=OuterRef("pk")).order_by("-run__as_of").values("pk")
    concerns = list(
        Concern.objects.visible_to(user)
        .select_related("unit", "customer", "last_step")
        .annotate(finding_pk=Subquery(newest[:1]))
    )
    standing = [concern for concern in concerns if concern.is_open]
    settled = [concern for concern in concerns if not concern.is_open]
    return Quality(
        _hits(user),
        _by_state(standing, today, "?state="),
        _by_cause(standing, today, "?state=all&cause="),
        _by_state(settled, today),
        _by_cause(settled, today),
        sorted(standing, key=lambda one: one.first_said_on)[:LONGEST],
    )


def hits_picture(hits: list[Hits]) -> SafeString | None:
    """Return the shares that were confirmed as bars; None where nothing was looked at yet."""
    if not hits:
        return None
    shares = [
        Share(
            f"{hit.cause.label}: {hit.in_words}", hit.confirmed / hit.looked_at, hit.low, hit.high
        )
        for hit in hits
    ]
    described = ". ".join(share.words for share in shares)
    # The drawing escapes all text it is given.
    return mark_safe(share_chart(_("Confirmed at the truck"), f"{described}.", shares))


def share_bounds(count: int, of: int) -> tuple[float, float]:
    """Return the bounds of a share at 95 %, by Wilson's score interval (1927)."""
    bounds = binomtest(count, of).proportion_ci(0.95, method="wilson")
    return float(bounds.low), float(bounds.high)


def _hits(user) -> list[Hits]:
    """One row a cause that was looked at; of several looks at one concern the last counts."""
    steps = ConcernStep.objects.visible_to(user).verdicts().order_by("at", "pk")
    last = {
        concern: rest for concern, *rest in steps.values_list("concern", "cause", "cause_found")
    }
    found = {
        cause: Counter(there for said, there in last.values() if said == cause) for cause in Cause
    }
    return [_hit(cause, counts) for cause, counts in found.items() if counts]


def _hit(cause: Cause, found: Counter) -> Hits:
    confirmed = found[cause]
    instead = [(found_text(there), n) for there, n in found.most_common() if there != cause]
    low, high = share_bounds(confirmed, found.total())
    return Hits(cause, confirmed, found.total() - confirmed, low, high, instead)


def _by_state(concerns: list[Concern], today: date, asked: str = "") -> list[Lying]:
    labels = {"": NEW} | {step: step.label for step in Step}
    labels[Step.CONFIRMED] = _("confirmed and mended")
    if any(concern.is_open for concern in concerns):
        labels[Step.CONFIRMED] = _("confirmed, not mended yet")
    groups = {what: [] for what in labels}
    for concern in concerns:
        groups[concern.last_step.what if concern.last_step else ""].append(concern)
    return [
        _lying(label, groups[what], today, asked and f"{asked}{what or 'new'}")
        for what, label in labels.items()
        if groups[what]
    ]


def _by_cause(concerns: list[Concern], today: date, asked: str = "") -> list[Lying]:
    groups = {cause: [one for one in concerns if one.cause == cause] for cause in Cause}
    return [
        _lying(cause.label, group, today, asked and f"{asked}{cause}")
        for cause, group in groups.items()
        if group
    ]


def _lying(label: str, concerns: Iterable[Concern], today: date, asked: str) -> Lying:
    days = [concern.days_open(today) for concern in concerns]
    return Lying(str(label), len(days), median(days), max(days), asked)
