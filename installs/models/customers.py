"""The fleets whose trucks the shop answers for, and the yards where those stand."""

from django.conf import settings
from django.db import models
from django.db.models.functions import Upper
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.engineering.saturation import air_kpa
from installs.querysets import CustomerQuerySet, OwnedQuerySet


class Customer(models.Model):
    code = models.CharField(_("code"), max_length=40)
    name = models.CharField(_("name"), max_length=200)
    contact_email = models.EmailField(_("contact e-mail"), blank=True)
    language = models.CharField(
        _("language of letters"),
        max_length=5,
        choices=settings.LANGUAGES,
        default=settings.LANGUAGE_CODE,
        help_text=_("What is sent to the customer is written in it."),
    )
    people = models.ManyToManyField(
        settings.AUTH_USER_MODEL,
        verbose_name=_("fleet managers"),
        related_name="customers",
        blank=True,
    )

    objects = CustomerQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("customer")
        verbose_name_plural = _("customers")
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Upper("code"),
                name="customer_code_once",
                violation_error_message=_("There is a customer with this code already."),
            )
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("customer", args=[self.pk])


class Yard(models.Model):
    """A place where trucks stand; the shop's own yards have no customer."""

    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), null=True, blank=True
    )
    name = models.CharField(_("name"), max_length=100)
    elevation_m = models.FloatField(_("height above the sea, m"), default=0)

    objects = OwnedQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("yard")
        verbose_name_plural = _("yards")
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint("customer", "name", name="yard_name_once_per_customer"),
            models.CheckConstraint(
                condition=models.Q(elevation_m__gte=-430, elevation_m__lte=6000),
                name="yard_elevation_on_earth",
                violation_error_message=_("No road is this low or this high; give metres."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def air_kpa(self) -> float:
        """The local air that a gauge in this yard reads against."""
        return float(air_kpa(self.elevation_m))
