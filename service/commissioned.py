"""What is done with a commissioning: begun, each step saved, a proof let pass, handed over."""

from datetime import date, datetime
from uuid import UUID

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetcool.models import Role
from installs.certificates import issue
from installs.engineering.proofs import Verdict
from installs.models import (
    Booking,
    BookingState,
    Certificate,
    Commissioning,
    Install,
    InstallStep,
    Override,
    StepRecord,
    Technician,
)
from installs.proving import can_be_let_pass, proofs_by_step
from installs.stock import put_in
from service.commissioned_events import write_events
from service.signing import check_may_sign, technician_of

__all__ = ["MAY_ANSWER", "begin", "begin_for_install", "finish", "let_pass", "save_step"]

# Who may answer, by name and with a reason that is printed, for what does not hold.
MAY_ANSWER = {
    Verdict.LOOK_AGAIN: (Role.TECHNICIAN, Role.OWNER),
    Verdict.NOT_PROVED: (Role.OWNER,),
}
# A word is no reason.
LEAST_REASON = 10


@transaction.atomic
def begin(booking: Booking, person, at: datetime) -> Commissioning:
    """Put the unit held for a booking into its truck, and begin to prove it.

    Pressed twice, it is the same commissioning. Raises ValidationError where the booking holds no
    unit or was called off, and where unit and truck do not go together.
    """
    booking = _locked(booking)
    if begun := Commissioning.objects.filter(booking=booking).first():
        return begun
    if not booking.is_open:
        raise ValidationError(
            _("This booking is %s; book the truck in again.") % booking.get_state_display()
        )
    if booking.unit is None:
        raise ValidationError(_("No unit is held for this booking: hold one by its serial first."))
    technician = technician_of(person) or booking.technician
    return Commissioning.objects.create(
        install=_install(booking, technician, person, at),
        booking=booking,
        yard=booking.bay.yard,
        technician=technician,
        began_at=at,
    )


@transaction.atomic
def begin_for_install(install: Install, technician: Technician, at: datetime) -> Commissioning:
    """Begin to prove an install on record: one without a commissioning, or whose certificate was
    withdrawn. Any other commissioning goes on.

    The gauges are taken to be read in the truck's home yard, or where the one before was begun.
    """
    Install.objects.select_for_update().get(pk=install.pk)
    if install.removed_on is not None:
        raise ValidationError(_("The unit has been taken out of this truck."))
    last = install.commissionings.select_related("certificate").order_by("-began_at").first()
    given = getattr(last, "certificate", None)
    if last and (given is None or given.withdrawn_at is None):
        return last
    return Commissioning.objects.create(
        install=install,
        yard=last.yard if last else install.tractor.yard,
        technician=technician,
        began_at=at,
    )


@transaction.atomic
def save_step(
    commissioning: Commissioning,
    step: str,
    measured: dict,
    technician: Technician | None,
    sent_id: UUID,
    at: datetime,
) -> StepRecord:
    """Write down a step as it was measured, and the reading or the refrigerant that goes with it.

    `measured` is in internal units, None for what was not taken. A form sent twice (`sent_id`) is
    written once. Raises ValidationError where the technician may not sign the step and where the
    certificate is given already.
    """
    commissioning = _held(commissioning)
    if sent := commissioning.records.filter(sent_id=sent_id).first():
        return sent
    _check_open(commissioning)
    check_may_sign(technician, step, _day(at))
    record = StepRecord.objects.create(
        commissioning=commissioning,
        step=InstallStep(step),
        measured=measured | _beside(commissioning, step),
        technician=technician,
        sent_id=sent_id,
        taken_at=at,
    )
    write_events(commissioning, record)
    return record


@transaction.atomic
def let_pass(record: StepRecord, proof_code: str, person, reason: str, at: datetime) -> Override:
    """Let a proof that does not hold pass, by the name and for the reason of who answers for it.

    What is to be looked at again, such as pressures on a cold day, a technician may answer for; what
    is not proved only an owner. Raises ValidationError for a proof that nobody measured, for one that
    holds, for a record that was measured again since, and without a reason.
    """
    if person.role not in MAY_ANSWER[Verdict.LOOK_AGAIN]:
        raise PermissionDenied
    commissioning = _held(record.commissioning)
    _check_open(commissioning)
    now = next(one for one in proofs_by_step(commissioning) if one.step == record.step)
    if now.record != record:
        raise ValidationError(_("This step was measured again; look at the new figures."))
    if proof_code in now.overrides:
        return now.overrides[proof_code]
    proof = next((one for one in now.proofs if one.code == proof_code), None)
    if proof is None or not can_be_let_pass(proof):
        raise ValidationError(
            _("This cannot be let pass: only a measured figure that does not hold can.")
        )
    if person.role not in MAY_ANSWER[proof.verdict]:
        raise ValidationError(_("It is not proved: only the shop owner can let it pass."))
    reason = " ".join(reason.split())
    if len(reason) < LEAST_REASON or " " not in reason:
        raise ValidationError(_("Say why in a few words: it is printed on the certificate."))
    return Override.objects.create(
        record=record, proof=proof_code, person=person, reason=reason, at=at
    )


@transaction.atomic
def finish(
    commissioning: Commissioning,
    technician: Technician | None,
    received_by: str,
    signature: list,
    at: datetime,
) -> Certificate:
    """Give the certificate, and say that the booking is done.

    Raises ValidationError with a message for each point that is open.
    """
    check_may_sign(technician, InstallStep.SETTINGS, _day(at))
    certificate = issue(commissioning, technician, received_by, signature, at)
    if commissioning.booking:
        booking = _locked(commissioning.booking)
        if booking.is_open:
            booking.state = BookingState.DONE
            booking.save()
    return certificate


def _install(booking: Booking, technician: Technician, person, at: datetime) -> Install:
    """The install that is proved: the one on record in this very truck, or a new one of today."""
    unit, tractor = booking.unit, booking.tractor
    standing = Install.objects.current().filter(unit=unit, tractor=tractor).first()
    return standing or put_in(unit, tractor, _day(at), technician, person, at)


def _locked(booking: Booking) -> Booking:
    """The booking as it is now: of two who press at once, the second waits here for the first."""
    Booking.objects.select_for_update().get(pk=booking.pk)
    return Booking.objects.with_all().get(pk=booking.pk)


def _held(commissioning: Commissioning) -> Commissioning:
    """The commissioning as it is now, held until the end of the act."""
    Commissioning.objects.select_for_update().get(pk=commissioning.pk)
    return Commissioning.objects.with_all().get(pk=commissioning.pk)


def _check_open(commissioning: Commissioning) -> None:
    if Certificate.objects.filter(commissioning=commissioning).exists():
        raise ValidationError(
            _(
                "The certificate of this install is given: what it says cannot be changed. "
                "Withdraw it and begin a new commissioning to prove the install anew."
            )
        )
    if commissioning.install.removed_on is not None:
        raise ValidationError(_("The unit has been taken out of this truck."))


def _beside(commissioning: Commissioning, step: str) -> dict:
    """What is on record already and has a say in a step's proofs, as it was that day."""
    bank = getattr(commissioning.install.tractor, "bank", None)
    if step == InstallStep.SUPPLY and bank:
        return {"battery_count": bank.battery_count}
    return {}


def _day(at: datetime) -> date:
    return timezone.localtime(at, timezone.get_default_timezone()).date()
