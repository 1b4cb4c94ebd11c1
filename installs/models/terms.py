"""What is covered and for how long."""

from datetime import date

from dateutil.relativedelta import relativedelta
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models.customers import Customer
from installs.models.units import UnitModel
from installs.querysets import TermsQuerySet


class PartGroup(models.TextChoices):
    COMPRESSOR = "compressor", _("compressor")
    ELECTRONICS = "electronics", _("electronics")
    FANS = "fans", _("fans")
    COILS = "coils", _("coils")
    HOSES = "hoses", _("hoses and fittings")
    REMOTE = "remote", _("remote")
    LABOUR = "labour", _("labour")
    REFRIGERANT = "refrigerant", _("refrigerant")
    TRAVEL = "travel", _("travel")


class Terms(models.Model):
    """One version of terms: which units it is for, and from which install day on it is given."""

    name = models.CharField(_("name"), max_length=100)
    model = models.ForeignKey(
        UnitModel, models.PROTECT, verbose_name=_("unit model"), null=True, blank=True
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("contract with"), null=True, blank=True
    )
    made_from = models.DateField(_("made from"), null=True, blank=True)
    made_to = models.DateField(_("made to"), null=True, blank=True)
    given_from = models.DateField(_("given to installs from"))

    objects = TermsQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("terms")
        verbose_name_plural = _("terms")
        ordering = ["given_from"]
        constraints = [
            models.UniqueConstraint("name", "given_from", name="terms_version_once"),
            models.CheckConstraint(
                condition=Q(made_from=None) | Q(made_to=None) | Q(made_to__gte=F("made_from")),
                name="terms_made_in_order",
                violation_error_message=_("The last made-on day comes before the first."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.given_from})"


class Cover(models.Model):
    """How long one group of parts is covered under terms: months or run hours, whichever first."""

    terms = models.ForeignKey(Terms, models.CASCADE, verbose_name=_("terms"), related_name="covers")
    part_group = models.CharField(_("part group"), max_length=12, choices=PartGroup)
    months = models.PositiveSmallIntegerField(_("months"))
    run_hours = models.PositiveIntegerField(_("run hours"), null=True, blank=True)

    class Meta:
        verbose_name = _("cover")
        verbose_name_plural = _("covers")
        constraints = [
            models.UniqueConstraint("terms", "part_group", name="cover_once_per_group"),
            models.CheckConstraint(
                condition=Q(part_group__in=PartGroup.values), name="cover_part_group"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_part_group_display()}: {self.months}"

    def ends_on(self, installed_on: date) -> date:
        """The last day of cover by months: 31 January + 1 month is the last of February."""
        return installed_on + relativedelta(months=self.months)
