"""Rules about many findings."""

from typing import Self

from django.db.models import F, Q

from fleetcool.querysets import VisibleQuerySet


class FindingQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        return Q(customer__people=user)

    def latest(self) -> Self:
        """What the screen of the newest day says."""
        runs = self.model._meta.get_field("run").related_model
        return self.filter(run=runs.objects.order_by("-as_of").values("pk")[:1])

    def worst_first(self) -> Self:
        """Soonest forecast first, then the surest."""
        return self.order_by(F("forecast_on").asc(nulls_last=True), "-probability", "pk")
