"""The proof at the end of an install: each step as it was measured, and who let what pass."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from installs.models.bookings import Booking
from installs.models.customers import Yard
from installs.models.installs import Install
from installs.models.technicians import Technician
from installs.querysets import CommissioningQuerySet, OfCommissioningQuerySet, ShopOnlyQuerySet

__all__ = ["Commissioning", "InstallStep", "Override", "Photo", "StepRecord"]


class InstallStep(models.TextChoices):
    """The steps, in the order that keeps people and machines safe."""

    MOUNTING = "mounting", _("Mounting")
    HOSES = "hoses", _("Hoses")
    PRESSURE_TEST = "pressure_test", _("Pressure and leak test")
    EVACUATION = "evacuation", _("Evacuation")
    CHARGE = "charge", _("Charge by weight")
    SUPPLY = "supply", _("Battery supply")
    DRAIN = "drain", _("Drain")
    SEALING = "sealing", _("Sealing")
    FIRST_RUN = "first_run", _("First run")
    SETTINGS = "settings", _("Settings and handing over")


class Commissioning(models.Model):
    install = models.ForeignKey(
        Install, models.PROTECT, verbose_name=_("install"), related_name="commissionings"
    )
    booking = models.OneToOneField(
        Booking,
        models.PROTECT,
        verbose_name=_("booking"),
        related_name="commissioning",
        null=True,
        blank=True,
    )
    yard = models.ForeignKey(Yard, models.PROTECT, verbose_name=_("yard"), null=True, blank=True)
    technician = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("technician"), related_name="commissionings"
    )
    began_at = models.DateTimeField(_("began at"))

    objects = CommissioningQuerySet.as_manager()

    class Meta:
        verbose_name = _("commissioning")
        verbose_name_plural = _("commissionings")
        ordering = ["-began_at"]

    def __str__(self) -> str:
        return f"{self.install.unit} {self.began_at:%Y-%m-%d}"

    def get_absolute_url(self) -> str:
        return reverse("commissioning", args=[self.pk])


class StepRecord(models.Model):
    """A step as someone measured it. Measuring again adds a row; the newest of a step counts.

    `measured` holds numbers in internal units, each under a name that says its unit. `sent_id` is
    made by the form, so that the same form sent twice is written once.
    """

    commissioning = models.ForeignKey(
        Commissioning, models.PROTECT, verbose_name=_("commissioning"), related_name="records"
    )
    step = models.CharField(_("step"), max_length=13, choices=InstallStep)
    measured = models.JSONField(_("measured"))
    taken_at = models.DateTimeField(_("taken at"))
    technician = models.ForeignKey(Technician, models.PROTECT, verbose_name=_("signed by"))
    sent_id = models.UUIDField(default=uuid.uuid4, editable=False)

    objects = OfCommissioningQuerySet.as_manager()

    class Meta:
        verbose_name = _("step record")
        verbose_name_plural = _("step records")
        ordering = ["taken_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(step__in=InstallStep.values), name="step_record_step"
            ),
            models.UniqueConstraint("commissioning", "sent_id", name="step_record_sent_once"),
        ]

    def __str__(self) -> str:
        return f"{self.commissioning} {self.get_step_display()}"


class Override(models.Model):
    """A proof that did not hold and was let pass by someone who answers for it, by name.

    It stands for one record: measured again, the proof is open again.
    """

    record = models.ForeignKey(
        StepRecord, models.PROTECT, verbose_name=_("record"), related_name="overrides"
    )
    proof = models.CharField(_("proof"), max_length=40)
    reason = models.CharField(_("reason"), max_length=300)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("let pass by")
    )
    at = models.DateTimeField(_("at"))

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("override")
        verbose_name_plural = _("overrides")
        constraints = [
            models.UniqueConstraint("record", "proof", name="override_once"),
            models.CheckConstraint(condition=~Q(reason=""), name="override_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.proof}: {self.reason}"


class Photo(models.Model):
    """A picture of a step, drawn anew on our side: no place, no maker, no hidden data in it."""

    commissioning = models.ForeignKey(
        Commissioning, models.PROTECT, verbose_name=_("commissioning"), related_name="photos"
    )
    step = models.CharField(_("step"), max_length=13, choices=InstallStep)
    file = models.FileField(_("file"), upload_to="photos/%Y/%m/", max_length=200)
    sha256 = models.CharField(max_length=64, editable=False)
    caption = models.CharField(_("what it shows"), max_length=120, blank=True)
    technician = models.ForeignKey(Technician, models.PROTECT, verbose_name=_("taken by"))
    added_at = models.DateTimeField(_("added at"))

    objects = OfCommissioningQuerySet.as_manager()

    class Meta:
        verbose_name = _("photo")
        verbose_name_plural = _("photos")
        ordering = ["added_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(step__in=InstallStep.values), name="photo_step"),
            models.UniqueConstraint("commissioning", "step", "sha256", name="photo_once"),
        ]

    def __str__(self) -> str:
        return self.caption or self.file.name
