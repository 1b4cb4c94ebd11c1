"""Every gram of refrigerant into or out of a unit, with the cylinder it came from or went to."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models import Technician
from service.models.cylinders import Cylinder
from service.models.events import Event
from service.models.visits import Visit
from service.querysets import MovementQuerySet


class MovementKind(models.TextChoices):
    CHARGED = "charged", _("charged by weight")
    ADDED = "added", _("added")
    RECOVERED = "recovered", _("recovered")


class Movement(Event):
    """Refrigerant into a unit (a whole weighed charge, or added to what it held) or out of it.

    A wrong one is corrected in place, and its history keeps what it said before. `certified_by`
    is the certificate of who moved it as it was that day; a movement of an old record book has none.
    """

    visit = models.ForeignKey(
        Visit, models.SET_NULL, verbose_name=_("visit"), null=True, blank=True
    )
    at = models.DateTimeField(_("at"))
    movement = models.CharField(_("movement"), max_length=9, choices=MovementKind)
    mass_g = models.FloatField(_("mass, g"))
    cylinder = models.ForeignKey(
        Cylinder, models.PROTECT, verbose_name=_("cylinder"), null=True, blank=True
    )
    moved_by = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("moved by"), null=True, blank=True
    )
    certified_by = models.CharField(_("certificate"), max_length=200, blank=True)

    objects = MovementQuerySet.as_manager()
    history = HistoricalRecords()
    time_field = "at"

    class Meta:
        verbose_name = _("refrigerant movement")
        verbose_name_plural = _("refrigerant movements")
        ordering = ["at"]
        constraints = [
            models.UniqueConstraint(
                "unit",
                "at",
                "movement",
                name="movement_once",
                violation_error_message=_("This movement is on record already."),
            ),
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
