"""The shop's day: bays, kinds of job, and who works where in which on what truck."""

import uuid
from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import get_random_string
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models.customers import Customer, Yard
from installs.models.technicians import Skill, Technician
from installs.models.tractors import Tractor
from installs.models.units import Unit, UnitModel
from installs.querysets import BookingQuerySet, ShopOnlyQuerySet

__all__ = ["Bay", "Booking", "BookingState", "CalendarFeed", "Job", "MountingSide", "PassThrough"]


class Bay(models.Model):
    """A place in a yard of the shop's own where one truck is worked on at a time."""

    yard = models.ForeignKey(Yard, models.PROTECT, verbose_name=_("yard"), related_name="bays")
    name = models.CharField(_("name"), max_length=40)

    objects = ShopOnlyQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("bay")
        verbose_name_plural = _("bays")
        ordering = ["yard__name", "name"]
        constraints = [
            models.UniqueConstraint(
                "yard",
                "name",
                name="bay_once_per_yard",
                violation_error_message=_("This yard has a bay of this name already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.yard} · {self.name}"


def feed_token() -> str:
    """What opens a feed to a calendar, which cannot sign in: 190 bits, changed at will."""
    return get_random_string(32)


class CalendarFeed(models.Model):
    """The bookings of one technician or of one bay, for the calendar on somebody's phone."""

    technician = models.OneToOneField(
        Technician, models.CASCADE, verbose_name=_("technician"), null=True, blank=True
    )
    bay = models.OneToOneField(Bay, models.CASCADE, verbose_name=_("bay"), null=True, blank=True)
    token = models.CharField(max_length=32, unique=True, default=feed_token, editable=False)

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("calendar feed")
        verbose_name_plural = _("calendar feeds")
        constraints = [
            models.CheckConstraint(
                condition=Q(technician=None, bay__isnull=False)
                | Q(technician__isnull=False, bay=None),
                name="feed_of_one",
            )
        ]

    def __str__(self) -> str:
        return str(self.technician or self.bay)

    def change_token(self) -> None:
        """Close the feed to all who have its address, and open it under another."""
        self.token = feed_token()
        self.save(update_fields=["token"])


class Job(models.Model):
    """A kind of work that is booked: how long it takes and what whoever does it must be able to."""

    name = models.CharField(_("job"), max_length=60, unique=True)
    minutes = models.PositiveSmallIntegerField(_("length, minutes"))
    puts_a_unit_in = models.BooleanField(_("puts a unit in"), default=False)
    opens_the_circuit = models.BooleanField(
        _("opens the refrigerant circuit"),
        default=False,
        help_text=_("Only technicians with a valid refrigerant certificate are offered for it."),
    )
    skills = models.ManyToManyField(Skill, verbose_name=_("skills it needs"), blank=True)

    objects = ShopOnlyQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("job")
        verbose_name_plural = _("jobs")
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gte=15, minutes__lte=24 * 60),
                name="job_length",
                violation_error_message=_("A job takes between 15 minutes and a day."),
            )
        ]

    def __str__(self) -> str:
        return self.name


class BookingState(models.TextChoices):
    BOOKED = "booked", _("booked")
    DONE = "done", _("done")
    CALLED_OFF = "called_off", _("called off")


class PassThrough(models.TextChoices):
    FLOOR = "floor", _("through the floor")
    WALL = "wall", _("through the wall")


class MountingSide(models.TextChoices):
    LEFT = "left", _("left")
    RIGHT = "right", _("right")
    REAR = "rear", _("rear wall")


class Booking(models.Model):
    """A truck in a bay with a technician from one moment up to, not including, another.

    That nobody and nothing is in two places at once (bay, technician, truck) is held by the
    database itself: exclusion constraints on PostgreSQL, triggers on SQLite (migration
    `one_booking_at_a_time`). A unit is held for one open booking at most.
    """

    bay = models.ForeignKey(Bay, models.PROTECT, verbose_name=_("bay"), related_name="bookings")
    technician = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("technician"), related_name="bookings"
    )
    job = models.ForeignKey(Job, models.PROTECT, verbose_name=_("job"))
    tractor = models.ForeignKey(
        Tractor, models.PROTECT, verbose_name=_("tractor"), related_name="bookings"
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), related_name="bookings"
    )
    unit = models.ForeignKey(
        Unit,
        models.PROTECT,
        verbose_name=_("unit held"),
        related_name="bookings",
        null=True,
        blank=True,
    )
    unit_model = models.ForeignKey(
        UnitModel, models.PROTECT, verbose_name=_("unit model"), null=True, blank=True
    )
    begins_at = models.DateTimeField(_("begins at"))
    ends_at = models.DateTimeField(_("ends at"))
    state = models.CharField(
        _("state"), max_length=10, choices=BookingState, default=BookingState.BOOKED
    )
    pass_through = models.CharField(_("hoses go"), max_length=5, choices=PassThrough, blank=True)
    mounting_side = models.CharField(
        _("side of mounting"), max_length=5, choices=MountingSide, blank=True
    )
    contact_email = models.EmailField(_("confirmation goes to"), blank=True)
    note = models.TextField(_("note"), blank=True)
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    # RFC 5545: rises with each change, so that a calendar knows which it has.
    sequence = models.PositiveIntegerField(default=0, editable=False)
    mailed_sequence = models.PositiveIntegerField(
        _("confirmation sent of change"), null=True, editable=False
    )
    called_off_why = models.CharField(_("why called off"), max_length=200, blank=True)
    booked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("booked by"), null=True
    )
    changed_at = models.DateTimeField(_("changed at"), auto_now=True)

    objects = BookingQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("booking")
        verbose_name_plural = _("bookings")
        ordering = ["begins_at", "bay"]
        indexes = [models.Index(fields=["begins_at", "ends_at"], name="booking_time")]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("begins_at")),
                name="booking_ends_after_it_begins",
                violation_error_message=_("A booking ends after it begins."),
            ),
            models.CheckConstraint(
                condition=Q(state__in=BookingState.values), name="booking_state"
            ),
            models.CheckConstraint(
                condition=Q(pass_through__in=["", *PassThrough.values]), name="booking_pass_through"
            ),
            models.CheckConstraint(
                condition=Q(mounting_side__in=["", *MountingSide.values]), name="booking_side"
            ),
            models.UniqueConstraint(
                "unit",
                condition=Q(state=BookingState.BOOKED),
                name="booking_holds_unit_once",
                violation_error_message=_("This unit is held for another booking."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tractor} {self.begins_at:%Y-%m-%d %H:%M}"

    def get_absolute_url(self) -> str:
        return reverse("booking", args=[self.pk])

    @property
    def is_open(self) -> bool:
        return self.state == BookingState.BOOKED

    @property
    def local_day(self) -> date:
        """The day it begins on, by the shop's clock."""
        return timezone.localtime(self.begins_at, timezone.get_default_timezone()).date()
