"""Rules about many claims, and what is owed back on them."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Self

from django.apps import apps
from django.db.models import Case, DecimalField, F, OuterRef, Q, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce, Round

from fleetcool.querysets import ShopOnlyQuerySet, VisibleQuerySet
from installs.querysets import OwnedQuerySet
from service.claim_states import Age, ClaimState, ClaimStepKind

__all__ = [
    "ClaimQuerySet",
    "OfClaimQuerySet",
    "RecoveryQuerySet",
    "ShopOnlyQuerySet",
]

NOTHING = Value(Decimal("0.00"), output_field=DecimalField(max_digits=12, decimal_places=2))


def exact_sum(name: str) -> Round:
    """The sum of an amount of money; SQLite adds in binary, which rounding undoes."""
    return Round(Sum(name), 2)


class ClaimQuerySet(OwnedQuerySet):
    def with_state(self) -> Self:
        """With `last_kind`, the kind of the last step, which says where a claim stands."""
        steps = apps.get_model("service", "ClaimStep").objects.filter(claim=OuterRef("pk"))
        last = steps.order_by("-position").values("kind")[:1]
        return self.annotate(last_kind=Coalesce(Subquery(last), Value("")))

    def in_state(self, *states: str) -> Self:
        """Those that stand so (`ClaimState`)."""
        wanted = [kind for kind in ClaimStepKind if kind.leads_to in states]
        if ClaimState.DRAFT in states:
            wanted.append("")
        return self.with_state().filter(last_kind__in=wanted)

    def with_all(self) -> Self:
        """With what a list names of each, in a bounded number of queries."""
        return self.select_related(
            "unit__model", "customer", "install__tractor", "terms", "logged_by", "visit"
        ).prefetch_related("lines", "steps__by")

    def with_asked(self) -> Self:
        """With `sum_asked`, the sum of the lines."""
        lines = apps.get_model("service", "ClaimLine").objects.filter(claim=OuterRef("pk"))
        total = lines.order_by().values("claim").annotate(total=exact_sum("amount"))
        return self.annotate(sum_asked=Coalesce(Subquery(total.values("total")), NOTHING))


class OfClaimQuerySet(VisibleQuerySet):
    """Rows of one claim: lines, steps."""

    def belongs_to(self, user) -> Q:
        return Q(claim__customer__people=user)


class RecoveryQuerySet(ShopOnlyQuerySet):
    """What suppliers owe; no customer's affair."""

    def aged(self, today: date) -> Self:
        """With `credited`, `owed` (asked less credited, never below 0) and `age` (`Age`) on a day."""
        steps = apps.get_model("service", "ClaimStep").objects
        credits = steps.filter(recovery=OuterRef("pk"), kind="credited", day__lte=today)
        total = credits.order_by().values("recovery").annotate(total=exact_sum("amount"))
        ages = [
            When(due_on__gte=today - timedelta(days=days), then=Value(age))
            for days, age in Age.steps()
        ]
        return (
            self.filter(sent_on__lte=today)
            .annotate(
                credited=Coalesce(Subquery(total.values("total")), NOTHING),
                age=Case(*ages, default=Value(Age.OVER_90)),
            )
            .annotate(
                owed=Case(
                    When(asked__gt=F("credited"), then=Round(F("asked") - F("credited"), 2)),
                    default=NOTHING,
                    output_field=DecimalField(max_digits=12, decimal_places=2),
                )
            )
        )

    def owing(self, today: date) -> Self:
        """Those on which something is still owed and that are not given up: the claim is not closed."""
        steps = apps.get_model("service", "ClaimStep").objects
        last = steps.filter(claim=OuterRef("claim")).order_by("-position").values("kind")[:1]
        return (
            self.aged(today)
            .annotate(claim_last=Subquery(last))
            .filter(owed__gt=0)
            .exclude(claim_last="closed")
        )

    def short_paid(self, today: date) -> Self:
        """Those on which a credit came, and less than was asked; also where it was given up."""
        return self.aged(today).filter(credited__gt=0, owed__gt=0)

    def with_all(self) -> Self:
        return self.select_related("supplier", "claim__unit", "claim__customer")
