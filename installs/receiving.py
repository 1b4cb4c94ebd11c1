"""Units into the shop's stock: by their serials, as a scanner types them, or by a sheet."""

import zipfile
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

import numpy as np
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.db.models.functions import Upper
from django.utils.translation import gettext as _
from simple_history.utils import bulk_create_with_history, bulk_update_with_history

from fleetcool.models import Person
from installs.models import Install, LeftStock, StockMove, StockMoveKind, Unit, UnitModel, Yard
from installs.records.book import BookError, open_book
from installs.records.cells import Text, fold
from installs.records.headers import match_headers
from installs.records.loader import Load, load_book
from installs.records.sheets import Units
from installs.stock import check_yard, truck_words

__all__ = ["MOST_SCANS", "Receipt", "RefusedScan", "receive", "receive_sheet"]

MOST_SCANS = 1_000
# What a workbook may hold once it is unpacked.
MOST_BYTES = 50_000_000


@dataclass(frozen=True)
class RefusedScan:
    """A line that was not taken: its number from 1, the serial as it came, and why not."""

    line: int
    serial: str
    reason: str


@dataclass
class Receipt:
    """What became of some scans: received, here already, or refused."""

    received: list[Unit] = field(default_factory=list)
    unchanged: list[Unit] = field(default_factory=list)
    refused: list[RefusedScan] = field(default_factory=list)


def receive(
    serials: Iterable[str],
    model: UnitModel,
    yard: Yard,
    lot: str,
    made_on: date | None,
    by: Person | None,
    at: datetime,
) -> Receipt:
    """Take units into a yard of the shop; each line stands or falls alone, blank ones are passed over.

    A serial that is new is put on record with the model, lot and day given. One that is on record
    and lies nowhere, or comes back from the maker, is taken in as it is on record.
    """
    check_yard(yard)
    lines = list(serials)
    if len(lines) > MOST_SCANS:
        raise ValidationError(
            _("At most %(most)d lines at a time; take the rest after them.") % {"most": MOST_SCANS}
        )
    fresh = {"model": model, "lot": lot, "made_on": made_on}
    try:
        return _receive(lines, fresh, yard, by, at)
    except IntegrityError:
        # Someone received one of these serials this very moment: now it is on record.
        return _receive(lines, fresh, yard, by, at)


@transaction.atomic
def _receive(lines: list[str], fresh: dict, yard: Yard, by, at: datetime) -> Receipt:
    receipt = Receipt()
    scans = _readable(lines, receipt)
    on_record = _on_record(scans)
    returning, new = [], []
    for key, (line, serial) in scans.items():
        unit = on_record.get(key)
        if unit is None:
            new.append(Unit(serial=serial, yard=yard, **fresh))
        elif reason := _why_not(unit, fresh["model"], yard):
            receipt.refused.append(RefusedScan(line, serial, reason))
        elif unit.yard_id == yard.pk:
            receipt.unchanged.append(unit)
        else:
            returning.append(unit)
    words = _received_words(yard)
    new = bulk_create_with_history(new, Unit, default_user=by, default_change_reason=words)
    _note_received(new, yard, by, at)
    _take_in(returning, yard, by, at)
    receipt.received = [*new, *returning]
    receipt.refused.sort(key=lambda scan: scan.line)
    return receipt


def _readable(lines: list[str], receipt: Receipt) -> dict[str, tuple[int, str]]:
    """The scans by folded serial, each with its line; what cannot be read or comes twice is refused."""
    cells = np.array([*lines, None], dtype=object)[:-1]
    unread: dict[int, str] = {}
    serials = Text(60).read(
        cells, lambda places, why: unread.update({int(place): why(place) for place in places})
    )
    scans: dict[str, tuple[int, str]] = {}
    for place, serial in enumerate(serials):
        line, reason = place + 1, unread.get(place, "")
        if serial and fold(serial) in scans:
            first = scans[fold(serial)][0]
            reason = _("scanned twice, first on line %(line)d; delete one") % {"line": first}
        if reason:
            receipt.refused.append(RefusedScan(line, serial or lines[place].strip(), reason))
        elif serial:
            scans[fold(serial)] = (line, serial)
    return scans


def _on_record(scans: dict[str, tuple[int, str]]) -> dict[str, Unit]:
    # SQLite folds the letters of ASCII only, so a serial is also asked for as it was written.
    written = Q(serial__in=[serial for _line, serial in scans.values()])
    units = Unit.objects.annotate(folded=Upper("serial")).filter(
        written | Q(folded__in=list(scans))
    )
    units = units.select_for_update(of=("self",)).select_related("model", "yard")
    return {
        fold(unit.serial): unit for unit in units.prefetch_related("installs__tractor__customer")
    }


def _why_not(unit: Unit, model: UnitModel, yard: Yard) -> str:
    """Why a unit on record cannot be received, with the mend; empty where it can."""
    install = next((one for one in unit.installs.all() if one.removed_on is None), None)
    if install:
        return _("it stands in %(truck)s; take it out there first") % {
            "truck": truck_words(install.tractor)
        }
    if unit.left_stock == LeftStock.SCRAPPED:
        return _("it was scrapped; check the serial on the unit")
    if unit.model_id != model.pk:
        return _("it is on record as model %(model)s; choose that model, or check the serial") % {
            "model": unit.model
        }
    if unit.yard_id not in (None, yard.pk):
        return _("it is in stock at %(yard)s; move it from its own page") % {"yard": unit.yard}
    return ""


def _take_in(units: list[Unit], yard: Yard, by: Person | None, at: datetime) -> None:
    for unit in units:
        unit.yard, unit.left_stock = yard, ""
    bulk_update_with_history(
        units,
        Unit,
        ["yard", "left_stock"],
        batch_size=500,
        default_user=by,
        default_change_reason=_received_words(yard),
    )
    _note_received(units, yard, by, at)


def _note_received(units: list[Unit], yard: Yard, by: Person | None, at: datetime) -> None:
    received = StockMoveKind.RECEIVED
    StockMove.objects.bulk_create(
        StockMove(unit=unit, kind=received, at=at, yard=yard, person=by) for unit in units
    )


def _received_words(yard: Yard) -> str:
    return (_("received at %(yard)s") % {"yard": yard})[:100]


@transaction.atomic
def receive_sheet(
    path: Path, yard: Yard, by: Person | None, at: datetime
) -> tuple[Load, list[Unit]]:
    """Load a sheet of units, and take those that lie nowhere yet into a yard of the shop.

    Returns the loader's account and the units taken in. What stands in a truck or lies in another
    yard stays there. Raises BookError where the file is no sheet of units.
    """
    check_yard(yard)
    _check_only_units(path)
    load = load_book(path, keep_cells=True)
    units = Unit.objects.annotate(folded=Upper("serial")).filter(folded__in=_serials(path))
    in_trucks = Install.objects.current().values("unit")
    placeless = list(units.filter(yard=None, left_stock="").exclude(pk__in=in_trucks))
    _take_in(placeless, yard, by, at)
    return load, placeless


def _check_only_units(path: Path) -> None:
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_BYTES:
                raise BookError(_("The workbook is too large once unpacked; split it."))
    names = open_book(path).sheets
    if names != ["units"]:
        raise BookError(
            _("Only a sheet named “units” is taken here; this file has: %(names)s.")
            % {"names": ", ".join(names) or _("no sheet")}
        )


def _serials(path: Path) -> list[str]:
    """The serials of a sheet of units, folded, readable or not."""
    for chunk in open_book(path).chunks("units", None):
        header = match_headers(Units, list(chunk.cells.columns)).written.get("serial")
        if header is None:
            break
        cells = chunk.cells[header].to_numpy(dtype=object)
        return [fold(serial) for serial in Text(60).read(cells, lambda places, why: None) if serial]
    return []
