"""What the gauges, the thermometer and the meter said."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models import Technician
from service.models.events import Event
from service.models.visits import Visit
from service.querysets import ReadingQuerySet

# A gauge cannot read below a perfect vacuum at the sea's own air.
VACUUM_KPA = -101.4


class ReadingKind(models.TextChoices):
    COMMISSIONING = "commissioning", _("commissioning")
    VISIT = "visit", _("visit")
    LOGGER = "logger", _("logger")


class Output(models.TextChoices):
    LOW = "low", _("low")
    MID = "mid", _("mid")
    HIGH = "high", _("high")


def _number(label, help_text="") -> models.FloatField:
    return models.FloatField(label, null=True, blank=True, help_text=help_text)


class Reading(Event):
    """One set of readings taken at one moment; what was not taken is empty.

    Without an output level the unit was standing: such pressures show the air's temperature and
    are never read as charge. `air_kpa` is the local air that the gauges read against.
    """

    visit = models.ForeignKey(
        Visit, models.SET_NULL, verbose_name=_("visit"), null=True, blank=True
    )
    taken_at = models.DateTimeField(_("taken at"))
    kind = models.CharField(_("kind"), max_length=13, choices=ReadingKind)
    output = models.CharField(_("output"), max_length=4, choices=Output, blank=True)
    ambient_c = _number(_("ambient, °C"))
    return_air_c = _number(_("return air, °C"))
    supply_air_c = _number(_("supply air, °C"))
    suction_kpa = _number(_("suction, kPa gauge"))
    discharge_kpa = _number(_("discharge, kPa gauge"))
    suction_line_c = _number(_("suction line, °C"))
    liquid_line_c = _number(_("liquid line, °C"))
    air_kpa = models.FloatField(_("local air, kPa"), default=101.325)
    rest_v = _number(_("rest voltage, V"))
    rest_h = _number(_("rested, h"))
    battery_c = _number(_("battery, °C"))
    load_v = _number(_("voltage under load, V"))
    load_a = _number(_("load, A"))
    gauge = models.CharField(_("gauge"), max_length=40, blank=True)
    taken_by = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("taken by"), null=True, blank=True
    )
    withdrawn_at = models.DateTimeField(
        _("withdrawn at"),
        null=True,
        blank=True,
        editable=False,
        help_text=_("Set where the visit turned out to be another one, logged twice."),
    )

    objects = ReadingQuerySet.as_manager()
    history = HistoricalRecords()
    time_field = "taken_at"

    class Meta:
        verbose_name = _("reading")
        verbose_name_plural = _("readings")
        ordering = ["taken_at"]
        indexes = [models.Index(fields=["customer", "taken_at"], name="reading_of_customer")]
        constraints = [
            models.UniqueConstraint("unit", "taken_at", name="reading_once"),
            models.CheckConstraint(condition=Q(kind__in=ReadingKind.values), name="reading_kind"),
            models.CheckConstraint(
                condition=Q(output__in=["", *Output.values]), name="reading_output"
            ),
            models.CheckConstraint(
                condition=Q(suction_kpa=None) | Q(suction_kpa__gte=VACUUM_KPA),
                name="reading_suction_above_vacuum",
                violation_error_message=_("No gauge reads below a perfect vacuum."),
            ),
            models.CheckConstraint(
                condition=Q(discharge_kpa=None) | Q(discharge_kpa__gte=VACUUM_KPA),
                name="reading_discharge_above_vacuum",
                violation_error_message=_("No gauge reads below a perfect vacuum."),
            ),
            models.CheckConstraint(
                condition=Q(air_kpa__gte=45, air_kpa__lte=110), name="reading_air"
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{name: None}) | Q(**{f"{name}__gte": 0}),
                    name=f"reading_{name}_not_negative",
                    violation_error_message=_("This cannot be below zero."),
                )
                for name in ("rest_v", "rest_h", "load_v", "load_a")
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{name: None}) | Q(**{f"{name}__gte": -273.15}),
                    name=f"reading_{name}_above_absolute_zero",
                    violation_error_message=_("Nothing is colder than −273.15 °C."),
                )
                for name in (
                    "ambient_c",
                    "return_air_c",
                    "supply_air_c",
                    "suction_line_c",
                    "liquid_line_c",
                    "battery_c",
                )
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit} {self.taken_at:%Y-%m-%d %H:%M}"

    @property
    def is_running(self) -> bool:
        return bool(self.output)
