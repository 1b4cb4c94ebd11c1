"""Who sees which rows: the one rule that every queryset of the project answers to."""

from typing import Self

from django.db.models import Q, QuerySet


class VisibleQuerySet(QuerySet):
    """Rows that belong to a customer. A subclass says how in `belongs_to(user)`."""

    def belongs_to(self, user) -> Q:
        """The condition under which a row belongs to a customer of this fleet manager."""
        raise NotImplementedError

    def visible_to(self, user) -> Self:
        """All rows for the shop's people, their own customers' rows for a fleet manager, else none."""
        if not user.is_authenticated or not user.is_active:
            return self.none()
        if user.sees_all:
            return self.all()
        return self.filter(self.belongs_to(user))


class ShopOnlyQuerySet(VisibleQuerySet):
    """Rows of the shop's own affairs, which no customer sees."""

    def belongs_to(self, user) -> Q:
        return Q(pk__in=[])


class OpenQuerySet(VisibleQuerySet):
    """Rows that everyone who signs in may read, such as a unit model's nameplate."""

    def belongs_to(self, user) -> Q:
        return Q()
