"""A warranty claim: what it asks for, and every step that was taken with it.

Where a claim stands follows from its last step alone. Steps are only ever added: the database
refuses to change one (migration `claim_steps_stand`). Money is decimal, never binary.
"""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models import Customer, Install, PartGroup, Terms, Unit
from service.claim_querysets import ClaimQuerySet, OfClaimQuerySet
from service.claim_states import ClaimState, ClaimStepKind, LineKind
from service.models.visits import Visit

__all__ = ["CENT", "Claim", "ClaimLine", "ClaimStep", "money"]

CENT = Decimal("0.01")


def money(value: Decimal) -> Decimal:
    """Round to the hundredth, halves away from zero, as an invoice does."""
    return value.quantize(CENT, ROUND_HALF_UP)


# What is done for a part is a group of its own in the terms.
NOT_PARTS = (LineKind.LABOUR, LineKind.REFRIGERANT, LineKind.TRAVEL)


class Claim(models.Model):
    """What is claimed of one visit. `customer` is whose truck it was then.

    `terms` are those that the unit was under when the claim was opened. `meter_h` is the unit's
    own run hours as read at the visit, where it has a meter. `moved_by_others` is what the clerk
    asked the customer; empty where nobody knows.
    """

    visit = models.OneToOneField(
        Visit, models.PROTECT, verbose_name=_("visit"), related_name="claim"
    )
    unit = models.ForeignKey(Unit, models.PROTECT, verbose_name=_("unit"), related_name="claims")
    install = models.ForeignKey(
        Install, models.PROTECT, verbose_name=_("install"), null=True, blank=True
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), null=True, blank=True
    )
    terms = models.ForeignKey(Terms, models.PROTECT, verbose_name=_("terms"), null=True, blank=True)
    currency = models.CharField(_("currency"), max_length=3)
    failed_on = models.DateField(_("failed on"))
    words = models.TextField(_("what failed, in words"), blank=True)
    meter_h = models.FloatField(_("run hours on the unit's meter, h"), null=True, blank=True)
    moved_by_others = models.BooleanField(_("the unit was moved by others"), null=True, blank=True)
    logged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        verbose_name=_("logged by"),
        related_name="claims_logged",
    )
    logged_at = models.DateTimeField(_("logged at"))

    objects = ClaimQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("claim")
        verbose_name_plural = _("claims")
        ordering = ["-logged_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(currency__regex=r"^[A-Z]{3}$"), name="claim_currency"
            ),
            models.CheckConstraint(
                condition=Q(meter_h=None) | Q(meter_h__gte=0, meter_h__lte=200_000),
                name="claim_meter_h",
                violation_error_message=_("A meter shows from 0 to 200 000 hours."),
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("claim", args=[self.pk])

    @property
    def number(self) -> str:
        return f"W-{self.pk:06d}"

    @property
    def last_step(self) -> "ClaimStep | None":
        """The newest step; no query where the steps were prefetched."""
        return max(self.steps.all(), key=lambda step: step.position, default=None)

    @property
    def state(self) -> ClaimState:
        """Where it stands; `with_state()` gives it for many in one query."""
        if hasattr(self, "last_kind"):
            kind = self.last_kind
        else:
            last = self.last_step
            kind = last.kind if last else ""
        return ClaimStepKind(kind).leads_to if kind else ClaimState.DRAFT

    @property
    def decision(self) -> "ClaimStep | None":
        """The newest decision that stands: none since it was opened again, or more was asked."""
        for step in sorted(self.steps.all(), key=lambda step: -step.position):
            kind = ClaimStepKind(step.kind)
            if kind.decides:
                return step
            if kind.leads_to in (ClaimState.SUBMITTED, ClaimState.MORE_ASKED):
                return None
        return None

    @property
    def asked(self) -> Decimal:
        """The sum of its lines."""
        return sum((line.amount for line in self.lines.all()), Decimal("0.00"))

    @property
    def approved(self) -> Decimal | None:
        """The sum that the decision that stands approves; None while there is none."""
        decision = self.decision
        if decision is None or decision.kind == ClaimStepKind.FIRST_APPROVED:
            return None
        return decision.amount or Decimal("0.00")

    @property
    def submitted_on(self) -> date | None:
        """The day on which it was first submitted, which the deadline is held against."""
        first = min(self.steps.all(), key=lambda step: step.position, default=None)
        return first.day if first else None


class ClaimLine(models.Model):
    """One thing that is asked for: a part, or labour, refrigerant or travel."""

    claim = models.ForeignKey(Claim, models.PROTECT, verbose_name=_("claim"), related_name="lines")
    kind = models.CharField(_("kind"), max_length=11, choices=LineKind)
    part_group = models.CharField(_("part group"), max_length=11, choices=PartGroup)
    name = models.CharField(_("what"), max_length=100)
    serial_out = models.CharField(_("serial out"), max_length=60, blank=True)
    serial_in = models.CharField(_("serial in"), max_length=60, blank=True)
    quantity = models.DecimalField(_("quantity"), max_digits=9, decimal_places=3)
    unit_price = models.DecimalField(_("price of one"), max_digits=10, decimal_places=2)
    amount = models.DecimalField(_("amount"), max_digits=12, decimal_places=2, editable=False)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        verbose_name=_("written down by"),
        related_name="+",
    )

    objects = OfClaimQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("line of a claim")
        verbose_name_plural = _("lines of claims")
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=LineKind.values), name="claim_line_kind"),
            models.CheckConstraint(
                condition=Q(kind=LineKind.PART, part_group__in=PartGroup.values)
                & ~Q(part_group__in=NOT_PARTS)
                | Q(kind__in=NOT_PARTS, part_group=F("kind")),
                name="claim_line_part_group",
                violation_error_message=_("Say which group the part belongs to."),
            ),
            models.CheckConstraint(
                condition=~Q(name=""),
                name="claim_line_is_named",
                violation_error_message=_("Say what it is."),
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0),
                name="claim_line_quantity",
                violation_error_message=_("A quantity is above 0."),
            ),
            models.CheckConstraint(
                condition=Q(unit_price__gte=0),
                name="claim_line_unit_price",
                violation_error_message=_("A price is not below 0."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, **kwargs) -> None:
        self.amount = money(self.quantity * self.unit_price)
        super().save(**kwargs)


class ClaimStep(models.Model):
    """One step taken with a claim; it is never changed.

    `decision` holds what a decision rested on, as it stood: its shape is told in
    `service.claiming`. `rule` is the rule that a decline cites. `amount` is what was approved,
    asked of the maker, or credited by it.
    """

    claim = models.ForeignKey(Claim, models.PROTECT, verbose_name=_("claim"), related_name="steps")
    position = models.PositiveSmallIntegerField(_("number of the step"))
    kind = models.CharField(_("step"), max_length=16, choices=ClaimStepKind)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("by"), related_name="+"
    )
    at = models.DateTimeField(_("at"))
    day = models.DateField(_("on"))
    why = models.TextField(_("why"), blank=True)
    rule = models.CharField(_("rule"), max_length=60, blank=True)
    amount = models.DecimalField(
        _("amount"), max_digits=12, decimal_places=2, null=True, blank=True
    )
    recovery = models.ForeignKey(
        "Recovery",
        models.PROTECT,
        verbose_name=_("recovery"),
        null=True,
        blank=True,
        related_name="steps",
    )
    decision = models.JSONField(_("decision"), default=dict, blank=True)

    objects = OfClaimQuerySet.as_manager()

    class Meta:
        verbose_name = _("step of a claim")
        verbose_name_plural = _("steps of claims")
        ordering = ["claim", "position"]
        constraints = [
            # Two people who act at once: the second finds the place taken.
            models.UniqueConstraint("claim", "position", name="claim_step_once"),
            models.CheckConstraint(
                condition=Q(kind__in=ClaimStepKind.values), name="claim_step_kind"
            ),
            models.CheckConstraint(
                condition=Q(kind="declined") & ~Q(rule="") | ~Q(kind="declined") & Q(rule=""),
                name="claim_step_decline_cites_a_rule",
                violation_error_message=_("Say which rule it is declined by."),
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["declined", "more_asked", "answered", "reopened"])
                | ~Q(why=""),
                name="claim_step_says_why",
                violation_error_message=_("Say why, in a few words."),
            ),
            models.CheckConstraint(
                condition=Q(
                    kind__in=[
                        "first_approved",
                        "approved",
                        "approved_in_part",
                        "sent_to_maker",
                        "credited",
                    ],
                    amount__isnull=False,
                    amount__gt=0,
                )
                | Q(
                    kind__in=[
                        "submitted",
                        "more_asked",
                        "answered",
                        "declined",
                        "closed",
                        "reopened",
                    ],
                    amount=None,
                ),
                name="claim_step_amount",
                violation_error_message=_("An amount is above 0."),
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["sent_to_maker", "credited"], recovery__isnull=False)
                | ~Q(kind__in=["sent_to_maker", "credited"]) & Q(recovery=None),
                name="claim_step_recovery",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.claim}: {self.get_kind_display()}"

    def save(self, **kwargs) -> None:
        if not self._state.adding:
            raise TypeError("A step is never changed; take another.")
        super().save(**kwargs)

    def delete(self, **kwargs):
        raise TypeError("A step is never deleted.")
