"""The people who touch the units, and what they are certified to do."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.credentials import usual_here
from installs.models.customers import Yard
from installs.querysets import ShopOnlyQuerySet, TechnicianQuerySet

__all__ = ["Credential", "DayOff", "Shift", "Skill", "Technician", "Weekday"]


class Skill(models.Model):
    """Something that a job asks of whoever does it, in the shop's own words."""

    name = models.CharField(_("skill"), max_length=60, unique=True)

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("skill")
        verbose_name_plural = _("skills")
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Credential(models.Model):
    """A refrigerant certification that the shop's own authority accepts, beside the usual ones.

    The usual ones, country by country, are in `installs.credentials`.
    """

    scheme = models.CharField(_("certification"), max_length=100)
    authority = models.CharField(
        _("accepted by"), max_length=200, help_text=_("The authority, and where it says so.")
    )

    objects = ShopOnlyQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("accepted certification")
        verbose_name_plural = _("accepted certifications")
        ordering = ["scheme"]
        constraints = [
            models.UniqueConstraint(
                Upper("scheme"),
                name="credential_once",
                violation_error_message=_("This certification is on the list already."),
            )
        ]

    def __str__(self) -> str:
        return self.scheme

    @classmethod
    def accepted(cls) -> set[str]:
        """All schemes that count here, folded: the country's and those the shop recorded."""
        recorded = cls.objects.values_list("scheme", flat=True)
        return {scheme.strip().casefold() for scheme in (*usual_here(), *recorded)}


class Technician(models.Model):
    """A technician as named in the records; `person` is their sign-in, where they have one."""

    name = models.CharField(_("name"), max_length=100)
    person = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        models.SET_NULL,
        verbose_name=_("sign-in"),
        null=True,
        blank=True,
        related_name="technician",
    )
    certification_scheme = models.CharField(
        _("refrigerant certification"),
        max_length=100,
        blank=True,
        help_text=_(
            "The rule it was earned under, such as US EPA section 609, or section 608 and its "
            "type, or what the local authority accepts."
        ),
    )
    certification_number = models.CharField(_("certificate number"), max_length=60, blank=True)
    certified_until = models.DateField(
        _("valid until"), null=True, blank=True, help_text=_("Empty where it does not expire.")
    )

    skills = models.ManyToManyField(Skill, verbose_name=_("skills"), blank=True)

    objects = TechnicianQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("technician")
        verbose_name_plural = _("technicians")
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Upper("name"),
                name="technician_name_once",
                violation_error_message=_("There is a technician of this name already."),
            ),
            models.CheckConstraint(
                condition=models.Q(certification_number="") | ~models.Q(certification_scheme=""),
                name="technician_certificate_names_its_scheme",
                violation_error_message=_("Say which certification this number belongs to."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def is_certified(self, day: date) -> bool:
        """Whether a refrigerant certificate is on record that is valid on this day."""
        if not self.certification_number:
            return False
        return self.certified_until is None or day <= self.certified_until

    def may_sign_refrigerant(self, day: date, accepted: set[str] | None = None) -> bool:
        """Whether a certificate is on record, valid that day, of a kind accepted here.

        `accepted` is `Credential.accepted()`, for who asks of many technicians.
        """
        if not self.is_certified(day):
            return False
        accepted = Credential.accepted() if accepted is None else accepted
        return self.certification_scheme.strip().casefold() in accepted


class Weekday(models.IntegerChoices):
    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


class Shift(models.Model):
    """The hours that a technician works in a yard on one day of the week."""

    technician = models.ForeignKey(
        Technician, models.CASCADE, verbose_name=_("technician"), related_name="shifts"
    )
    yard = models.ForeignKey(Yard, models.CASCADE, verbose_name=_("yard"), related_name="shifts")
    weekday = models.PositiveSmallIntegerField(_("day"), choices=Weekday)
    begins = models.TimeField(_("from"))
    ends = models.TimeField(_("to"))

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("working hours")
        verbose_name_plural = _("working hours")
        ordering = ["technician", "weekday", "begins"]
        constraints = [
            models.UniqueConstraint("technician", "weekday", "begins", name="shift_once"),
            models.CheckConstraint(condition=Q(weekday__in=Weekday.values), name="shift_weekday"),
            models.CheckConstraint(
                condition=Q(ends__gt=F("begins")),
                name="shift_ends_after_it_begins",
                violation_error_message=_("Working hours end later on the same day."),
            ),
        ]

    def __str__(self) -> str:
        return (
            f"{self.technician} {self.get_weekday_display()} {self.begins:%H:%M}–{self.ends:%H:%M}"
        )


class DayOff(models.Model):
    """Days on which a technician does not work: the first and the last of them."""

    technician = models.ForeignKey(
        Technician, models.CASCADE, verbose_name=_("technician"), related_name="days_off"
    )
    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"))
    why = models.CharField(_("why"), max_length=100, blank=True)

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("days off")
        verbose_name_plural = _("days off")
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="day_off_in_order",
                violation_error_message=_("The last day off comes before the first."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.technician} {self.first_day} – {self.last_day}"

    def covers(self, day: date) -> bool:
        return self.first_day <= day <= self.last_day
