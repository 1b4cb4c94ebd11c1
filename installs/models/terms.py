"""What is covered and for how long."""

from datetime import date

from dateutil.relativedelta import relativedelta
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
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


class CountsFrom(models.TextChoices):
    INSTALL = "install", _("the install")
    FIRST_USE = "first_use", _("the first use")


def cover_label(part_group: str, counts_from: str = CountsFrom.INSTALL) -> str:
    """Name what is covered; the day given beside it is the earliest where it counts from first use."""
    group = PartGroup(part_group).label
    if counts_from == CountsFrom.FIRST_USE:
        return str(_("%(group)s (from first use, so at the earliest)") % {"group": group})
    return str(group)


class ReplacedPart(models.TextChoices):
    REST_OF_OLD = "rest_of_old", _("the rest of the old part's time")
    OWN = "own", _("a time of its own")


class VoidCode(models.TextChoices):
    """What ends cover where terms say so."""

    NO_CERTIFICATE = "no_certificate", _("no certificate of the install")
    NO_EVACUATION_RECORD = "no_evacuation_record", _("no record of the evacuation")
    CUTOFF_BELOW_FLOOR = "cutoff_below_floor", _("cutoff set below the floor")
    OVERCHARGE = "overcharge", _("overcharge")
    UNCERTIFIED_WORK = "uncertified_work", _("work by someone not certified")
    MOVED_BY_OTHERS = "moved_by_others", _("unit moved by others")


class NeverRewritten(models.Model):
    """A row of terms: a change is refused, in words, once an install has come under them."""

    class Meta:
        abstract = True

    def save(self, **kwargs) -> None:
        if self.pk is not None and not self._state.adding:
            self._check_may_change()
        super().save(**kwargs)

    def delete(self, **kwargs):
        self._check_may_change()
        return super().delete(**kwargs)

    def clean(self) -> None:
        super().clean()
        self._check_may_change()

    @property
    def its_terms(self) -> "Terms":
        raise NotImplementedError

    def _check_may_change(self) -> None:
        """Judged by the version as it is stored: a later day or another model would free it."""
        stored = Terms.objects.filter(pk=self.its_terms.pk).first()
        if stored is not None and stored.is_in_force:
            raise ValidationError(
                _(
                    "“%(terms)s” is in force: units were installed under it. Write a new version "
                    "that follows it."
                )
                % {"terms": stored}
            )


class Terms(NeverRewritten):
    """One version of terms: which units it is for, and from which install day on it is given.

    Versions of one line share a name; the one that follows is given from a later day on.
    """

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
    transferable = models.BooleanField(
        _("goes with the truck to another owner"),
        default=True,
    )
    replaced_part = models.CharField(
        _("a replaced part has"),
        max_length=11,
        choices=ReplacedPart,
        default=ReplacedPart.REST_OF_OLD,
    )
    replaced_months = models.PositiveSmallIntegerField(
        _("months of a replaced part"), null=True, blank=True
    )
    claim_days = models.PositiveSmallIntegerField(
        _("days to claim in"),
        default=30,
        help_text=_("From the day on which it failed."),
    )
    four_eyes_above = models.DecimalField(
        _("a second person approves above"),
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        help_text=_("Empty: one person is enough for any sum."),
    )
    currency = models.CharField(
        _("currency"),
        max_length=3,
        default="USD",
        validators=[
            RegexValidator(r"^[A-Z]{3}\Z", _("Three capital letters by ISO 4217, such as USD."))
        ],
        help_text=_("Three letters by ISO 4217."),
    )

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
            models.CheckConstraint(
                condition=Q(replaced_part=ReplacedPart.REST_OF_OLD, replaced_months=None)
                | Q(
                    replaced_part=ReplacedPart.OWN,
                    replaced_months__isnull=False,
                    replaced_months__gt=0,
                ),
                name="terms_replaced_part",
                violation_error_message=_(
                    "A replaced part with a time of its own has months above 0; one with the rest "
                    "of the old part's has none."
                ),
            ),
            models.CheckConstraint(
                condition=Q(claim_days__gt=0),
                name="terms_claim_days",
                violation_error_message=_("There is at least one day to claim in."),
            ),
            models.CheckConstraint(
                condition=Q(four_eyes_above=None) | Q(four_eyes_above__gte=0),
                name="terms_four_eyes_above",
                violation_error_message=_("A sum is not below zero."),
            ),
            models.CheckConstraint(
                condition=Q(currency__regex=r"^[A-Z]{3}$"), name="terms_currency"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.given_from})"

    @property
    def its_terms(self) -> "Terms":
        return self

    @property
    def is_in_force(self) -> bool:
        """Whether a unit that these terms are for was installed on or after their first day."""
        return self.pk is not None and self.installs_reached().exists()

    def installs_reached(self):
        """The installs that these terms are for by unit and day; others may go before them."""
        installs = self._meta.apps.get_model("installs", "Install").objects
        asked = {
            "customer": self.customer_id,
            "unit__model": self.model_id,
            "unit__made_on__gte": self.made_from,
            "unit__made_on__lte": self.made_to,
        }
        asked = {name: value for name, value in asked.items() if value is not None}
        return installs.filter(installed_on__gte=self.given_from, **asked)


class Cover(NeverRewritten):
    """How long one group of parts is covered under terms: months or run hours, whichever first."""

    terms = models.ForeignKey(Terms, models.CASCADE, verbose_name=_("terms"), related_name="covers")
    part_group = models.CharField(_("part group"), max_length=12, choices=PartGroup)
    months = models.PositiveSmallIntegerField(_("months"))
    run_hours = models.PositiveIntegerField(_("run hours"), null=True, blank=True)
    counts_from = models.CharField(
        _("counted from"), max_length=9, choices=CountsFrom, default=CountsFrom.INSTALL
    )

    class Meta:
        verbose_name = _("cover")
        verbose_name_plural = _("covers")
        constraints = [
            models.UniqueConstraint("terms", "part_group", name="cover_once_per_group"),
            models.CheckConstraint(
                condition=Q(part_group__in=PartGroup.values), name="cover_part_group"
            ),
            models.CheckConstraint(
                condition=Q(counts_from__in=CountsFrom.values), name="cover_counts_from"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_part_group_display()}: {self.months}"

    @property
    def its_terms(self) -> Terms:
        return self.terms

    @property
    def label(self) -> str:
        return cover_label(self.part_group, self.counts_from)

    @property
    def may_last_longer(self) -> bool:
        return self.counts_from == CountsFrom.FIRST_USE

    def ends_on(self, installed_on: date) -> date:
        """The last day of cover by months: 31 January + 1 month is the last of February."""
        return installed_on + relativedelta(months=self.months)


class TermsVoid(NeverRewritten):
    """One of the things that end cover under terms."""

    terms = models.ForeignKey(Terms, models.CASCADE, verbose_name=_("terms"), related_name="voids")
    code = models.CharField(_("what ends cover"), max_length=20, choices=VoidCode)

    class Meta:
        verbose_name = _("what ends cover")
        verbose_name_plural = _("what ends cover")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint("terms", "code", name="terms_void_once"),
            models.CheckConstraint(condition=Q(code__in=VoidCode.values), name="terms_void_code"),
        ]

    def __str__(self) -> str:
        return self.get_code_display()

    @property
    def its_terms(self) -> Terms:
        return self.terms
