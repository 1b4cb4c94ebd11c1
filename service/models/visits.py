"""A technician at a truck: what was complained of, found and done."""

from django.db import models
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models import Technician
from service.models.events import Event
from service.querysets import EventQuerySet


class Visit(Event):
    at = models.DateTimeField(_("at"))
    technician = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("technician"), null=True, blank=True
    )
    complaint = models.TextField(_("complaint"), blank=True)
    found = models.TextField(_("found"), blank=True)
    done = models.TextField(_("done"), blank=True)

    objects = EventQuerySet.as_manager()
    history = HistoricalRecords()
    time_field = "at"

    class Meta:
        verbose_name = _("visit")
        verbose_name_plural = _("visits")
        ordering = ["at"]
        constraints = [models.UniqueConstraint("unit", "at", name="visit_once")]

    def __str__(self) -> str:
        return f"{self.unit} {self.at:%Y-%m-%d}"
