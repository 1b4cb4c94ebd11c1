"""How the rows of one sheet are taken: read, matched with the records, compared, written."""

from collections.abc import Callable

import numpy as np
import pandas as pd
from django.db import DataError, IntegrityError, transaction
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from fleetcool.bulk import as_column, fetch_columns, field_of
from fleetcool.quantities import HEADER_UNITS, to_internal
from installs.records.cells import Number, fold
from installs.records.checks import is_blank
from installs.records.headers import Headers
from installs.records.rows import Rows
from installs.records.sheet import Column, Sheet

__all__ = ["Taking"]

# What conversion between units may leave: far less than any instrument shows.
RELATIVE, ABSOLUTE = 1e-9, 1e-9


class Taking:
    """Takes a sheet chunk by chunk, and remembers which keys it has seen."""

    def __init__(self, sheet: Sheet, headers: Headers):
        self.sheet = sheet
        self.headers = headers
        self.seen = SeenKeys()
        self.none_on_record = not sheet.model._default_manager.exists()

    def take(self, rows: Rows) -> tuple[int, int, int]:
        """Write what is new or changed; return how many rows are new, changed and unchanged.

        All others are refused. A key that was taken before is not written again: the row counts
        as unchanged where it says the same, and is refused where it does not.
        """
        for column in self.sheet.columns:
            if column.name in self.headers.written:
                self._read(rows, column)
        self.sheet.resolve(rows)
        keys = self._keys(rows.values)
        marks = pd.util.hash_pandas_object(keys.to_frame(), index=False).to_numpy()
        counts = np.zeros(3, dtype=int)
        waiting = rows.ok.copy()
        while waiting.any():
            taken, waiting = self._take(rows, keys, marks, waiting)
            counts += taken
        return tuple(counts.tolist())

    def _read(self, rows: Rows, column: Column) -> None:
        cells = rows.cells[self.headers.written[column.name]].to_numpy()
        unread = np.zeros(len(rows), dtype=bool)

        def refuse(places: NDArray, words: Callable[[int], str]) -> None:
            rows.refuse(places, column.name, words)
            unread[places] = True

        values = column.kind.read(cells, refuse)
        if isinstance(column.kind, Number) and (unit := self.headers.units[column.name]):
            # The air to take off an absolute pressure is known only once the truck is.
            values = to_internal(values, unit, air_kpa=0)
            if HEADER_UNITS[unit].absolute:
                rows.absolute[column.path] = values
        if column.required:
            rows.refuse(is_blank(values) & ~unread, column.name, _("it is missing"))
        rows.values[column.target] = values
        rows.headers[column.target] = rows.headers[column.name]
        if column.path and column.path not in self.sheet.key:
            rows.compared.append(column.path)

    def _keys(self, values: dict[str, NDArray]) -> pd.Index:
        """Return what tells rows apart, without regard to case."""
        parts = [
            np.array([fold(text) for text in column], dtype=object)
            if column.dtype == object
            else column
            for column in (values[path] for path in self.sheet.key)
        ]
        return pd.Index(parts[0]) if len(parts) == 1 else pd.MultiIndex.from_arrays(parts)

    def _take(self, rows: Rows, keys: pd.Index, marks: NDArray, where: NDArray):
        """Take the first row of each key; return the counts, and which rows wait for its fate."""
        sheet = self.sheet
        earlier = np.where(where, self.seen.find(marks), 0)
        stored = self._stored(rows, keys, fetch=earlier.any() or not self.none_on_record)
        found = ~np.isnan(stored["pk"])
        sheet.derive(rows, where, found, stored)
        sheet.check(rows, where)
        self._refuse_unfinished(rows, where & ~found)
        differs = {path: _differs(rows.values[path], stored[path]) for path in rows.compared}
        changes = found & np.any([np.zeros(len(rows), dtype=bool), *differs.values()], axis=0)

        again = where & found & (earlier > 0)
        rows.refuse(
            again & rows.ok & changes,
            sheet.key_columns[0],
            lambda place: (
                _("the same key stands in row %(row)d with other values") % {"row": earlier[place]}
            ),
        )
        fresh = np.flatnonzero(where & rows.ok & ~again)
        repeated = keys[fresh].duplicated()
        first, waiting = np.zeros((2, len(rows)), dtype=bool)
        first[fresh[~repeated]] = True
        waiting[fresh[repeated]] = True

        sheet.settle(rows, first & ~found, first & changes, stored)
        new, changed = first & rows.ok & ~found, first & rows.ok & changes
        sheet.introduce(rows, new | changed)
        paths = [path for path in rows.compared if differs[path][changed].any()]
        self._write(
            rows, np.flatnonzero(changed), lambda some: sheet.update(rows, some, stored, paths)
        )
        self._write(rows, np.flatnonzero(new), lambda some: sheet.insert(rows, some))
        new, changed, taken = new & rows.ok, changed & rows.ok, (first | again) & rows.ok
        self.seen.add(marks[first & rows.ok], rows.numbers[first & rows.ok])
        counts = [new.sum(), changed.sum(), (taken & ~new & ~changed).sum()]
        return np.array(counts), waiting

    def _stored(self, rows: Rows, keys: pd.Index, fetch: bool) -> dict[str, NDArray]:
        """Return what is on record for each row, a column a path; blank where nothing is."""
        sheet = self.sheet
        paths = list(dict.fromkeys(["pk", *sheet.key, *rows.compared, *sheet.also]))
        stored = {
            path: as_column(field, [_empty(field)] * len(rows))
            for path in paths
            for field in [field_of(sheet.model, path)]
        }
        if fetch:
            for part in fetch_columns(sheet.candidates(rows), paths):
                part_keys = self._keys(part)
                at = part_keys.get_indexer(keys)
                for path, column in part.items():
                    stored[path][at >= 0] = column[at[at >= 0]]
        return stored

    def _refuse_unfinished(self, rows: Rows, new: NDArray) -> None:
        for column in self.sheet.columns:
            if column.required and column.name not in self.headers.written:
                rows.refuse(new & rows.ok, column.name, _("it is missing; a new row needs it"))

    def _write(self, rows: Rows, places: NDArray, write) -> None:
        """Write rows; where the database still refuses some, find them and write the others."""
        if not len(places):
            return
        try:
            with transaction.atomic():
                write(places)
        except (IntegrityError, DataError) as error:
            if len(places) == 1:
                rows.refuse(places, "", self._words(error))
                return
            middle = len(places) // 2
            self._write(rows, places[:middle], write)
            self._write(rows, places[middle:], write)

    def _words(self, error: Exception) -> str:
        for constraint in self.sheet.model._meta.constraints:
            if constraint.name in str(error):
                return str(constraint.get_violation_error_message())
        return _("the records refuse it: %(error)s") % {"error": str(error).splitlines()[0]}


class SeenKeys:
    """Which keys were taken from the sheet, and from which row: by 64-bit marks, to hold millions.

    Two keys may in theory share a mark: a row is looked up by its true key before it is judged.
    """

    def __init__(self):
        self.parts: list[tuple[NDArray, NDArray]] = []

    def find(self, marks: NDArray) -> NDArray:
        """Return the number of the row that had the key, or 0."""
        earlier = np.zeros(len(marks), dtype="int64")
        for known, numbers in self.parts:
            at = np.searchsorted(known, marks).clip(max=len(known) - 1)
            earlier = np.where(known[at] == marks, numbers[at], earlier)
        return earlier

    def add(self, marks: NDArray, numbers: NDArray) -> None:
        if len(marks):
            order = np.argsort(marks)
            self.parts.append((marks[order], numbers[order]))


def _empty(field):
    return "" if as_column(field, []).dtype == object else None


def _differs(mine: NDArray, stored: NDArray) -> NDArray:
    """Return where two columns of one type differ; two blanks do not."""
    if mine.dtype.kind == "f":
        return ~np.isclose(mine, stored, rtol=RELATIVE, atol=ABSOLUTE, equal_nan=True)
    if mine.dtype.kind == "M":
        return (mine != stored) & ~(np.isnat(mine) & np.isnat(stored))
    return mine != stored
