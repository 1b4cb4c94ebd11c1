"""Rules about many rows of what is installed where; above all, who sees them."""

from datetime import date, datetime
from typing import Self

from django.apps import apps
from django.db.models import Exists, F, OuterRef, Q, Subquery

from fleetcool.querysets import OpenQuerySet, ShopOnlyQuerySet, VisibleQuerySet

__all__ = [
    "BankQuerySet",
    "BookingQuerySet",
    "CommissioningQuerySet",
    "CustomerQuerySet",
    "InstallQuerySet",
    "OfCommissioningQuerySet",
    "OpenQuerySet",
    "OwnedQuerySet",
    "RenewalQuerySet",
    "ShopOnlyQuerySet",
    "TechnicianQuerySet",
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
        """Those of a fleet's own time with a truck: a sale does not hand the earlier ones on."""
        in_it = apps.get_model("installs", "Install").objects.filter(
            Q(removed_on=None) | Q(removed_on__gt=OuterRef("at__date")),
            tractor=OuterRef("bank__tractor"),
            installed_on__lte=OuterRef("at__date"),
        )
        own = Q(Exists(in_it.filter(customer__people=user)))
        of_another = Q(Exists(in_it.exclude(customer__people=user)))
        return own | Q(bank__tractor__customer__people=user) & ~of_another


class InstallQuerySet(OwnedQuerySet):
    def on(self, day: date) -> Self:
        """The installs that stand on a day: from the install up to, not including, the removal."""
        return self.filter(Q(removed_on=None) | Q(removed_on__gt=day), installed_on__lte=day)

    def current(self) -> Self:
        return self.filter(removed_on=None)

    def firsts(self) -> Self:
        """The first install of each unit, which its terms count from; one undone that day is none."""
        stood = self.model.objects.exclude(removed_on=F("installed_on"))
        earlier = stood.filter(unit=OuterRef("unit"), installed_on__lt=OuterRef("installed_on"))
        return self.exclude(removed_on=F("installed_on")).filter(~Exists(earlier))

    def with_terms(self) -> Self:
        """With `terms_id`, the terms that each comes under; None where there are none."""
        terms = apps.get_model("installs", "Terms").objects.given_to_each()
        return self.annotate(terms_id=Subquery(terms.values("pk")[:1]))


class UnitQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        installs = self.model._meta.get_field("installs").related_model
        return Q(Exists(installs.objects.visible_to(user).filter(unit=OuterRef("pk"))))

    def in_stock(self) -> Self:
        """Units that lie in a yard of the shop's and may be put into a truck; held ones too."""
        installs = self.model._meta.get_field("installs").related_model
        installed = installs.objects.current().filter(unit=OuterRef("pk"))
        return self.filter(~Exists(installed), yard__isnull=False, left_stock="")

    def free(self) -> Self:
        """Units in stock that no open booking holds."""
        bookings = self.model._meta.get_field("bookings").related_model
        return self.in_stock().filter(~Exists(bookings.objects.open().filter(unit=OuterRef("pk"))))


class BookingQuerySet(OwnedQuerySet):
    def open(self) -> Self:
        return self.filter(state="booked")

    def standing(self) -> Self:
        """All but those that were called off: they take a bay's and a person's time."""
        return self.exclude(state="called_off")

    def between(self, begin: datetime, end: datetime) -> Self:
        """Those that take any time of a span."""
        return self.filter(begins_at__lt=end, ends_at__gt=begin)

    def during(self, away) -> Self:
        """Those of a technician that begin on days on which they are away."""
        days = (away.first_day, away.last_day)
        return self.filter(technician=away.technician, begins_at__date__range=days)

    def with_all(self) -> Self:
        """With what a list or a calendar names of each, in one query."""
        return self.select_related(
            "bay__yard", "technician", "job", "tractor__customer", "customer", "unit", "unit_model"
        )


class TechnicianQuerySet(ShopOnlyQuerySet):
    def able_to(self, job) -> Self:
        """Those who have every skill that a job asks for."""
        able = self
        for skill in job.skills.all():
            able = able.filter(skills=skill)
        return able


class CommissioningQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        return Q(install__customer__people=user)

    def with_all(self) -> Self:
        """With the install it proves and all that names it, in one query."""
        return self.select_related(
            "install__unit__model",
            "install__tractor__bank",
            "install__tractor__customer",
            "install__customer",
            "technician",
            "yard",
            "booking",
        )


class OfCommissioningQuerySet(VisibleQuerySet):
    """Rows of one commissioning: records, photos, the certificate."""

    def belongs_to(self, user) -> Q:
        return Q(commissioning__install__customer__people=user)

    def of_unit(self, unit) -> Self:
        rows = self.filter(commissioning__install__unit=unit)
        return rows.select_related("commissioning__install")


class TermsQuerySet(VisibleQuerySet):
    def belongs_to(self, user) -> Q:
        """Terms for everyone, and those of a contract with the person's own customer."""
        return Q(customer=None) | Q(customer__people=user)

    def given_to(self, install) -> Self:
        """The terms that an install comes under: the most particular first, then the newest.

        A contract with the customer goes before terms for the model, and those before the rest.
        """
        unit = install.unit
        return self._given(unit.made_on, install.customer_id, unit.model_id, install.installed_on)

    def given_to_each(self) -> Self:
        """The same inside a query of installs, for each of them."""
        asked = ("unit__made_on", "customer", "unit__model", "installed_on")
        return self._given(*(OuterRef(name) for name in asked))

    def _given(self, made_on, customer, model, installed_on) -> Self:
        of_its_making = Q(made_from=None, made_to=None)
        if made_on is not None:
            of_its_making = Q(made_from=None) | Q(made_from__lte=made_on)
            of_its_making &= Q(made_to=None) | Q(made_to__gte=made_on)
        return self.filter(
            of_its_making,
            Q(customer=None) | Q(customer=customer),
            Q(model=None) | Q(model=model),
            given_from__lte=installed_on,
        ).order_by(
            F("customer").asc(nulls_last=True), F("model").asc(nulls_last=True), "-given_from"
        )
