"""Every gram of refrigerant: the cylinders it comes from and each movement into or out of a unit."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models import Technician
from service.models.events import Event
from service.querysets import EventQuerySet, ShopOnlyQuerySet


class Cylinder(models.Model):
    code = models.CharField(_("cylinder"), max_length=40)
    refrigerant = models.CharField(_("refrigerant"), max_length=20)

    objects = ShopOnlyQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("cylinder")
        verbose_name_plural = _("cylinders")
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(
                Upper("code"),
                name="cylinder_once",
                violation_error_message=_("There is a cylinder with this code already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} ({self.refrigerant})"


class MovementKind(models.TextChoices):
    CHARGED = "charged", _("charged by weight")
    ADDED = "added", _("added")
    RECOVERED = "recovered", _("recovered")


class Movement(Event):
    """Refrigerant into a unit (a whole weighed charge, or added to what it held) or out of it."""

    at = models.DateTimeField(_("at"))
    movement = models.CharField(_("movement"), max_length=9, choices=MovementKind)
    mass_g = models.FloatField(_("mass, g"))
    cylinder = models.ForeignKey(
        Cylinder, models.PROTECT, verbose_name=_("cylinder"), null=True, blank=True
    )
    moved_by = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("moved by"), null=True, blank=True
    )

    objects = EventQuerySet.as_manager()
    history = HistoricalRecords()
    time_field = "at"

    class Meta:
        verbose_name = _("refrigerant movement")
        verbose_name_plural = _("refrigerant movements")
        ordering = ["at"]
        constraints = [
            models.UniqueConstraint("unit", "at", "movement", name="movement_once"),
            models.CheckConstraint(
                condition=Q(movement__in=MovementKind.values), name="movement_kind"
            ),
            models.CheckConstraint(
                condition=Q(mass_g__gt=0, mass_g__lte=50_000),
                name="movement_mass",
                violation_error_message=_("A movement has a mass above 0 g, and at most 50 kg."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit} {self.get_movement_display()} {self.mass_g:g} g"
