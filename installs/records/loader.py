"""A record book into the records: every row accounted for, all of it or nothing."""

from collections.abc import Callable
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from installs.records.book import Book, Chunk, open_book
from installs.records.headers import Headers, match_headers
from installs.records.rows import Rows
from installs.records.sheet import Sheet
from installs.records.taking import Taking

__all__ = ["Account", "Load", "Refused", "let_follow", "load_book", "sheet_classes"]

CHUNK_ROWS = 100_000


@dataclass
class Account:
    """What became of a sheet's rows: read = new + unchanged + changed + rejected."""

    read: int = 0
    new: int = 0
    unchanged: int = 0
    changed: int = 0
    rejected: int = 0


class Refused(NamedTuple):
    """A row that was not taken: its number in the sheet, and (column, reason) pairs.

    The column is empty where the reason is the whole row's.
    """

    sheet: str
    row: int
    reasons: list[tuple[str, str]]

    @property
    def words(self) -> str:
        return "; ".join(
            f"{column}: {reason}" if column else reason for column, reason in self.reasons
        )


@dataclass
class Load:
    """The whole account. `cells` holds refused rows as they came, by sheet, where asked for."""

    accounts: dict[str, Account] = field(default_factory=dict)
    refused: list[Refused] = field(default_factory=list)
    cells: dict[str, list[pd.DataFrame]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def sheet_classes() -> list[type[Sheet]]:
    """Return the book's sheets in the order in which they are loaded."""
    return [sheet for module in settings.RECORD_SHEETS for sheet in import_module(module).SHEETS]


def load_book(
    path: Path,
    *,
    check: bool = False,
    keep_cells: bool = False,
    progress: Callable[[str, int], None] = lambda sheet, rows: None,
) -> Load:
    """Load a record book in one transaction; with `check`, say what would happen and undo it.

    Raises BookError where the book cannot be read; nothing of it is then loaded.
    """
    book = open_book(path)
    load = Load()
    known = sheet_classes()
    for name in sorted(set(book.sheets) - {sheet.name for sheet in known}):
        load.notes.append(_("%(sheet)s is no sheet of a record book; not read.") % {"sheet": name})
    reason = (_("record book %(name)s") % {"name": book.name})[:100]
    with transaction.atomic():
        for sheet in known:
            load.accounts[sheet.name] = Account()
            if sheet.name in book.sheets:
                _load_sheet(book, sheet, reason, load, keep_cells, progress)
        transaction.set_rollback(check)
    return load


def _load_sheet(book: Book, sheet: type[Sheet], reason: str, load: Load, keep_cells, progress):
    headers = taking = None
    for chunk in book.chunks(sheet.name, None if sheet.whole else CHUNK_ROWS):
        if headers is None:
            headers = match_headers(sheet, list(chunk.cells.columns))
            taking = Taking(sheet(reason), headers)
            _note_headers(sheet.name, headers, load)
        rows = _rows(chunk, headers)
        account = load.accounts[sheet.name]
        if headers.problem:
            rows.refuse(np.ones(len(rows), dtype=bool), "", headers.problem)
        else:
            new, changed, unchanged = taking.take(rows)
            account.new += new
            account.changed += changed
            account.unchanged += unchanged
        account.read += len(rows)
        account.rejected += len(rows.reasons)
        places = sorted(rows.reasons)
        load.refused += [
            Refused(sheet.name, int(rows.numbers[place]), rows.reasons[place]) for place in places
        ]
        if keep_cells and places:
            load.cells.setdefault(sheet.name, []).append(chunk.cells.iloc[places])
        progress(sheet.name, len(rows))
    if taking and taking.sheet.moved_units:
        for name, count in let_follow(taking.sheet.moved_units, taking.sheet.reason).items():
            shown = {"count": count, "sheet": name}
            load.notes.append(
                _("%(sheet)s: rows on record that changed tractor: %(count)d.") % shown
            )


def let_follow(unit_ids: set[int], reason: str) -> dict[str, int]:
    """Let what is on record of units follow them into the tractors they stood in, and whose they were.

    Returns how many rows of each sheet changed, where any did.
    """
    modules = [import_module(module) for module in settings.RECORD_SHEETS]
    followers = [sheet for module in modules for sheet in module.FOLLOWERS]
    moved = {sheet.name: sheet(reason).follow(unit_ids) for sheet in followers}
    return {name: count for name, count in moved.items() if count}


def _rows(chunk: Chunk, headers: Headers) -> Rows:
    rows = Rows(chunk, headers.written)
    rows.refuse(
        np.isin(rows.numbers, chunk.overlong),
        "",
        _("it has more cells than the sheet has columns; put quotes around a cell with a comma"),
    )
    return rows


def _note_headers(name: str, headers: Headers, load: Load) -> None:
    shown = {"sheet": name, "columns": ", ".join(headers.extra), "problem": headers.problem}
    if headers.extra:
        load.notes.append(_("%(sheet)s: not read: the columns %(columns)s.") % shown)
    if headers.problem:
        load.notes.append(_("%(sheet)s: refused: %(problem)s.") % shown)
