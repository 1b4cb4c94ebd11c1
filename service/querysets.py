"""Rules about many rows of what happened since an install."""

from datetime import datetime
from typing import Self

from installs.querysets import OwnedQuerySet, ShopOnlyQuerySet

__all__ = ["EventQuerySet", "ShopOnlyQuerySet"]


class EventQuerySet(OwnedQuerySet):
    """Things that happened to a unit. The model's `time_field` says when."""

    def known_at(self, moment: datetime) -> Self:
        """What had happened and had been written down before a moment."""
        return self.filter(**{f"{self.model.time_field}__lt": moment}, entered_at__lt=moment)

    def by_time(self) -> Self:
        return self.order_by(self.model.time_field)

    def in_order(self) -> Self:
        return self.order_by("unit_id", self.model.time_field)
