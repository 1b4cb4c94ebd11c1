"""Rules about many findings."""

from typing import Self

from django.db.models import F, Q

from fleetcool.querysets import VisibleQuerySet


class FindingQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        return Q(customer__people=user)

    def latest(self) -> Self:
        """What the newest screen says."""
        runs = self.model._meta.get_field("run").related_model
        newest = runs.objects.order_by("-finished_at").values("pk")[:1]
        return self.filter(run=newest)

    def worst_first(self) -> Self:
        """Soonest forecast first, then the surest."""
        return self.order_by(F("forecast_on").asc(nulls_last=True), "-probability", "pk")
