"""What becomes of a unit: moved from yard to yard, put into a truck, taken out, gone for good.

Each act is one transaction and writes a move of the stock and history. `by` is whoever does it,
`at` when it is written down; a day is one of the shop's calendar. An act that cannot be done raises
ValidationError, which says what is in the way and how it is mended, and changes nothing.
"""

from datetime import date, datetime, time

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetcool.models import Person
from installs.models import (
    Install,
    LeftStock,
    StockMove,
    StockMoveKind,
    Technician,
    Tractor,
    Unit,
    Yard,
)
from installs.records.loader import let_follow

__all__ = [
    "check_day",
    "check_yard",
    "lock",
    "move_to_yard",
    "put_in",
    "remove",
    "return_to_maker",
    "save_as",
    "scrap",
    "truck_words",
]


@transaction.atomic
def put_in(
    unit: Unit,
    tractor: Tractor,
    on_day: date,
    technician: Technician | None,
    by: Person | None,
    at: datetime,
) -> Install:
    """Put a unit into a truck on a day: it is its customer's from then on, and in no yard."""
    lock(unit, tractor)
    check_day(on_day, at)
    _check_in_no_truck(unit)
    _check_not_gone(unit)
    _check_voltage(unit, tractor)
    _check_nothing_in(tractor, on_day)
    _check_not_held_for_another(unit, tractor)
    install = _install_from(unit, on_day)
    install.tractor, install.customer = tractor, tractor.customer
    install.installed_by, install.removed_on, install.entered_at = technician, None, at
    words = _("put into %(truck)s") % {"truck": truck_words(tractor)}
    save_as(install, by, words)
    _into_yard(unit, None, by, words)
    _note(unit, StockMoveKind.INSTALLED, _moment(on_day, at), by, tractor=tractor)
    let_follow({unit.pk}, words)
    return install


@transaction.atomic
def remove(
    unit: Unit, on_day: date, to_yard: Yard, why: str, by: Person | None, at: datetime
) -> Install:
    """Take a unit out of the truck it stands in, on a day, into a yard of the shop."""
    lock(unit)
    check_day(on_day, at)
    check_yard(to_yard)
    install = unit.installs.current().select_related("tractor__customer").first()
    if install is None:
        raise ValidationError(_("%(serial)s stands in no truck.") % {"serial": unit})
    if on_day < install.installed_on:
        raise ValidationError(
            _("It was installed on %(day)s; it cannot be removed before that.")
            % {"day": install.installed_on}
        )
    install.removed_on = on_day
    words = _("taken out of %(truck)s") % {"truck": truck_words(install.tractor)}
    save_as(install, by, words)
    _into_yard(unit, to_yard, by, words)
    moment = _moment(on_day, at)
    _note(unit, StockMoveKind.REMOVED, moment, by, yard=to_yard, tractor=install.tractor, why=why)
    let_follow({unit.pk}, words)
    return install


@transaction.atomic
def move_to_yard(unit: Unit, yard: Yard, why: str, by: Person | None, at: datetime) -> None:
    """Move a unit from one yard of the shop to another."""
    lock(unit)
    check_yard(yard)
    _check_in_no_truck(unit)
    _check_not_gone(unit)
    if unit.yard_id == yard.pk:
        raise ValidationError(
            _("%(serial)s is at %(yard)s already.") % {"serial": unit, "yard": yard}
        )
    held = _held_for(unit)
    if held and held.bay.yard_id != yard.pk:
        raise ValidationError(
            _(
                "%(serial)s is held for %(truck)s at %(yard)s on %(day)s; hold another unit for that "
                "booking first."
            )
            % _booking_words(unit, held)
        )
    _into_yard(unit, yard, by, _("moved to %(yard)s") % {"yard": yard})
    _note(unit, StockMoveKind.MOVED, at, by, yard=yard, why=why)


def return_to_maker(unit: Unit, why: str, by: Person | None, at: datetime) -> None:
    """Send a unit back to its maker; when it comes back it is received again."""
    _leave(unit, LeftStock.RETURNED, StockMoveKind.RETURNED, why, by, at)


def scrap(unit: Unit, why: str, by: Person | None, at: datetime) -> None:
    """Write a unit off for good; its history stays."""
    _leave(unit, LeftStock.SCRAPPED, StockMoveKind.SCRAPPED, why, by, at)


@transaction.atomic
def _leave(unit: Unit, left: LeftStock, kind: StockMoveKind, why: str, by, at: datetime) -> None:
    lock(unit)
    if not why.strip():
        raise ValidationError(_("Say why: the record is read years from now."))
    _check_in_no_truck(unit)
    _check_not_gone(unit)
    if held := _held_for(unit):
        raise ValidationError(
            _("%(serial)s is held for %(truck)s on %(day)s; hold another unit for it first.")
            % _booking_words(unit, held)
        )
    _note(unit, kind, at, by, yard=unit.yard, why=why)
    unit.left_stock = left
    _into_yard(unit, None, by, str(left.label))


def lock(*rows: models.Model) -> None:
    """Read rows afresh and keep others from changing them until the transaction ends."""
    for row in rows:
        row.refresh_from_db(from_queryset=type(row).objects.select_for_update())


def save_as(row: models.Model, by: Person | None, words: str) -> None:
    """Save a row, with who did it and what was done in its history."""
    row._history_user, row._change_reason = by, words[:100]
    row.save()


def truck_words(tractor: Tractor) -> str:
    """Name a truck so that the shop finds it: its number and whose it is, or its VIN."""
    name = tractor.truck_number or tractor.vin
    return _("truck %(name)s of %(customer)s") % {"name": name, "customer": tractor.customer}


def check_day(on_day: date, at: datetime) -> None:
    if on_day > timezone.localdate(at):
        raise ValidationError(
            _("%(day)s is still to come; write it down on that day.") % {"day": on_day}
        )


def check_yard(yard: Yard) -> None:
    if yard.customer_id is not None:
        raise ValidationError(
            _("%(yard)s is a yard of %(customer)s; stock lies in the shop's own yards.")
            % {"yard": yard, "customer": yard.customer}
        )


def _check_in_no_truck(unit: Unit) -> None:
    install = unit.installs.current().select_related("tractor__customer").first()
    if install:
        raise ValidationError(
            _("%(serial)s stands in %(truck)s since %(day)s; take it out there first.")
            % {
                "serial": unit,
                "truck": truck_words(install.tractor),
                "day": install.installed_on,
            }
        )


def _check_not_gone(unit: Unit) -> None:
    if unit.left_stock == LeftStock.RETURNED:
        raise ValidationError(
            _("%(serial)s was returned to the maker; receive it again when it is back.")
            % {"serial": unit}
        )
    if unit.left_stock == LeftStock.SCRAPPED:
        raise ValidationError(
            _("%(serial)s was scrapped; check the serial on the unit.") % {"serial": unit}
        )


def _check_voltage(unit: Unit, tractor: Tractor) -> None:
    if unit.model.system_v != tractor.system_v:
        raise ValidationError(
            _(
                "%(serial)s is made for %(unit_v)d V and %(truck)s has %(truck_v)d V; choose a unit "
                "of the truck's voltage, or correct the truck's record."
            )
            % {
                "serial": unit,
                "unit_v": unit.model.system_v,
                "truck": truck_words(tractor),
                "truck_v": tractor.system_v,
            }
        )


def _check_nothing_in(tractor: Tractor, on_day: date) -> None:
    """Refuse a truck that carries a unit on that day or carried one later."""
    later = Q(removed_on=None) | Q(removed_on__gt=on_day)
    installs = tractor.installs.filter(later).exclude(removed_on=F("installed_on"))
    # The one that still stands comes last.
    by_end = F("removed_on").asc(nulls_last=True)
    other = installs.select_related("unit").order_by(by_end).last()
    if other is None:
        return
    shown = {"truck": truck_words(tractor), "serial": other.unit, "day": other.removed_on}
    if other.removed_on is None:
        raise ValidationError(_("%(truck)s carries %(serial)s; take that unit out first.") % shown)
    raise ValidationError(_("%(truck)s carried %(serial)s until %(day)s.") % shown)


def _check_not_held_for_another(unit: Unit, tractor: Tractor) -> None:
    held = _held_for(unit)
    if held and held.tractor_id != tractor.pk:
        raise ValidationError(
            _("%(serial)s is held for %(truck)s on %(day)s; choose another unit, or release it.")
            % _booking_words(unit, held)
        )


def _install_from(unit: Unit, on_day: date) -> Install:
    """A new install, or the one that was undone on that very day, which left no time behind."""
    earlier = unit.installs.exclude(removed_on=F("installed_on")).filter(removed_on__gt=on_day)
    if last := earlier.select_related("tractor__customer").order_by("removed_on").last():
        raise ValidationError(
            _("%(serial)s stood in %(truck)s until %(day)s; give that day or a later one.")
            % {"serial": unit, "truck": truck_words(last.tractor), "day": last.removed_on}
        )
    undone = unit.installs.filter(installed_on=on_day).first()
    if undone and undone.commissionings.exists():
        raise ValidationError(
            _(
                "%(serial)s was put into a truck and taken out on %(day)s, and its commissioning was "
                "begun; give the next day."
            )
            % {"serial": unit, "day": on_day}
        )
    return undone or Install(unit=unit, installed_on=on_day)


def _held_for(unit: Unit):
    return unit.bookings.open().with_all().first()


def _booking_words(unit: Unit, booking) -> dict[str, object]:
    return {
        "serial": unit,
        "truck": truck_words(booking.tractor),
        "yard": booking.bay.yard,
        "day": timezone.localdate(booking.begins_at),
    }


def _into_yard(unit: Unit, yard: Yard | None, by: Person | None, words: str) -> None:
    unit.yard = yard
    save_as(unit, by, words)


def _note(unit: Unit, kind: StockMoveKind, moment: datetime, by: Person | None, **where) -> None:
    if "why" in where:
        where["why"] = where["why"].strip()[:200]
    StockMove.objects.create(unit=unit, kind=kind, at=moment, person=by, **where)


def _moment(on_day: date, at: datetime) -> datetime:
    """When something happened on a day: now, if that is today, else at noon."""
    if timezone.localdate(at) == on_day:
        return at
    return timezone.make_aware(datetime.combine(on_day, time(12)))
