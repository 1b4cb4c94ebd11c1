"""The cylinders of refrigerant, and what is written in the book of each beside its movements."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.engineering.saturation import UnknownRefrigerant, designation
from installs.models import Customer, Technician, Yard
from service.engineering.density import fill_limit_g
from service.querysets import CylinderQuerySet, EntryQuerySet

__all__ = ["ROUNDING_G", "Cylinder", "CylinderEntry", "EntryKind", "Holds"]

# What scales leave undecided: half a gram.
ROUNDING_G = 0.5
MOST_G = 100_000


class Holds(models.TextChoices):
    NEW = "new", _("new")
    RECOVERED = "recovered", _("recovered")
    RECYCLED = "recycled", _("recycled")


class Cylinder(models.Model):
    """A cylinder of one refrigerant.

    It is in the book from `booked_from` on: then it was opened with a weighed mass, or bought.
    What is on record of the time before (an old record book names cylinders too) is not counted.
    `held_g` is what it holds by the book, empty until it is in the book; `service.book` keeps it.
    """

    code = models.CharField(_("cylinder"), max_length=40)
    refrigerant = models.CharField(
        _("refrigerant"), max_length=20, help_text=_("ASHRAE 34 designation, such as R-134a.")
    )
    holds = models.CharField(_("kind of gas"), max_length=9, choices=Holds, blank=True)
    tare_g = models.FloatField(_("tare (empty weight), g"), null=True, blank=True)
    water_capacity_g = models.FloatField(_("water capacity, g"), null=True, blank=True)
    owner = models.ForeignKey(
        Customer,
        models.PROTECT,
        verbose_name=_("owner"),
        null=True,
        blank=True,
        help_text=_("Empty: the shop's own."),
    )
    yard = models.ForeignKey(
        Yard, models.SET_NULL, verbose_name=_("kept in yard"), null=True, blank=True
    )
    van = models.CharField(_("or in the van of"), max_length=60, blank=True)
    booked_from = models.DateTimeField(_("in the book from"), null=True, blank=True)
    held_g = models.FloatField(_("held, g"), null=True, blank=True, editable=False)
    retired_at = models.DateTimeField(_("retired"), null=True, blank=True)

    objects = CylinderQuerySet.as_manager()
    # What is held follows from the book, whose rows are their own history.
    history = HistoricalRecords(excluded_fields=["held_g"])

    class Meta:
        verbose_name = _("cylinder")
        verbose_name_plural = _("cylinders")
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(
                Upper("code"),
                name="cylinder_once",
                violation_error_message=_("There is a cylinder with this code already."),
            ),
            models.CheckConstraint(
                condition=Q(held_g=None) | Q(held_g__gte=-ROUNDING_G),
                name="cylinder_never_below_empty",
                violation_error_message=_("A cylinder cannot give what it does not hold."),
            ),
            models.CheckConstraint(
                condition=Q(held_g=None, booked_from=None)
                | Q(held_g__isnull=False, booked_from__isnull=False) & ~Q(holds=""),
                name="cylinder_in_the_book_or_not",
                violation_error_message=_("A cylinder in the book has a beginning and a kind."),
            ),
            models.CheckConstraint(
                condition=Q(holds__in=["", *Holds.values]), name="cylinder_holds"
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{name: None}) | Q(**{f"{name}__gt": 0, f"{name}__lte": MOST_G}),
                    name=f"cylinder_{name}",
                    violation_error_message=_("This is above 0 kg and at most 100 kg."),
                )
                for name in ("tare_g", "water_capacity_g")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} ({self.refrigerant})"

    def get_absolute_url(self) -> str:
        return reverse("cylinder", args=[self.pk])

    def clean(self) -> None:
        try:
            self.refrigerant = designation(self.refrigerant)
        except UnknownRefrigerant as unknown:
            raise ValidationError({"refrigerant": _(unknown.words) % unknown.what}) from unknown

    @property
    def is_in_book(self) -> bool:
        return self.booked_from is not None

    @property
    def fill_limit_g(self) -> float | None:
        """The most it may hold; None where that is not known."""
        if self.water_capacity_g is None:
            return None
        return fill_limit_g(self.water_capacity_g, self.refrigerant)

    @property
    def is_overfilled(self) -> bool:
        limit_g = self.fill_limit_g
        return limit_g is not None and (self.held_g or 0) > limit_g + ROUNDING_G

    @property
    def place(self) -> str:
        return str(self.yard) if self.yard else self.van


class EntryKind(models.TextChoices):
    OPENING = "opening", _("put into the book")
    BOUGHT = "bought", _("bought")
    DECANTED = "decanted", _("moved to another cylinder")
    DISPOSED = "disposed", _("sent away")
    DIFFERENCE = "difference", _("difference found on the scale")


class CylinderEntry(models.Model):
    """What a cylinder gains or loses otherwise than by a unit; a row is never changed.

    `mass_g` is above zero and its kind says which way it goes; only a difference has a sign. A row
    that `corrects` another takes its place; with a mass of 0 it only strikes the other out.
    """

    cylinder = models.ForeignKey(
        Cylinder, models.PROTECT, verbose_name=_("cylinder"), related_name="entries"
    )
    kind = models.CharField(_("entry"), max_length=10, choices=EntryKind)
    mass_g = models.FloatField(_("mass, g"))
    at = models.DateTimeField(_("at"))
    other = models.ForeignKey(
        Cylinder,
        models.PROTECT,
        verbose_name=_("into cylinder"),
        null=True,
        blank=True,
        related_name="decanted",
    )
    technician = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("technician"), null=True, blank=True
    )
    certified_by = models.CharField(_("certificate"), max_length=200, blank=True)
    sent_to = models.CharField(_("sent to"), max_length=200, blank=True)
    document = models.CharField(_("invoice or waste note"), max_length=100, blank=True)
    why = models.CharField(_("why"), max_length=300, blank=True)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        verbose_name=_("written down by"),
        null=True,
        blank=True,
        related_name="+",
    )
    entered_at = models.DateTimeField(_("written down at"))
    corrects = models.OneToOneField(
        "self",
        models.PROTECT,
        verbose_name=_("corrects"),
        null=True,
        blank=True,
        related_name="corrected_by",
    )
    sent_id = models.UUIDField(unique=True, null=True, blank=True, editable=False)

    objects = EntryQuerySet.as_manager()

    class Meta:
        verbose_name = _("entry of a cylinder")
        verbose_name_plural = _("entries of cylinders")
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=EntryKind.values), name="entry_kind"),
            models.CheckConstraint(
                condition=Q(mass_g__gte=-MOST_G, mass_g__lte=MOST_G),
                name="entry_mass",
                violation_error_message=_("A mass is at most 100 kg."),
            ),
            models.CheckConstraint(
                condition=Q(mass_g__gt=0)
                | Q(kind=EntryKind.DIFFERENCE)
                | Q(mass_g=0) & (Q(kind=EntryKind.OPENING) | Q(corrects__isnull=False)),
                name="entry_mass_has_its_sign",
                violation_error_message=_("A mass is above 0."),
            ),
            models.CheckConstraint(
                condition=Q(kind=EntryKind.DECANTED, other__isnull=False)
                | ~Q(kind=EntryKind.DECANTED) & Q(other=None),
                name="entry_names_the_other_cylinder",
            ),
            models.CheckConstraint(
                condition=Q(other=None) | ~Q(other=F("cylinder")),
                name="entry_between_two_cylinders",
                violation_error_message=_("These are one and the same cylinder."),
            ),
            models.UniqueConstraint(
                "cylinder",
                condition=Q(kind=EntryKind.OPENING, corrects=None),
                name="cylinder_opened_once",
                violation_error_message=_("This cylinder is in the book already."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cylinder} {self.get_kind_display()} {self.mass_g:g} g"
