"""What becomes of a cause that the screen names: the concern, and each step taken with it."""

from datetime import date, datetime

from django.conf import settings
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import models, transaction
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy
from simple_history.models import HistoricalRecords

from fleetcool.models import Person, Role
from installs.models import Customer, Unit
from reports.models.findings import Cause
from reports.querysets import ConcernQuerySet, StepQuerySet
from service.models import Visit


class Step(models.TextChoices):
    """What is done with a concern. The last step of a concern is its state."""

    ACKNOWLEDGED = "acknowledged", _("acknowledged")
    PUT_OFF = "put_off", _("put off")
    BOOKED = "booked", pgettext_lazy("finding", "booked")
    CONFIRMED = "confirmed", _("confirmed")
    REFUTED = "refuted", _("refuted")
    WITHDRAWN = "withdrawn", _("no longer said")

    @property
    def roles(self) -> tuple[Role, ...]:
        """Who may take this step with a concern that they see."""
        return _MAY[self]


_AT_THE_TRUCK = (Role.TECHNICIAN, Role.OFFICE, Role.OWNER)
# The one place that says who may do what; a warranty clerk reads, and the screen alone withdraws.
_MAY = {
    Step.ACKNOWLEDGED: (*_AT_THE_TRUCK, Role.FLEET_MANAGER),
    Step.PUT_OFF: (*_AT_THE_TRUCK, Role.FLEET_MANAGER),
    Step.BOOKED: _AT_THE_TRUCK,
    Step.CONFIRMED: _AT_THE_TRUCK,
    Step.REFUTED: _AT_THE_TRUCK,
    Step.WITHDRAWN: (),
}
VERDICTS = (Step.CONFIRMED, Step.REFUTED)


class NoCause(models.TextChoices):
    """What else can be found at the truck than one of the causes."""

    NOTHING_WRONG = "nothing_wrong", _("Nothing wrong")
    SOMETHING_ELSE = "something_else", _("Something else")


FOUND = [*Cause.choices, *NoCause.choices]


class Concern(models.Model):
    """A cause that the screen names of a unit or a gauge, from the day it first said so until settled.

    It belongs to the customer whose truck the unit stood in; in another fleet's truck a new one
    begins. `settled_on` is empty while it is open. `since` is the onset as last said.
    """

    unit = models.ForeignKey(
        Unit, models.PROTECT, verbose_name=_("unit"), null=True, related_name="concerns"
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), null=True, related_name="concerns"
    )
    gauge = models.CharField(_("gauge"), max_length=40, blank=True)
    cause = models.CharField(_("cause"), max_length=20, choices=Cause)
    first_said_on = models.DateField(_("first said on"))
    last_said_on = models.DateField(_("last said on"))
    since = models.DateField(_("since"), null=True)
    settled_on = models.DateField(_("settled on"), null=True)
    last_step = models.OneToOneField(
        "ConcernStep", models.PROTECT, verbose_name=_("last step"), null=True, related_name="+"
    )

    objects = ConcernQuerySet.as_manager()
    # What the newest screening says stays with its findings; kept are the beginning and the end.
    history = HistoricalRecords(excluded_fields=["last_said_on", "since"])

    class Meta:
        verbose_name = _("concern")
        verbose_name_plural = _("concerns")
        ordering = ["first_said_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(cause__in=Cause.values), name="concern_cause"),
            models.CheckConstraint(
                condition=Q(unit__isnull=False, customer__isnull=False, gauge="")
                | Q(unit=None, customer=None) & ~Q(gauge=""),
                name="concern_of_a_unit_or_a_gauge",
            ),
            models.CheckConstraint(
                condition=Q(first_said_on__lte=F("last_said_on")), name="concern_said_in_order"
            ),
            models.CheckConstraint(
                condition=Q(settled_on=None) | Q(last_step__isnull=False),
                name="concern_settled_by_a_step",
            ),
            models.UniqueConstraint(
                "unit", "cause", condition=Q(settled_on=None), name="concern_open_once_a_unit"
            ),
            models.UniqueConstraint(
                "gauge",
                "cause",
                condition=Q(settled_on=None, unit=None),
                name="concern_open_once_a_gauge",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit or self.gauge}: {self.get_cause_display()}"

    def get_absolute_url(self) -> str:
        newest = self.findings.order_by("-run__as_of").first()
        return newest.get_absolute_url() if newest else reverse("findings")

    @property
    def is_open(self) -> bool:
        return self.settled_on is None

    @property
    def key(self) -> tuple[int | None, str, str]:
        """What a finding has in common with the concern that it belongs to."""
        return self.unit_id, self.gauge, self.cause

    def steps_open_to(self, person: Person) -> list[Step]:
        """The steps that a person may take with it as it stands."""
        steps = [step for step in Step if self.is_open and person.role in step.roles]
        return [step for step in steps if step != Step.ACKNOWLEDGED or self.last_step is None]

    def days_open(self, today: date) -> int:
        """Days from when it was first said until it was settled, or until today."""
        return max(((self.settled_on or today) - self.first_said_on).days, 0)

    def acknowledge(self, by: Person, *, at: datetime) -> "ConcernStep":
        """Someone has seen it and has it in hand."""
        return self._take(Step.ACKNOWLEDGED, by, at)

    def put_off(self, by: Person, words: str, until: date, *, at: datetime) -> "ConcernStep":
        """Leave it until a day, for a reason in words."""
        return self._take(Step.PUT_OFF, by, at, words=words, until=until)

    def book(self, by: Person, booked_for: date, words: str = "", *, at: datetime) -> "ConcernStep":
        """The truck comes in on a day."""
        return self._take(Step.BOOKED, by, at, booked_for=booked_for, words=words)

    def found(
        self,
        by: Person,
        cause_found: str,
        found_on: date | None = None,
        visit: Visit | None = None,
        words: str = "",
        mended: bool = False,
        *,
        at: datetime,
    ) -> "ConcernStep":
        """Confirm or refute it by what was found at the truck, at a visit or else on a day.

        It is settled with that, unless it is confirmed and not mended yet.
        """
        step = Step.CONFIRMED if cause_found == self.cause else Step.REFUTED
        if visit is not None:
            found_on = timezone.localtime(visit.at).date()
        return self._take(
            step,
            by,
            at,
            cause_found=cause_found,
            found_on=found_on,
            visit=visit,
            words=words,
            mended=mended,
            settled_on=None if step == Step.CONFIRMED and not mended else found_on,
        )

    def withdraw(self, words: str, on: date, *, at: datetime) -> "ConcernStep":
        """The screen does not say it any more."""
        return self._take(Step.WITHDRAWN, None, at, words=words, settled_on=on)

    @transaction.atomic
    def _take(
        self, what: Step, by: Person | None, at: datetime, settled_on: date | None = None, **details
    ) -> "ConcernStep":
        """Add a step and let the concern stand as it says.

        Raises PermissionDenied for a person of another role, ValidationError where it cannot be.
        """
        if by is not None and by.role not in what.roles:
            raise PermissionDenied
        # Someone else may have settled it while this person was writing.
        held = Concern.objects.select_for_update().get(pk=self.pk)
        if not held.is_open:
            raise ValidationError(_("This was settled in the meantime; nothing is to be done."))
        if what == Step.ACKNOWLEDGED and held.last_step_id:
            raise ValidationError(_("Someone has taken it in hand already."))
        step = ConcernStep(concern=self, cause=self.cause, what=what, by=by, at=at, **details)
        step.full_clean()
        step.save()
        self.last_step, self.settled_on = step, settled_on
        self.save(update_fields=["last_step", "settled_on"])
        return step


class ConcernStep(models.Model):
    """One step taken with a concern; it is never changed. `cause` is the concern's own.

    `by` is empty where the screen itself took the step.
    """

    concern = models.ForeignKey(
        Concern, models.PROTECT, verbose_name=_("concern"), related_name="steps"
    )
    cause = models.CharField(_("cause"), max_length=20, choices=Cause)
    what = models.CharField(_("step"), max_length=12, choices=Step)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("by"), null=True, blank=True
    )
    at = models.DateTimeField(_("at"))
    words = models.TextField(
        _("in words"), blank=True, help_text=_("Why it was put off, or what was found.")
    )
    until = models.DateField(_("put off until"), null=True, blank=True)
    booked_for = models.DateField(_("booked for"), null=True, blank=True)
    found_on = models.DateField(_("found on"), null=True, blank=True)
    visit = models.ForeignKey(Visit, models.PROTECT, verbose_name=_("visit"), null=True, blank=True)
    cause_found = models.CharField(_("what was found"), max_length=20, choices=FOUND, blank=True)
    mended = models.BooleanField(_("mended"), default=False)

    objects = StepQuerySet.as_manager()

    class Meta:
        verbose_name = _("step")
        verbose_name_plural = _("steps")
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(what__in=Step.values), name="concern_step_what"),
            models.CheckConstraint(
                condition=Q(what=Step.WITHDRAWN, by=None)
                | ~Q(what=Step.WITHDRAWN) & Q(by__isnull=False),
                name="concern_step_by_a_person_or_the_screen",
            ),
            models.CheckConstraint(
                condition=Q(what=Step.PUT_OFF, until__isnull=False) & ~Q(words="")
                | ~Q(what=Step.PUT_OFF) & Q(until=None),
                name="concern_step_put_off_why_and_until",
                violation_error_message=_("Say why it is put off, and until which day."),
            ),
            models.CheckConstraint(
                condition=Q(what=Step.BOOKED, booked_for__isnull=False)
                | ~Q(what=Step.BOOKED) & Q(booked_for=None),
                name="concern_step_booked_for_a_day",
                violation_error_message=_("Say for which day it is booked."),
            ),
            models.CheckConstraint(
                condition=Q(what__in=VERDICTS, found_on__isnull=False)
                | ~Q(what__in=VERDICTS)
                & Q(found_on=None, visit=None, cause_found="", mended=False),
                name="concern_step_found_on_a_day",
                violation_error_message=_("Say on which day, or at which visit, it was found."),
            ),
            models.CheckConstraint(
                condition=~Q(what=Step.CONFIRMED) | Q(cause_found=F("cause")),
                name="concern_step_confirmed_is_the_cause",
            ),
            models.CheckConstraint(
                condition=~Q(what=Step.REFUTED) | ~Q(cause_found=F("cause")) & ~Q(cause_found=""),
                name="concern_step_refuted_is_another_cause",
                violation_error_message=_("Say what was found."),
            ),
            models.CheckConstraint(
                condition=Q(cause_found__in=["", *(value for value, _label in FOUND)]),
                name="concern_step_cause_found",
            ),
            models.CheckConstraint(
                condition=~Q(cause_found=NoCause.SOMETHING_ELSE) | ~Q(words=""),
                name="concern_step_something_else_in_words",
                violation_error_message=_("Say in words what was found."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.concern}: {self.get_what_display()}"

    def save(self, **kwargs) -> None:
        if self.pk is not None:
            raise TypeError("A step is never changed; take another.")
        super().save(**kwargs)

    def delete(self, **kwargs) -> None:
        raise TypeError("A step is never deleted.")

    def clean(self) -> None:
        """Hold the days in order, seen from the day on which the step is taken."""
        day = timezone.localtime(self.at).date()
        if self.until and self.until <= day:
            raise ValidationError({"until": _("Choose a day that is still to come.")})
        if self.booked_for and self.booked_for < day:
            raise ValidationError({"booked_for": _("Choose today or a day to come.")})
        if self.what in VERDICTS and not self.found_on:
            raise ValidationError({"found_on": _("Say on which day, or choose the visit.")})
        if self.found_on and self.found_on > day:
            raise ValidationError({"found_on": _("This day is still to come.")})
        if self.visit and self.visit.unit_id != self.concern.unit_id:
            raise ValidationError({"visit": _("This visit was to another unit.")})
        if self.cause_found == NoCause.SOMETHING_ELSE and not self.words:
            raise ValidationError({"words": _("Say in words what was found.")})
