"""Where a claim stands, the steps that lead there, and how long a credit is overdue."""

from datetime import date

from django.db import models
from django.utils.translation import gettext_lazy as _

__all__ = ["Age", "ClaimState", "ClaimStepKind", "LineKind"]


class ClaimState(models.TextChoices):
    """Where a claim stands."""

    DRAFT = "draft", _("draft")
    SUBMITTED = "submitted", _("to be decided")
    MORE_ASKED = "more_asked", _("more asked")
    AWAITING_SECOND = "awaiting_second", _("awaiting a second person")
    APPROVED = "approved", _("approved")
    APPROVED_IN_PART = "approved_in_part", _("approved in part")
    DECLINED = "declined", _("declined")
    SENT_TO_MAKER = "sent_to_maker", _("sent to the maker")
    CREDITED = "credited", _("credited")
    CLOSED = "closed", _("closed")


class ClaimStepKind(models.TextChoices):
    SUBMITTED = "submitted", _("submitted")
    MORE_ASKED = "more_asked", _("more asked")
    ANSWERED = "answered", _("answered")
    FIRST_APPROVED = "first_approved", _("approved by the first of two")
    APPROVED = "approved", _("approved")
    APPROVED_IN_PART = "approved_in_part", _("approved in part")
    DECLINED = "declined", _("declined")
    SENT_TO_MAKER = "sent_to_maker", _("sent to the maker")
    CREDITED = "credited", _("credited by the maker")
    CLOSED = "closed", _("closed")
    REOPENED = "reopened", _("opened again")

    @property
    def leads_to(self) -> ClaimState:
        """Where a claim stands once this step was its last."""
        to_be_decided = {self.SUBMITTED, self.ANSWERED, self.REOPENED}
        if self in to_be_decided:
            return ClaimState.SUBMITTED
        if self == self.FIRST_APPROVED:
            return ClaimState.AWAITING_SECOND
        return ClaimState(self.value)

    @property
    def decides(self) -> bool:
        decisions = {self.FIRST_APPROVED, self.APPROVED, self.APPROVED_IN_PART, self.DECLINED}
        return self in decisions


class LineKind(models.TextChoices):
    PART = "part", _("part")
    LABOUR = "labour", _("labour")
    REFRIGERANT = "refrigerant", _("refrigerant")
    TRAVEL = "travel", _("travel")


class Age(models.TextChoices):
    """How long a credit is overdue."""

    NOT_DUE = "not_due", _("not due yet")
    TO_30 = "to_30", _("overdue, up to 30 days")
    TO_60 = "to_60", _("overdue, 31 to 60 days")
    TO_90 = "to_90", _("overdue, 61 to 90 days")
    OVER_90 = "over_90", _("overdue, over 90 days")

    @classmethod
    def of(cls, due_on: date, today: date) -> "Age":
        """Return how overdue a credit is on a day that was due on another."""
        late = (today - due_on).days
        return next((age for days, age in cls.steps() if late <= days), cls.OVER_90)

    @classmethod
    def steps(cls) -> tuple[tuple[int, "Age"], ...]:
        """Each age but the last with the most days overdue that belong to it."""
        return (0, cls.NOT_DUE), (30, cls.TO_30), (60, cls.TO_60), (90, cls.TO_90)
