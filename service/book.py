"""What is done with refrigerant: each act one transaction, refused in words or written whole.

An act first locks the cylinders it touches, so that two people who draw from one cylinder at once
come one after the other; at its end it counts again what each of them holds, at every moment of
its book, so that an act that is told late is judged like any other.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from installs.models import Install, InstallStep, Technician, Unit
from service.book_rules import (
    By,
    check_goes_together,
    check_in_book,
    check_mass,
    check_number,
    check_room,
    day_of,
    overdrawn,
)
from service.engineering.balance import lowest
from service.lines import Line, lines_of
from service.models import Cylinder, CylinderEntry, EntryKind, Holds, Movement, MovementKind
from service.models.cylinders import ROUNDING_G
from service.signing import check_may_sign

__all__ = [
    "By",
    "Weighing",
    "buy",
    "correct",
    "correct_entry",
    "decant",
    "describe",
    "dispose",
    "move",
    "open_with",
    "recount",
    "retire",
    "strike_out",
    "weigh",
    "weigh_in",
]

# As much as a row of history keeps of a reason.
REASON_LENGTH = 100


class Weighing(NamedTuple):
    """What the scale says that a cylinder holds, what the book says, and scale less book."""

    net_g: float
    book_g: float

    @property
    def difference_g(self) -> float:
        return self.net_g - self.book_g

    @property
    def agrees(self) -> bool:
        return abs(self.difference_g) < ROUNDING_G


@transaction.atomic
def move(unit: Unit, kind: str, mass_g: float, cylinder: Cylinder | None, by: By) -> Movement:
    """Write down refrigerant into a unit or out of it.

    Raises ValidationError where the cylinder holds another refrigerant or too little or may not
    take it, where the technician may not open a circuit on that day, and where the mass or the
    time cannot be.
    """
    movement = Movement(unit=unit, movement=kind, at=by.at, entered_at=by.entered_at)
    return _write_movement(movement, mass_g, cylinder, by)


@transaction.atomic
def correct(
    movement: Movement, mass_g: float, cylinder: Cylinder | None, by: By, why: str = ""
) -> Movement:
    """Correct a movement in place, at its own time; its history keeps what it said, and why.

    Raises ValidationError as `move` does.
    """
    _keep_before(movement)
    movement._change_reason = why[:REASON_LENGTH]
    return _write_movement(movement, mass_g, cylinder, by)


@transaction.atomic
def strike_out(movement: Movement, why: str, by: By) -> None:
    """Take a movement that never was, or was told twice, off the record; its history keeps it.

    Raises ValidationError without a reason, and where a cylinder would have run short without it.
    """
    locked = _locked(movement.cylinder)
    by.check()
    _check_words(why, _("Say in a few words what was wrong."))
    _keep_before(movement)
    movement._change_reason = why[:REASON_LENGTH]
    movement.delete()
    recount(locked, by)


@transaction.atomic
def open_with(
    cylinder: Cylinder, mass_g: float, holds: str, by: By, sent_id: UUID | None = None
) -> CylinderEntry:
    """Put a cylinder into the book with what it holds; an empty one with 0."""
    cylinder = _begin(cylinder, holds, by, sent_id)
    return _write_entry(
        CylinderEntry(cylinder=cylinder, kind=EntryKind.OPENING, mass_g=mass_g, sent_id=sent_id), by
    )


@transaction.atomic
def buy(
    cylinder: Cylinder, mass_g: float, document: str, by: By, sent_id: UUID | None = None
) -> CylinderEntry:
    """Write down refrigerant that was bought; a cylinder not in the book yet comes into it so."""
    cylinder = _locked(cylinder)[cylinder.pk]
    if not cylinder.is_in_book:
        cylinder = _begin(cylinder, Holds.NEW, by, sent_id)
    elif cylinder.holds != Holds.NEW:
        raise ValidationError(
            _("%(cylinder)s is for %(kind)s gas; what is bought goes into one of new gas.")
            % {"cylinder": cylinder.code, "kind": cylinder.get_holds_display()}
        )
    entry = CylinderEntry(cylinder=cylinder, kind=EntryKind.BOUGHT, mass_g=mass_g)
    entry.document, entry.sent_id = document, sent_id
    return _write_entry(entry, by)


@transaction.atomic
def decant(
    source: Cylinder, target: Cylinder, mass_g: float, by: By, sent_id: UUID | None = None
) -> CylinderEntry:
    """Move refrigerant from one cylinder into another; recycling recovered gas is such a move."""
    locked = _locked(source, target)
    source, target = locked[source.pk], locked[target.pk]
    check_in_book(source, by.at)
    check_may_sign(by.technician, InstallStep.CHARGE, by.day)
    words = {"source": source.code, "target": target.code, "kind": source.get_holds_display()}
    if source.refrigerant != target.refrigerant:
        words |= {"holds": target.refrigerant, "needs": source.refrigerant}
        raise ValidationError(
            _("%(target)s is for %(holds)s and %(source)s holds %(needs)s; never mix them.") % words
        )
    if target.holds == Holds.NEW and source.holds != Holds.NEW:
        raise ValidationError(
            _("%(target)s is for new gas and %(source)s holds %(kind)s gas; keep them apart.")
            % words
        )
    entry = CylinderEntry(cylinder=source, other=target, kind=EntryKind.DECANTED, mass_g=mass_g)
    entry.sent_id = sent_id
    return _write_entry(entry, by)


@transaction.atomic
def dispose(
    cylinder: Cylinder,
    mass_g: float,
    sent_to: str,
    document: str,
    by: By,
    sent_id: UUID | None = None,
) -> CylinderEntry:
    """Write down refrigerant that was sent away to be reclaimed or destroyed, and to whom."""
    cylinder = _locked(cylinder)[cylinder.pk]
    if not sent_to.strip():
        raise ValidationError(_("Say to whom it was sent: name and address."))
    entry = CylinderEntry(cylinder=cylinder, kind=EntryKind.DISPOSED, mass_g=mass_g)
    entry.sent_to, entry.document, entry.sent_id = sent_to, document, sent_id
    return _write_entry(entry, by)


def weigh(cylinder: Cylinder, gross_g: float, at: datetime) -> Weighing:
    """Hold a cylinder's gross weight against the book of that moment; writes nothing.

    Raises ValidationError without a tare, for a cylinder that is not in the book, and for a
    weight below the tare.
    """
    check_in_book(cylinder, at)
    if cylinder.tare_g is None:
        raise ValidationError(_("Enter the tare first; it is stamped on the cylinder."))
    net_g = gross_g - cylinder.tare_g
    if net_g < -ROUNDING_G:
        raise ValidationError(_("This is less than the empty cylinder weighs; look at both."))
    book_g = sum(line.mass_g for line in lines_of([cylinder.pk]) if line.at <= at)
    return Weighing(max(net_g, 0.0), book_g)


@transaction.atomic
def weigh_in(
    cylinder: Cylinder, gross_g: float, why: str, by: By, sent_id: UUID | None = None
) -> CylinderEntry:
    """Write down the difference that the scale shows against the book, and why there is one."""
    cylinder = _locked(cylinder)[cylinder.pk]
    if sent := _sent(sent_id):
        return sent
    weighing = weigh(cylinder, gross_g, by.at)
    if weighing.agrees:
        raise ValidationError(_("The scale and the book agree; there is nothing to write down."))
    _check_words(why, _("Say in a few words where the difference comes from."))
    entry = CylinderEntry(
        cylinder=cylinder, kind=EntryKind.DIFFERENCE, mass_g=weighing.difference_g
    )
    entry.why, entry.sent_id = why, sent_id
    return _write_entry(entry, by)


@transaction.atomic
def correct_entry(
    entry: CylinderEntry, mass_g: float, why: str, by: By, sent_id: UUID | None = None
) -> CylinderEntry:
    """Write down what an entry should have said, at its own time; 0 strikes it out."""
    _locked(entry.cylinder, entry.other)
    if sent := _sent(sent_id):
        return sent
    if CylinderEntry.objects.filter(corrects=entry).exists():
        raise ValidationError(_("This entry was corrected already; correct the newer one."))
    _check_words(why, _("Say in a few words what was wrong."))
    same = ("cylinder", "other", "kind", "technician", "certified_by", "sent_to", "document")
    new = CylinderEntry(**{name: getattr(entry, name) for name in same}, mass_g=mass_g, why=why)
    new.corrects, new.sent_id = entry, sent_id
    return _write_entry(new, By(entry.at, by.entered_at, entry.technician, by.person))


@transaction.atomic
def describe(cylinder: Cylinder, **facts) -> Cylinder:
    """Set what a cylinder is like and where it is kept; never what it holds."""
    cylinder = _locked(cylinder)[cylinder.pk]
    for name, value in facts.items():
        setattr(cylinder, name, value)
    cylinder.full_clean()
    cylinder.save()
    return cylinder


@transaction.atomic
def retire(cylinder: Cylinder, by: By) -> Cylinder:
    """Take an empty cylinder out of use."""
    cylinder = _locked(cylinder)[cylinder.pk]
    by.check()
    if (cylinder.held_g or 0) > ROUNDING_G:
        raise ValidationError(
            _("It holds %(mass)s by the book: send that away or move it first.")
            % {"mass": by.mass(cylinder.held_g)}
        )
    if any(line.at > by.at for line in lines_of([cylinder.pk])):
        raise ValidationError(_("There are later entries in its book; look at the date."))
    cylinder.retired_at = by.at
    cylinder.save()
    return cylinder


def recount(cylinder_ids: Iterable[int], by: By | None = None) -> dict[int, list[Line]]:
    """Count again what cylinders in the book hold, and keep it with them; return their lines.

    Raises ValidationError where one would have held less than nothing at any moment.
    """
    cylinders = Cylinder.objects.in_book().in_bulk(set(cylinder_ids))
    ledgers: dict[int, list[Line]] = {pk: [] for pk in cylinders}
    for line in lines_of(list(cylinders)):
        ledgers[line.cylinder_id].append(line)
    for pk, lines in ledgers.items():
        masses = [line.mass_g for line in lines]
        least_g, place = lowest(masses, [line.t for line in lines])
        if least_g < -ROUNDING_G:
            raise ValidationError(overdrawn(cylinders[pk], lines[place].at, least_g, by))
        # Not saved as a change of the cylinder: the lines are the history of what it holds.
        Cylinder.objects.filter(pk=pk).update(held_g=round(sum(masses), 3))
    return ledgers


def _write_movement(movement: Movement, mass_g, cylinder: Cylinder | None, by: By) -> Movement:
    locked = _locked(cylinder, movement.cylinder)
    cylinder = locked[cylinder.pk] if cylinder else None
    by.check()
    check_may_sign(by.technician, InstallStep.CHARGE, by.day)
    check_mass(movement.unit, mass_g, by)
    if cylinder:
        check_goes_together(movement, cylinder)
    movement.mass_g, movement.cylinder = mass_g, cylinder
    movement.moved_by, movement.certified_by = by.technician, _certificate(by.technician)
    install = Install.objects.on(day_of(movement.at)).filter(unit=movement.unit).first()
    movement.tractor = install and install.tractor
    movement.customer = install and install.customer
    movement.full_clean()
    movement.save()
    ledgers = recount(locked, by)
    if cylinder and movement.movement == MovementKind.RECOVERED:
        check_room(cylinder, ledgers, movement.at, by)
    return movement


def _write_entry(entry: CylinderEntry, by: By) -> CylinderEntry:
    """Write an entry of locked cylinders, or find that it was sent before."""
    if sent := _sent(entry.sent_id):
        return sent
    by.check()
    check_number(entry.mass_g)
    for cylinder in filter(None, (entry.cylinder, entry.other)):
        check_in_book(cylinder, by.at)
    entry.at, entry.entered_at, entry.person = by.at, by.entered_at, by.person
    if entry.corrects is None:
        entry.technician, entry.certified_by = by.technician, _certificate(by.technician)
    entry.full_clean()
    entry.save()
    ledgers = recount([entry.cylinder_id, *filter(None, [entry.other_id])], by)
    if entry.kind in (EntryKind.OPENING, EntryKind.BOUGHT, EntryKind.DECANTED):
        check_room(entry.other or entry.cylinder, ledgers, entry.at, by)
    return entry


def _begin(cylinder: Cylinder, holds: str, by: By, sent_id: UUID | None) -> Cylinder:
    """Let a cylinder's book begin, unless it was begun by this very form."""
    cylinder = _locked(cylinder)[cylinder.pk]
    if _sent(sent_id):
        return cylinder
    by.check()
    if cylinder.is_in_book:
        raise ValidationError(_("This cylinder is in the book already."))
    cylinder.holds, cylinder.booked_from, cylinder.held_g = holds, by.at, 0
    cylinder.full_clean()
    cylinder.save()
    return cylinder


def _locked(*cylinders: Cylinder | None) -> dict[int, Cylinder]:
    """The cylinders as they are now, by number, held until the end of the transaction.

    Always locked in one order, so that two acts on the same two never wait for each other. (SQLite
    lets one writer in at a time as it is.)
    """
    wanted = {cylinder.pk for cylinder in cylinders if cylinder is not None}
    rows = Cylinder.objects.select_for_update().filter(pk__in=wanted).order_by("pk")
    return {row.pk: row for row in rows}


def _sent(sent_id: UUID | None) -> CylinderEntry | None:
    return CylinderEntry.objects.filter(sent_id=sent_id).first() if sent_id else None


def _keep_before(movement: Movement) -> None:
    """Put into history how a movement was first written: a loaded one has no history yet."""
    if not movement.history.exists():
        before = Movement.objects.get(pk=movement.pk)
        before._history_date = before.entered_at
        Movement.history.bulk_history_create([before], default_change_reason=_("as first written"))


def _check_words(why: str, ask: str) -> None:
    """A word is no reason."""
    if " " not in why.strip():
        raise ValidationError(ask)


def _certificate(technician: Technician | None) -> str:
    if technician is None:
        return ""
    return f"{technician.certification_scheme} {technician.certification_number}".strip()
