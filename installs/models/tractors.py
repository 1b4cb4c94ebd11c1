"""The trucks, each with its battery bank and the bank's renewals."""

from datetime import date

from django.db import models
from django.db.models.functions import Length
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.engineering.battery import bank_ah
from installs.models.customers import Customer, Yard
from installs.querysets import BankQuerySet, OwnedQuerySet, RenewalQuerySet

models.CharField.register_lookup(Length)


class SystemVolts(models.IntegerChoices):
    TWELVE = 12, _("12 V")
    TWENTY_FOUR = 24, _("24 V")


class VinKind(models.TextChoices):
    VALID = "valid", _("check digit holds")
    FOREIGN = "foreign", _("from outside North America, no check digit applies")
    AS_STAMPED = "as_stamped", _("check digit wrong, taken as stamped on the truck")


class BatteryType(models.TextChoices):
    FLOODED = "flooded", _("flooded lead-acid")
    AGM = "agm", _("absorbed glass mat (AGM)")
    GEL = "gel", _("gel")
    LIFEPO4 = "lifepo4", _("lithium iron phosphate (LiFePO4)")


class Tractor(models.Model):
    vin = models.CharField(_("VIN"), max_length=17, unique=True)
    vin_kind = models.CharField(
        _("VIN check"), max_length=12, choices=VinKind, default=VinKind.VALID
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), related_name="tractors"
    )
    truck_number = models.CharField(_("truck number"), max_length=40, blank=True)
    model_year = models.PositiveSmallIntegerField(_("model year"), null=True, blank=True)
    system_v = models.PositiveSmallIntegerField(
        _("system voltage"), choices=SystemVolts, default=SystemVolts.TWELVE
    )
    yard = models.ForeignKey(
        Yard, models.SET_NULL, verbose_name=_("home yard"), null=True, blank=True
    )

    objects = OwnedQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("tractor")
        verbose_name_plural = _("tractors")
        ordering = ["customer__name", "truck_number"]
        indexes = [models.Index(fields=["customer", "truck_number"], name="tractor_of_customer")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(vin__length=17, vin__regex=r"^[A-HJ-NPR-Z0-9]+$"),
                name="tractor_vin_alphabet",
                violation_error_message=_("A VIN has 17 letters and digits, and no I, O or Q."),
            ),
            models.CheckConstraint(
                condition=models.Q(system_v__in=SystemVolts.values), name="tractor_system_v"
            ),
            models.CheckConstraint(
                condition=models.Q(model_year__gte=1950, model_year__lte=2100),
                name="tractor_model_year",
                violation_error_message=_("A model year has four digits, such as 2024."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.customer} {self.truck_number}".strip()

    def get_absolute_url(self) -> str:
        return reverse("tractor", args=[self.vin])


class BatteryBank(models.Model):
    """The batteries that carry the unit through a night: how many, of what type and size."""

    tractor = models.OneToOneField(
        Tractor, models.CASCADE, verbose_name=_("tractor"), related_name="bank"
    )
    battery_type = models.CharField(_("type"), max_length=10, choices=BatteryType)
    battery_count = models.PositiveSmallIntegerField(_("batteries"))
    battery_ah = models.FloatField(_("capacity of one battery at 20 h, Ah"))
    installed_on = models.DateField(_("batteries installed on"), null=True, blank=True)

    objects = BankQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("battery bank")
        verbose_name_plural = _("battery banks")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(battery_type__in=BatteryType.values), name="bank_battery_type"
            ),
            models.CheckConstraint(
                condition=models.Q(battery_count__gte=1, battery_count__lte=24),
                name="bank_battery_count",
                violation_error_message=_("A bank has between 1 and 24 batteries."),
            ),
            models.CheckConstraint(
                condition=models.Q(battery_ah__gt=0, battery_ah__lte=2000),
                name="bank_battery_ah",
                violation_error_message=_("Give the ampere-hours of one battery at 20 h."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.battery_count} × {self.battery_ah:g} Ah {self.get_battery_type_display()}"

    def capacity_ah(self) -> float:
        """Ah at 20 h of the whole bank, on 24 V of strings in series."""
        size = self.battery_count, self.battery_ah, self.tractor.system_v, self.battery_type
        return float(bank_ah(*size))


class BatteryRenewal(models.Model):
    """A day on which some or all of a bank's batteries were replaced."""

    bank = models.ForeignKey(
        BatteryBank, models.CASCADE, verbose_name=_("battery bank"), related_name="renewals"
    )
    at = models.DateTimeField(_("renewed at"))
    renewed_count = models.PositiveSmallIntegerField(_("batteries renewed"))
    entered_at = models.DateTimeField(_("written down at"))

    objects = RenewalQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("battery renewal")
        verbose_name_plural = _("battery renewals")
        ordering = ["at"]
        constraints = [
            models.UniqueConstraint("bank", "at", name="renewal_once"),
            models.CheckConstraint(
                condition=models.Q(renewed_count__gte=1),
                name="renewal_of_at_least_one",
                violation_error_message=_("A renewal replaces at least one battery."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.renewed_count} × {self.at:%Y-%m-%d}"

    def age_years(self, day: date) -> float:
        return (day - self.at.date()).days / 365.25
