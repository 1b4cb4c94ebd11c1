"""Rules about many rows of what is installed where; above all, who sees them."""

from datetime import date
from typing import Self

from django.db.models import Exists, F, OuterRef, Q

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

    def given_to(self, install) -> Self:
        """The terms that an install comes under: the most particular first, then the newest.

        A contract with the customer goes before terms for the model, and those before the rest.
        """
        made_on = install.unit.made_on
        of_its_making = Q(made_from=None, made_to=None)
        if made_on is not None:
            of_its_making = Q(made_from=None) | Q(made_from__lte=made_on)
            of_its_making &= Q(made_to=None) | Q(made_to__gte=made_on)
        return self.filter(
            of_its_making,
            Q(customer=None) | Q(customer=install.customer_id),
            Q(model=None) | Q(model=install.unit.model_id),
            given_from__lte=install.installed_on,
        ).order_by(
            F("customer").asc(nulls_last=True), F("model").asc(nulls_last=True), "-given_from"
        )
