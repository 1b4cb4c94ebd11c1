"""Rules about many rows of what happened since an install."""

from datetime import datetime
from typing import Self

from django.db.models import F, Q

from fleetcool.querysets import VisibleQuerySet
from installs.querysets import OpenQuerySet, OwnedQuerySet, ShopOnlyQuerySet

__all__ = [
    "CylinderQuerySet",
    "EntryQuerySet",
    "EventQuerySet",
    "MovementQuerySet",
    "OfVisitQuerySet",
    "OpenQuerySet",
    "ReadingQuerySet",
    "ShopOnlyQuerySet",
]


class EventQuerySet(OwnedQuerySet):
    """Things that happened to a unit. The model's `time_field` says when."""

    def known_at(self, moment: datetime) -> Self:
        """What had happened and had been written down before a moment."""
        return self.filter(**{f"{self.model.time_field}__lt": moment}, entered_at__lt=moment)

    def by_time(self) -> Self:
        return self.order_by(self.model.time_field)

    def in_order(self) -> Self:
        return self.order_by("unit_id", self.model.time_field)


class MovementQuerySet(EventQuerySet):
    def counted(self) -> Self:
        """Those that a cylinder's book counts: from the day on which it came into the book."""
        return self.filter(at__gte=F("cylinder__booked_from"))


class CylinderQuerySet(ShopOnlyQuerySet):
    def in_book(self) -> Self:
        return self.filter(booked_from__isnull=False)

    def in_use(self) -> Self:
        return self.in_book().filter(retired_at=None)


class EntryQuerySet(ShopOnlyQuerySet):
    def standing(self) -> Self:
        """Entries that count: all but those that another corrects."""
        return self.filter(corrected_by=None)

    def of(self, cylinder_ids) -> Self:
        """Entries that change what any of these cylinders holds."""
        return self.filter(Q(cylinder__in=cylinder_ids) | Q(other__in=cylinder_ids))


class ReadingQuerySet(EventQuerySet):
    """Readings; those of a visit that turned out to be logged twice count once.

    What was withdrawn stands on the page of its visit only.
    """

    def known_at(self, moment: datetime) -> Self:
        withdrawn_later = Q(withdrawn_at=None) | Q(withdrawn_at__gte=moment)
        return super().known_at(moment).filter(withdrawn_later)

    def counted(self) -> Self:
        return self.filter(withdrawn_at=None)


class OfVisitQuerySet(VisibleQuerySet):
    """Rows of one visit: parts, care done, photos."""

    def belongs_to(self, user) -> Q:
        return Q(visit__customer__people=user)
