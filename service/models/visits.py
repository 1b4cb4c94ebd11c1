"""A technician at a truck: what was complained of, found and done, and what comes next."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy
from simple_history.models import HistoricalRecords

from installs.models import PartGroup, Technician
from service.models.events import Event
from service.querysets import EventQuerySet, OfVisitQuerySet


class FoundKind(models.TextChoices):
    """What a technician most often finds, in a word; `found` says it in full."""

    NOTHING = "nothing", _("nothing wrong")
    LEAK = "leak", _("a leak")
    DIRTY_COIL = "dirty_coil", _("a dirty coil")
    DIRTY_FILTER = "dirty_filter", _("a dirty filter")
    FAN = "fan", _("a fan that fails")
    HOSE = "hose", _("a rubbed or loose hose")
    JOINT = "joint", _("a bad joint or cable")
    BATTERY = "battery", _("a tired battery")
    DRAIN = "drain", _("a blocked drain or water inside")
    CONTROLS = "controls", _("controls or setting")
    OTHER = "other", _("something else")


class Result(models.TextChoices):
    MENDED = "mended", _("mended")
    WATCH = "watch", _("to be watched")
    AGAIN = "again", _("needs another visit")
    NOT_FOUND = "not_found", _("cause not found")


class Settled(models.TextChoices):
    """What two visits to one unit, logged without knowing of each other, turned out to be."""

    BOTH_STAND = "both_stand", _("both stand")
    SAME = "same", _("the same visit, logged twice")


class Visit(Event):
    """A visit; `sent_id` is made by the page, so that one that is sent twice is kept once.

    `seen_at` is when the page's data was made: visits of other people that were written down after
    it are `meanwhile`, until a person has said how both are to be read.
    """

    at = models.DateTimeField(_("at"))
    technician = models.ForeignKey(
        Technician, models.PROTECT, verbose_name=_("technician"), null=True, blank=True
    )
    complaint = models.TextField(_("complaint"), blank=True)
    found_kind = models.CharField(
        _("found, in a word"), max_length=12, choices=FoundKind, blank=True
    )
    found = models.TextField(_("found"), blank=True)
    done = models.TextField(pgettext_lazy("work", "done"), blank=True)
    result = models.CharField(_("result"), max_length=9, choices=Result, blank=True)
    next_step = models.CharField(_("next step"), max_length=300, blank=True)
    next_on = models.DateField(_("next step on"), null=True, blank=True)
    sent_id = models.UUIDField(null=True, blank=True, editable=False)
    seen_at = models.DateTimeField(null=True, blank=True, editable=False)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        verbose_name=_("written down by"),
        null=True,
        blank=True,
    )
    meanwhile = models.ManyToManyField(
        "self", symmetrical=False, verbose_name=_("logged meanwhile"), related_name="+", blank=True
    )
    settled = models.CharField(
        _("settled as"), max_length=10, choices=Settled, blank=True, editable=False
    )
    settled_at = models.DateTimeField(null=True, blank=True, editable=False)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        verbose_name=_("settled by"),
        null=True,
        blank=True,
        editable=False,
        related_name="+",
    )

    objects = EventQuerySet.as_manager()
    history = HistoricalRecords()
    time_field = "at"

    class Meta:
        verbose_name = _("visit")
        verbose_name_plural = _("visits")
        ordering = ["at"]
        constraints = [
            models.UniqueConstraint("unit", "at", name="visit_once"),
            models.UniqueConstraint("sent_id", name="visit_sent_once"),
            models.CheckConstraint(
                condition=Q(found_kind__in=["", *FoundKind.values]), name="visit_found_kind"
            ),
            models.CheckConstraint(
                condition=Q(result__in=["", *Result.values]), name="visit_result"
            ),
            models.CheckConstraint(
                condition=Q(settled="", settled_at=None)
                | Q(settled__in=Settled.values, settled_at__isnull=False),
                name="visit_settled",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit} {self.at:%Y-%m-%d}"

    def get_absolute_url(self) -> str:
        return reverse("visit", args=[self.pk])

    @property
    def is_doubled(self) -> bool:
        """Whether another visit on record is this one, logged a second time."""
        return self.settled == Settled.SAME


class VisitPart(models.Model):
    """A part that was changed: what came out and what went in, by serial where it has one."""

    visit = models.ForeignKey(Visit, models.PROTECT, verbose_name=_("visit"), related_name="parts")
    part_group = models.CharField(_("part group"), max_length=11, choices=PartGroup, blank=True)
    name = models.CharField(_("part"), max_length=100)
    serial_out = models.CharField(_("serial out"), max_length=60, blank=True)
    serial_in = models.CharField(_("serial in"), max_length=60, blank=True)

    objects = OfVisitQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("part changed")
        verbose_name_plural = _("parts changed")
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(part_group__in=["", *PartGroup.values]), name="visit_part_group"
            ),
            models.CheckConstraint(
                condition=~Q(name=""),
                name="visit_part_is_named",
                violation_error_message=_("Say which part it is."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class VisitPhoto(models.Model):
    """A picture of a visit, drawn anew on our side: no place, no maker, no hidden data in it."""

    visit = models.ForeignKey(Visit, models.PROTECT, verbose_name=_("visit"), related_name="photos")
    file = models.FileField(_("file"), upload_to="visits/%Y/%m/", max_length=200)
    sha256 = models.CharField(max_length=64, editable=False)

    objects = OfVisitQuerySet.as_manager()

    class Meta:
        verbose_name = _("photo of a visit")
        verbose_name_plural = _("photos of visits")
        ordering = ["pk"]
        constraints = [models.UniqueConstraint("visit", "sha256", name="visit_photo_once")]

    def __str__(self) -> str:
        return self.file.name
