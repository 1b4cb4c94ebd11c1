"""Rules about many findings, and about the concerns that they belong to."""

from datetime import date
from typing import Self

from django.db.models import F, Q

from fleetcool.querysets import VisibleQuerySet
from installs.querysets import OwnedQuerySet


class SaidQuerySet(VisibleQuerySet):
    """Rows that a screening says."""

    def belongs_to(self, user) -> Q:
        """What is said of a truck is its fleet's, as long as the truck is: no one brings in one sold."""
        return Q(customer__people=user, tractor__customer=F("customer"))

    def latest(self) -> Self:
        """What the screen of the newest day says."""
        runs = self.model._meta.get_field("run").related_model
        return self.filter(run=runs.objects.order_by("-as_of").values("pk")[:1])


class AskQuerySet(SaidQuerySet):
    def most_telling_first(self) -> Self:
        """The soonest first, and of one day the most telling."""
        return self.order_by("by", F("bits").desc(nulls_last=True), "pk")


class FindingQuerySet(SaidQuerySet):
    def worst_first(self) -> Self:
        """Soonest forecast first, then the surest."""
        return self.order_by(F("forecast_on").asc(nulls_last=True), "-probability", "pk")

    def open(self) -> Self:
        """Those that no one has settled since they were said."""
        return self.filter(concern__settled_on=None)

    def settled(self) -> Self:
        return self.filter(concern__settled_on__isnull=False)

    def put_off(self, today: date) -> Self:
        """Those left until a day that is still to come."""
        return self.open().filter(
            concern__last_step__what="put_off", concern__last_step__until__gt=today
        )

    def to_do(self, today: date) -> Self:
        """Those that are open and not put off, or no longer."""
        return self.open().exclude(
            concern__last_step__what="put_off", concern__last_step__until__gt=today
        )

    def last_step_is(self, what: str | None) -> Self:
        """Those that are open, with this as the last step taken; None for none yet."""
        return self.open().filter(concern__last_step__what=what)


class ConcernQuerySet(OwnedQuerySet):
    def open(self) -> Self:
        return self.filter(settled_on=None)

    def settled(self) -> Self:
        return self.filter(settled_on__isnull=False)

    def before(self, concern) -> Self:
        """Earlier ones of the same cause on the same unit or gauge, the newest first."""
        unit, gauge, cause = concern.key
        earlier = self.settled().filter(unit=unit, gauge=gauge, cause=cause).exclude(pk=concern.pk)
        return earlier.select_related("last_step").order_by("-first_said_on")

    def said_on(self, day: date) -> Self:
        """Those that stood when the screen of a day spoke."""
        return self.filter(first_said_on__lte=day, last_said_on__gte=day)

    def unsaid_since(self, day: date) -> Self:
        """Open ones that no screening of that day or later says.

        What is booked or confirmed waits for a person's word, and is not among them.
        """
        waits = Q(last_step__what__in=["booked", "confirmed"])
        return self.open().filter(last_said_on__lt=day).exclude(waits)


class StepQuerySet(VisibleQuerySet):
    """Steps are added, never changed."""

    def belongs_to(self, user) -> Q:
        return Q(concern__customer__people=user)

    def verdicts(self) -> Self:
        """Those that say what was found at the truck."""
        return self.filter(what__in=["confirmed", "refuted"])

    def update(self, **kwargs) -> int:
        raise TypeError("A step is never changed; take another.")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise TypeError("A step is never deleted.")
