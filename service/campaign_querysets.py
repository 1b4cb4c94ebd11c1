"""Rules about many campaigns and the units they are for."""

from typing import Self

from django.apps import apps
from django.db.models import Count, Exists, OuterRef, Q

from fleetcool.querysets import ShopOnlyQuerySet, VisibleQuerySet

__all__ = ["CampaignQuerySet", "CampaignUnitQuerySet"]


class CampaignQuerySet(ShopOnlyQuerySet):
    def counted(self) -> Self:
        """With how many units are `affected`, `told`, `booked` and `done`; the last needs no other."""
        done = Q(units__done_on__isnull=False)
        return self.annotate(
            affected=Count("units"),
            told=Count("units", filter=Q(units__told_at__isnull=False)),
            booked=Count("units", filter=Q(units__booking__state="booked") & ~done),
            done=Count("units", filter=done),
        )


class CampaignUnitQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        """Units that stand in a truck of the person's now: it is their truck that must come."""
        installs = apps.get_model("installs", "Install").objects.visible_to(user).current()
        return Q(Exists(installs.filter(unit=OuterRef("unit"))))

    def to_do(self) -> Self:
        return self.filter(done_on=None)

    def with_all(self) -> Self:
        """With what a list names of each, in one query."""
        return self.select_related(
            "campaign", "unit__model", "unit__yard", "booking__bay__yard", "visit"
        )
