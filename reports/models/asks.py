"""What to measure next of a unit that a screening leaves undecided."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from installs.models import Customer, Tractor, Unit
from reports.models.findings import Cause, ScreenRun
from reports.querysets import AskQuerySet


class Measure(models.TextChoices):
    """What can be measured at a truck, the cheapest first, of its circuit and of its bank."""

    GAUGES = "gauges", _("Both gauges again")
    PIPE_TEMPERATURES = "pipe_temperatures", _("Gauges and pipe temperatures")
    WEIGHED_CHARGE = "weighed_charge", _("The whole charge, recovered and weighed")
    REST_AND_LOAD = "rest_and_load", _("Voltage at rest and under load")
    NIGHTS = "nights", _("A month of nights logged")

    @property
    def how(self) -> str:
        """How it is measured."""
        return _HOW[self]

    @property
    def caution(self) -> str:
        """What can hurt someone while measuring."""
        return _CAUTIONS[self]


_HOW = {
    Measure.GAUGES: _(
        "Let the unit run until it is steady. Read suction and discharge, if you can with another "
        "gauge set than last time, and the air outside and the return air."
    ),
    Measure.PIPE_TEMPERATURES: _(
        "Clamp a thermometer on the suction line and one on the liquid line, wrapped against the "
        "air. Let the unit run until it is steady, and read both pressures and both lines, the air "
        "outside and the return air."
    ),
    Measure.WEIGHED_CHARGE: _(
        "Recover the whole charge into an empty cylinder and weigh it: what is missing has leaked. "
        "Then evacuate, and charge by weight."
    ),
    Measure.REST_AND_LOAD: _(
        "Let the bank rest, 8 h if it can be had. Read its voltage, then voltage and current with "
        "the unit running, and how long it rested and how warm the batteries are."
    ),
    Measure.NIGHTS: _(
        "For a month, log each engine-off night: hours run, ampere-hours drawn, and the bank's "
        "voltage when the unit stops."
    ),
}
_CAUTIONS = {
    Measure.GAUGES: Cause.REFRIGERANT_LEAK.caution,
    Measure.PIPE_TEMPERATURES: Cause.REFRIGERANT_LEAK.caution,
    Measure.WEIGHED_CHARGE: _(
        "Only people certified for it, by the local code, recover refrigerant. Goggles and gloves; "
        "never vent it, never fill a cylinder beyond its mark. Ask first whether it burns."
    ),
    Measure.REST_AND_LOAD: Cause.BATTERY_WEAR.caution,
    Measure.NIGHTS: Cause.BATTERY_WEAR.caution,
}


class Ask(models.Model):
    """What a screening asks to be measured of a unit, by when, and what it would tell.

    `bits` is what it is expected to tell of the `doubt_bits` over the causes there are; `cause` is
    the most probable one. A unit with too few readings has no cause and no numbers.
    """

    run = models.ForeignKey(ScreenRun, models.CASCADE, related_name="asks")
    unit = models.ForeignKey(Unit, models.PROTECT, verbose_name=_("unit"), related_name="asks")
    tractor = models.ForeignKey(
        Tractor, models.PROTECT, verbose_name=_("tractor"), related_name="asks"
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), related_name="asks"
    )
    measure = models.CharField(_("what to measure"), max_length=20, choices=Measure)
    by = models.DateField(_("by"))
    bits = models.FloatField(_("what it would tell, bits"), null=True)
    doubt_bits = models.FloatField(_("doubt there is, bits"), null=True)
    cause = models.CharField(_("likeliest cause"), max_length=20, choices=Cause, blank=True)
    probability = models.FloatField(_("probability"), null=True)

    objects = AskQuerySet.as_manager()

    class Meta:
        verbose_name = _("measurement asked for")
        verbose_name_plural = _("measurements asked for")
        constraints = [
            models.CheckConstraint(condition=Q(measure__in=Measure.values), name="ask_measure"),
            models.CheckConstraint(
                condition=Q(cause="", bits=None, doubt_bits=None, probability=None)
                # What is empty would pass a comparison.
                | Q(bits__isnull=False, doubt_bits__isnull=False, probability__isnull=False)
                & Q(
                    cause__in=Cause.values,
                    bits__gte=0,
                    bits__lte=F("doubt_bits"),
                    probability__gte=0,
                    probability__lte=1,
                ),
                name="ask_in_numbers_or_for_want_of_readings",
            ),
            models.UniqueConstraint("run", "unit", "measure", name="ask_once_a_run"),
        ]

    def __str__(self) -> str:
        return f"{self.unit}: {self.get_measure_display()}"

    @property
    def how(self) -> str:
        return Measure(self.measure).how

    @property
    def caution(self) -> str:
        return Measure(self.measure).caution
