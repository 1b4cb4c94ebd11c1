"""A unit in a tractor from a day to a day."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models.customers import Customer
from installs.models.technicians import Technician
from installs.models.tractors import Tractor
from installs.models.units import Unit
from installs.querysets import InstallQuerySet


class Install(models.Model):
    """A unit stands in a tractor from `installed_on` up to, not including, `removed_on`.

    That no unit stands in two tractors at once is held by the database itself: an exclusion
    constraint on PostgreSQL, triggers on SQLite (migration `one_tractor_at_a_time`).
    """

    unit = models.ForeignKey(Unit, models.PROTECT, verbose_name=_("unit"), related_name="installs")
    tractor = models.ForeignKey(
        Tractor, models.PROTECT, verbose_name=_("tractor"), related_name="installs"
    )
    customer = models.ForeignKey(
        Customer,
        models.PROTECT,
        verbose_name=_("customer"),
        related_name="installs",
        help_text=_("Whose truck it was while the unit stood in it."),
    )
    installed_on = models.DateField(_("installed on"))
    removed_on = models.DateField(_("removed on"), null=True, blank=True)
    installed_by = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("installed by"), null=True, blank=True
    )
    entered_at = models.DateTimeField(_("written down at"))

    objects = InstallQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("install")
        verbose_name_plural = _("installs")
        ordering = ["installed_on"]
        constraints = [
            models.UniqueConstraint("unit", "installed_on", name="install_once_a_day"),
            models.UniqueConstraint(
                "unit",
                condition=Q(removed_on=None),
                name="install_open_once",
                violation_error_message=_("This unit stands in another truck; remove it there."),
            ),
            models.CheckConstraint(
                condition=Q(removed_on=None) | Q(removed_on__gte=F("installed_on")),
                name="install_ends_after_it_starts",
                violation_error_message=_("A unit cannot be removed before it was installed."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit} → {self.tractor} ({self.installed_on})"

    @property
    def truck(self) -> str:
        """The truck's number while it is this fleet's; a sold one has another's, so the VIN."""
        own = self.tractor.customer_id == self.customer_id
        return (own and self.tractor.truck_number) or self.tractor.vin

    def still_stands(self) -> bool:
        """Whether the unit has been in this truck ever since, also where the truck was sold."""
        install = self
        while install is not None and install.removed_on is not None:
            install = (
                Install.objects.filter(unit_id=install.unit_id, tractor_id=install.tractor_id)
                .filter(installed_on=install.removed_on)
                .exclude(pk=install.pk)
                .first()
            )
        return install is not None
