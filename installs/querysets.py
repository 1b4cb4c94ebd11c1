"""Rules about many rows of what is installed where; above all, who sees them."""

from datetime import date
from typing import Self

from django.db.models import Exists, OuterRef, Q

from fleetcool.querysets import OpenQuerySet, ShopOnlyQuerySet, VisibleQuerySet

__all__ = [
    "BankQuerySet",
    "CustomerQuerySet",
    "InstallQuerySet",
    "OpenQuerySet",
    "OwnedQuerySet",
    "RenewalQuerySet",
    "ShopOnlyQuerySet",
    "TermsQuerySet",
    "UnitQuerySet",
]


class CustomerQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        return Q(people=user)


class OwnedQuerySet(VisibleQuerySet):
    """Rows with a `customer`: tractors, yards, and every event, which keeps whose truck it was then."""

    def belongs_to(self, user) -> Q:
        return Q(customer__people=user)


class BankQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        return Q(tractor__customer__people=user)


class RenewalQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        return Q(bank__tractor__customer__people=user)


class InstallQuerySet(OwnedQuerySet):
    def on(self, day: date) -> Self:
        """The installs that stand on a day: from the install up to, not including, the removal."""
        return self.filter(Q(removed_on=None) | Q(removed_on__gt=day), installed_on__lte=day)

    def current(self) -> Self:
        return self.filter(removed_on=None)


class UnitQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        installs = self.model._meta.get_field("installs").related_model
        return Q(Exists(installs.objects.visible_to(user).filter(unit=OuterRef("pk"))))


class TermsQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        """Terms for everyone, and those of a contract with the person's own customer."""
        return Q(customer=None) | Q(customer__people=user)
