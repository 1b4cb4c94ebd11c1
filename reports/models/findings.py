"""What the screen says of a unit, run by run."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from installs.models import Customer, Tractor, Unit
from installs.querysets import ShopOnlyQuerySet
from reports.querysets import FindingQuerySet


class Cause(models.TextChoices):
    REFRIGERANT_LEAK = "refrigerant_leak", _("Refrigerant leak")
    BATTERY_WEAR = "battery_wear", _("Worn battery bank")
    WIRING_RESISTANCE = "wiring_resistance", _("Bad joint or cable")
    CONDENSER_AIRFLOW = "condenser_airflow", _("Condenser short of air")
    RESTRICTION = "restriction", _("Restriction in the circuit")
    OVERCHARGE = "overcharge", _("Overcharge")
    DOUBTFUL_INSTRUMENT = "doubtful_instrument", _("Doubtful gauge")

    @property
    def action(self) -> str:
        """What to do about it."""
        return _ACTIONS[self]

    @property
    def caution(self) -> str:
        """What can hurt someone while doing it."""
        return _CAUTIONS[self]

    @property
    def refuted_by(self) -> str:
        """What a technician would see if the finding were wrong."""
        return _REFUTED_BY[self]


_ACTIONS = {
    Cause.REFRIGERANT_LEAK: _(
        "Bring it in: find the leak with an electronic detector or bubbles, mend it, evacuate and "
        "charge by weight. Do not just top it up."
    ),
    Cause.BATTERY_WEAR: _(
        "Test every battery of the bank at a known load and renew the ones that fail; renew a bank "
        "as a whole where its batteries are of one age."
    ),
    Cause.WIRING_RESISTANCE: _(
        "Measure the voltage drop over each joint, cable and fuse under load; clean and tighten, "
        "or renew what drops too much."
    ),
    Cause.CONDENSER_AIRFLOW: _("Clean the condenser coil and check its fan."),
    Cause.RESTRICTION: _(
        "Look for a frosted or cold spot along the liquid line; renew the drier or the expansion "
        "device."
    ),
    Cause.OVERCHARGE: _("Recover the charge and charge again by weight, to the nameplate."),
    Cause.DOUBTFUL_INSTRUMENT: _(
        "Compare the gauge with a known good one and take it out of use until it agrees; read the "
        "units it touched again."
    ),
}
_PRESSURE = _(
    "Refrigerant is under pressure and can freeze skin: goggles and gloves; only people certified "
    "for it, by the local code, open the circuit. Ask first whether the refrigerant burns."
)
_BATTERY = _(
    "A battery bank can weld a spanner and burst: take off rings, cover the other terminals, "
    "disconnect the negative side first, and charge or test where gas can escape."
)
_CAUTIONS = {
    Cause.REFRIGERANT_LEAK: _PRESSURE,
    Cause.BATTERY_WEAR: _BATTERY,
    Cause.WIRING_RESISTANCE: _BATTERY,
    Cause.CONDENSER_AIRFLOW: _(
        "Switch off and disconnect before reaching near a fan; secure yourself against a fall "
        "when working at height."
    ),
    Cause.RESTRICTION: _PRESSURE,
    Cause.OVERCHARGE: _PRESSURE,
    Cause.DOUBTFUL_INSTRUMENT: _PRESSURE,
}
_REFUTED_BY = {
    Cause.REFRIGERANT_LEAK: _("The whole charge, recovered and weighed, is what was put in."),
    Cause.BATTERY_WEAR: _("The bank delivers its rated ampere-hours in a discharge test."),
    Cause.WIRING_RESISTANCE: _("No joint or cable drops more than it should at a known load."),
    Cause.CONDENSER_AIRFLOW: _("A clean coil and a sound fan, and the lift is as high as before."),
    Cause.RESTRICTION: _("No temperature step along the liquid line and no frost."),
    Cause.OVERCHARGE: _("The whole charge, recovered and weighed, is the nameplate's."),
    Cause.DOUBTFUL_INSTRUMENT: _("The gauge agrees with a known good one over its range."),
}


class ForecastEvent(models.TextChoices):
    CHARGE = "charge_below_80_percent", _("charge below 80 %")
    BANK = "bank_below_8_h_at_low_output", _("bank below 8 h at low output")


class ScreenRun(models.Model):
    """One screening of the whole fleet, as of a day."""

    as_of = models.DateField(_("as of"), unique=True)
    started_at = models.DateTimeField(_("started at"))
    finished_at = models.DateTimeField(_("finished at"))
    units_screened = models.PositiveIntegerField(_("units screened"))
    units_undecided = models.PositiveIntegerField(_("units with not enough readings"))
    expected_false = models.FloatField(_("findings expected to be false"))

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("screening")
        verbose_name_plural = _("screenings")
        ordering = ["-as_of"]

    def __str__(self) -> str:
        return f"{self.as_of}"


class Finding(models.Model):
    """What one screening says of one unit or, for a doubtful instrument, of one gauge.

    `evidence` is a list of {feature, baseline, now, slope_per_year, n} in internal units;
    `touched` lists the serials that a doubtful gauge was used on; `picture` holds what the
    screen saw of each value (see reports.analysis.pictured).
    """

    run = models.ForeignKey(ScreenRun, models.CASCADE, related_name="findings")
    unit = models.ForeignKey(
        Unit, models.PROTECT, verbose_name=_("unit"), null=True, related_name="findings"
    )
    tractor = models.ForeignKey(
        Tractor, models.PROTECT, verbose_name=_("tractor"), null=True, related_name="findings"
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), null=True, related_name="findings"
    )
    concern = models.ForeignKey(
        "Concern", models.PROTECT, verbose_name=_("concern"), null=True, related_name="findings"
    )
    gauge = models.CharField(_("gauge"), max_length=40, blank=True)
    touched = models.JSONField(default=list)
    cause = models.CharField(_("cause"), max_length=20, choices=Cause)
    probability = models.FloatField(_("probability"))
    since = models.DateField(_("since"), null=True)
    evidence = models.JSONField(_("evidence"), default=list)
    picture = models.JSONField(default=dict)
    forecast_event = models.CharField(max_length=40, choices=ForecastEvent, blank=True)
    forecast_on = models.DateField(_("forecast"), null=True)
    forecast_low = models.DateField(null=True)
    forecast_high = models.DateField(null=True)

    objects = FindingQuerySet.as_manager()

    class Meta:
        verbose_name = _("finding")
        verbose_name_plural = _("findings")
        constraints = [
            models.CheckConstraint(condition=Q(cause__in=Cause.values), name="finding_cause"),
            models.CheckConstraint(
                condition=Q(probability__gte=0, probability__lte=1), name="finding_probability"
            ),
            models.CheckConstraint(
                condition=Q(unit__isnull=False, gauge="") | Q(unit=None) & ~Q(gauge=""),
                name="finding_of_a_unit_or_a_gauge",
            ),
            models.CheckConstraint(
                condition=Q(forecast_on=None)
                | Q(forecast_low__lte=F("forecast_on"), forecast_high__gte=F("forecast_on")),
                name="finding_forecast_in_order",
            ),
            models.UniqueConstraint("run", "unit", "cause", "gauge", name="finding_once_a_run"),
        ]

    def __str__(self) -> str:
        return f"{self.unit or self.gauge}: {self.get_cause_display()}"

    def get_absolute_url(self) -> str:
        return reverse("finding", args=[self.pk])

    @property
    def action(self) -> str:
        return Cause(self.cause).action

    @property
    def key(self) -> tuple[int | None, str, str]:
        """What it has in common with the concern that it belongs to."""
        return self.unit_id, self.gauge, self.cause

    def as_dict(self) -> dict:
        """The finding in the exchange form of `screen --format json`."""
        forecast = None
        if self.forecast_on:
            forecast = {
                "event": self.forecast_event,
                "date": self.forecast_on.isoformat(),
                "low": self.forecast_low.isoformat(),
                "high": self.forecast_high.isoformat(),
            }
        row = {
            "serial": self.unit.serial if self.unit else None,
            "vin": self.tractor.vin if self.tractor else None,
            "customer": self.customer.code if self.customer else None,
            "as_of": self.run.as_of.isoformat(),
            "cause": self.cause,
            "probability": self.probability,
            "since": self.since.isoformat() if self.since else None,
            "evidence": self.evidence,
            "forecast": forecast,
            "action": str(self.action),
        }
        if self.gauge:
            row |= {"gauge": self.gauge, "units": self.touched}
        return row
