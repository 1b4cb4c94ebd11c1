"""One engine-off rest period of a unit."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from service.models.events import Event
from service.querysets import EventQuerySet


class EndedBy(models.TextChoices):
    SWITCH = "switch", _("switched off")
    CUTOFF = "cutoff", _("cut off by the voltage")


class Overnight(Event):
    began_at = models.DateTimeField(_("began at"))
    run_h = models.FloatField(_("ran, h"))
    drawn_ah = models.FloatField(_("drawn, Ah"), null=True, blank=True)
    start_v = models.FloatField(_("voltage at the start, V"), null=True, blank=True)
    end_v = models.FloatField(_("voltage at the end, V"), null=True, blank=True)
    ended_by = models.CharField(_("ended by"), max_length=6, choices=EndedBy, blank=True)
    ambient_c = models.FloatField(_("ambient, °C"), null=True, blank=True)

    objects = EventQuerySet.as_manager()
    time_field = "began_at"

    class Meta:
        verbose_name = _("overnight")
        verbose_name_plural = _("overnights")
        ordering = ["began_at"]
        indexes = [models.Index(fields=["customer", "began_at"], name="overnight_of_customer")]
        constraints = [
            models.UniqueConstraint("unit", "began_at", name="overnight_once"),
            models.CheckConstraint(
                condition=Q(ended_by__in=["", *EndedBy.values]), name="overnight_ended_by"
            ),
            models.CheckConstraint(
                condition=Q(run_h__gte=0, run_h__lte=72),
                name="overnight_run_h",
                violation_error_message=_("A rest period runs from 0 to 72 hours."),
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{name: None}) | Q(**{f"{name}__gte": 0}),
                    name=f"overnight_{name}_not_negative",
                    violation_error_message=_("This cannot be below zero."),
                )
                for name in ("drawn_ah", "start_v", "end_v")
            ),
            models.CheckConstraint(
                condition=Q(ambient_c=None) | Q(ambient_c__gte=-273.15),
                name="overnight_ambient_above_absolute_zero",
                violation_error_message=_("Nothing is colder than −273.15 °C."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit} {self.began_at:%Y-%m-%d}"
