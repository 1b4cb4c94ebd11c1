"""Who may sign which step of a commissioning, and what to do where somebody may not."""

from datetime import date

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from installs.engineering.acceptance import REFRIGERANT_STEPS
from installs.models import Credential, Technician

__all__ = ["check_may_sign", "may_sign", "technician_of"]

# So many names are named on a page; a larger shop knows whom to ask.
MOST_NAMED = 6


def technician_of(person) -> Technician | None:
    """The technician that a person who signs in is, if they are one."""
    return Technician.objects.filter(person=person).first()


def check_may_sign(technician: Technician | None, step: str, day: date) -> None:
    """Raise ValidationError, saying what is missing and who can, where a step may not be signed."""
    if technician is None:
        raise ValidationError(
            _(
                "Your sign-in is not tied to a technician, and a step is signed by a technician. "
                "Ask the shop owner to tie it in the back office."
            )
        )
    if step in REFRIGERANT_STEPS and not technician.may_sign_refrigerant(day):
        raise ValidationError([_missing(technician, day), _who_can(day), _local_codes()])


def may_sign(technician: Technician | None, step: str, day: date) -> list[str]:
    """Return why a step may not be signed, in words; empty where it may."""
    try:
        check_may_sign(technician, step, day)
    except ValidationError as refused:
        return refused.messages
    return []


def _missing(technician: Technician, day: date) -> str:
    words = {
        "technician": technician,
        "scheme": technician.certification_scheme,
        "until": technician.certified_until,
    }
    if not technician.certification_number:
        return _("No refrigerant certificate is on record for %(technician)s.") % words
    if not technician.is_certified(day):
        return _("The refrigerant certificate of %(technician)s ended on %(until)s.") % words
    return (
        _("The certificate of %(technician)s (%(scheme)s) is not one that is accepted here.")
        % words
    )


def _who_can(day: date) -> str:
    """Name those who may, in two queries however many technicians there are."""
    accepted = Credential.accepted()
    certified = Technician.objects.exclude(certification_number="")
    names = [one.name for one in certified if one.may_sign_refrigerant(day, accepted)]
    if not names:
        return _("Nobody on record may sign this step today.")
    named = ", ".join(names[:MOST_NAMED]) + ("…" if len(names) > MOST_NAMED else "")
    return _("This step can be signed by: %s.") % named


def _local_codes() -> str:
    return _("Local codes come first: they say who may open a refrigerant circuit.")
