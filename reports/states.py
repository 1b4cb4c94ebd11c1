"""How a concern stands and what was done with it, in plain words; the same on screen and in sheets."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from reports.models import FOUND, Concern, ConcernStep, Step

__all__ = ["NEW", "found_text", "state_text", "step_text", "who_text"]

NEW = gettext_lazy("new")


def state_text(concern: Concern | None) -> str:
    """Return how a concern stands, such as `put off until 3 May 2026`; reads its last step."""
    step = concern and concern.last_step
    return step_text(step) if step else str(NEW)


def step_text(step: ConcernStep) -> str:
    """Return what was done at one step, without who did it and why."""
    if step.what == Step.PUT_OFF:
        return _("put off until %(day)s") % {"day": _day(step.until)}
    if step.what == Step.BOOKED:
        return _("booked for %(day)s") % {"day": _day(step.booked_for)}
    if step.what == Step.CONFIRMED and step.mended:
        return _("confirmed and mended")
    if step.what == Step.CONFIRMED:
        return _("confirmed, not mended yet")
    if step.what == Step.REFUTED:
        return _("refuted; found instead: %(found)s") % {"found": found_text(step.cause_found)}
    return str(Step(step.what).label)


def found_text(cause_found: str) -> str:
    """Return what was found at a truck, for the middle of a sentence."""
    label = str(dict(FOUND)[cause_found])
    return label[:1].lower() + label[1:]


def who_text(step: ConcernStep, user) -> str:
    """Return who took a step, as a person may know it: a customer is not told the shop's names."""
    if step.by is None:
        return _("the screen")
    if step.by.sees_all and not user.sees_all:
        return _("the shop")
    return step.by.get_full_name() or step.by.get_username()


def _day(day: date) -> str:
    return date_format(day, _("j F Y"))
