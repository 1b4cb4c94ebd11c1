"""What is done with bookings: book, move, call off, finish, hold a unit. Each one transaction.

Who books at a yard waits for those who book there at that moment, so that what is asked before
writing still holds when it is written. The database's own constraints are the net below.
"""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from installs.confirmations import confirm_on_commit
from installs.models import Booking, BookingState, Job, Technician, Tractor, Unit, UnitModel, Yard
from installs.openings import (
    check_slot,
    check_unit_model,
    find_slots,
    free_units,
    none_free,
    slot_of,
)
from installs.slots import Slot

__all__ = [
    "Taken",
    "amend",
    "book",
    "call_off",
    "find_slots",
    "finish",
    "hold",
    "move",
    "release",
    "slot_of",
]

# How many slots are offered to whoever came second, over two days or more.
NEXT = {"count": 6, "most_a_day": 3}
# By PostgreSQL a constraint is named, by SQLite a trigger or, of a unique index, the column.
CONSTRAINTS = {
    "booking_bay_once_at_a_time": "bay",
    "booking_technician_once_at_a_time": "technician",
    "booking_tractor_once_at_a_time": "tractor",
    "booking_holds_unit_once": "unit",
    "installs_booking.unit_id": "unit",
}


class Taken(Exception):
    """Somebody else was quicker: `what` of bay, technician, tractor, unit; `slots` are the next free."""

    def __init__(self, what: set[str], slots: list[Slot]) -> None:
        super().__init__(", ".join(sorted(what)))
        self.what, self.slots = what, slots


class _Clash(Exception):
    def __init__(self, what: set[str]) -> None:
        super().__init__(what)
        self.what = what


def book(
    job: Job,
    tractor: Tractor,
    slot: Slot,
    *,
    by,
    now: datetime,
    unit_model: UnitModel | None = None,
    serial: str = "",
    **details,
) -> Booking:
    """Book a truck in and hold a unit for it, the oldest that is free where no serial is given.

    `details` are pass_through, mounting_side, contact_email and note. Asked twice for the same, it
    is one booking. Raises ValidationError on the field that is wrong, Taken when the time is gone.
    """
    check_unit_model(job, tractor, unit_model)
    check_slot(job, slot, now)
    try:
        with transaction.atomic():
            _wait_for_our_turn(slot, tractor)
            if already := _same(job, tractor, slot):
                return already
            booking = Booking(
                job=job,
                tractor=tractor,
                customer=tractor.customer,
                unit_model=unit_model,
                booked_by=by,
                **details,
            )
            _place(booking, slot)
            if job.puts_a_unit_in or serial:
                _choose_unit(booking, serial)
            _write(booking, by)
            confirm_on_commit(booking, now)
    except _Clash as clash:
        later = find_slots(job, slot.bay.yard, tractor, unit_model, _from(slot, now), **NEXT)
        raise Taken(clash.what, later) from clash
    return booking


def move(booking: Booking, slot: Slot, *, by, now: datetime) -> None:
    """Give a booking another time, bay or technician. Raises ValidationError, or Taken."""
    check_slot(booking.job, slot, now)
    try:
        with transaction.atomic():
            _open_again(booking)
            _wait_for_our_turn(slot, booking.tractor)
            if booking.unit and booking.unit.yard_id != slot.bay.yard_id:
                raise ValidationError(
                    {
                        "bay": _("Unit %(serial)s lies in another yard; release it first.")
                        % {"serial": booking.unit}
                    }
                )
            _place(booking, slot)
            booking.sequence += 1
            _write(booking, by)
            confirm_on_commit(booking, now)
    except _Clash as clash:
        booking.refresh_from_db()
        later = find_slots(
            booking.job,
            slot.bay.yard,
            booking.tractor,
            booking.unit_model,
            _from(slot, now),
            **NEXT,
            moved=booking,
        )
        raise Taken(clash.what, later) from clash


def call_off(booking: Booking, *, by, why: str, now: datetime) -> None:
    """Call a booking off; its time and its unit are free again."""
    with transaction.atomic():
        _open_again(booking)
        booking.state = BookingState.CALLED_OFF
        booking.sequence += 1
        booking.called_off_why = why
        _write(booking, by)
        confirm_on_commit(booking, now)


def finish(booking: Booking, *, by, now: datetime) -> None:
    """Say that the work of a booking is done."""
    with transaction.atomic():
        _open_again(booking)
        if booking.begins_at > now:
            raise ValidationError(_("This booking has not begun yet; move it or call it off."))
        booking.state = BookingState.DONE
        _write(booking, by)


def amend(booking: Booking, *, by, **details) -> None:
    """Write down another contact_email, pass_through, mounting_side or note.

    Nobody at another address has been told yet.
    """
    with transaction.atomic():
        _open_again(booking)
        if details.get("contact_email", booking.contact_email) != booking.contact_email:
            booking.mailed_sequence = None
        for name, value in details.items():
            setattr(booking, name, value)
        _write(booking, by)


def hold(booking: Booking, serial: str, *, by) -> None:
    """Hold a unit for a booking in place of the one it has. Raises ValidationError on `serial`."""
    with transaction.atomic():
        _open_again(booking)
        Yard.objects.select_for_update(no_key=True).get(pk=booking.bay.yard_id)
        if booking.unit and booking.unit.serial.casefold() == serial.casefold():
            return
        _choose_unit(booking, serial)
        try:
            _write(booking, by)
        except _Clash as clash:
            booking.refresh_from_db()
            raise ValidationError(
                {"serial": _("This unit was just held for another booking; choose another.")}
            ) from clash


def release(booking: Booking, *, by) -> None:
    """Let the unit of a booking go; the booking stands without one."""
    with transaction.atomic():
        _open_again(booking)
        booking.unit = None
        _write(booking, by)


def _wait_for_our_turn(slot: Slot, tractor: Tractor) -> None:
    """Lock, always in this order, what two bookings could both want. SQLite locks as a whole."""
    for rows, pk in (
        (Yard, slot.bay.yard_id),
        (Technician, slot.technician.pk),
        (Tractor, tractor.pk),
    ):
        rows.objects.select_for_update(no_key=True).get(pk=pk)


def _open_again(booking: Booking) -> None:
    """Read a booking anew and lock it, and see that it is still open."""
    booking.refresh_from_db(from_queryset=Booking.objects.select_for_update(no_key=True))
    if not booking.is_open:
        raise ValidationError(
            _("This booking is %(state)s already; nothing was changed.")
            % {"state": booking.get_state_display()}
        )


def _same(job: Job, tractor: Tractor, slot: Slot) -> Booking | None:
    """The booking that stands if this very one was asked for before, as by a double click."""
    return (
        Booking.objects.open()
        .filter(
            job=job,
            tractor=tractor,
            bay=slot.bay,
            technician=slot.technician,
            begins_at=slot.begins_at,
        )
        .first()
    )


def _place(booking: Booking, slot: Slot) -> None:
    """Put a booking at a slot, if nothing that it needs is taken then."""
    booking.bay, booking.technician = slot.bay, slot.technician
    booking.begins_at = slot.begins_at
    booking.ends_at = slot_of(booking.job, slot.begins_at, slot.bay, slot.technician).ends_at
    _see_that_it_is_free(booking)


def _see_that_it_is_free(booking: Booking) -> None:
    others = Booking.objects.standing().between(booking.begins_at, booking.ends_at)
    others = others.exclude(pk=booking.pk)
    if what := {
        one
        for one in ("bay", "technician", "tractor")
        if others.filter(**{one: getattr(booking, one)}).exists()
    }:
        raise _Clash(what)


def _choose_unit(booking: Booking, serial: str) -> None:
    """Hold the unit of this serial, or the oldest that is free, and take its model over."""
    unit = _unit_by_serial(booking, serial) if serial else _oldest_free(booking)
    booking.unit, booking.unit_model = unit, unit.model


def _oldest_free(booking: Booking) -> Unit:
    free = free_units(booking.bay.yard, booking.unit_model).select_related("model")
    unit = free.select_for_update(of=("self",)).first()
    if unit is None:
        raise none_free(booking.bay.yard, booking.unit_model)
    return unit


def _unit_by_serial(booking: Booking, serial: str) -> Unit:
    units = Unit.objects.select_related("model", "yard")
    unit = units.select_for_update(of=("self",)).filter(serial__iexact=serial.strip()).first()
    words = {"serial": serial, "yard": booking.bay.yard, "model": booking.unit_model}
    if unit is None:
        refusal = _("No unit %(serial)s is on record; check the serial, or receive it first.")
    elif not Unit.objects.free().filter(pk=unit.pk).exists():
        refusal = _(
            "Unit %(serial)s is not free: it is held, in a truck or gone. Choose another one."
        )
    elif unit.yard_id != booking.bay.yard_id:
        words["lies"] = unit.yard
        refusal = _("Unit %(serial)s lies in %(lies)s; move it to %(yard)s, or choose another one.")
    elif booking.unit_model and booking.unit_model != unit.model:
        words["is"] = unit.model
        refusal = _("Unit %(serial)s is a %(is)s, and a %(model)s is booked; choose another one.")
    elif unit.model.system_v != booking.tractor.system_v:
        words |= {"truck": booking.tractor.system_v, "unit": unit.model.system_v}
        refusal = _(
            "The truck has %(truck)s V and unit %(serial)s needs %(unit)s V; choose another one."
        )
    else:
        return unit
    raise ValidationError({"serial": refusal % words})


def _write(booking: Booking, by) -> None:
    booking._history_user = by
    try:
        with transaction.atomic():
            booking.save()
    except IntegrityError as refused:
        what = {one for name, one in CONSTRAINTS.items() if name in str(refused)}
        if not what:
            raise
        raise _Clash(what) from refused


def _from(slot: Slot, now: datetime) -> datetime:
    """The moment from which whoever came second is offered slots: the beginning of that day."""
    midnight = timezone.localtime(slot.begins_at).replace(hour=0, minute=0)
    return max(now, midnight)
