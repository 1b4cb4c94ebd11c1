"""A record book as it lies on disk: a workbook of sheets, or a folder of CSV files.

Cells are handed out as they stand: text, and from a workbook also numbers, dates and times.
"""

import csv
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time
from itertools import islice
from pathlib import Path

import numpy as np
import pandas as pd
from django.utils.translation import gettext as _
from python_calamine import CalamineError, CalamineWorkbook

__all__ = ["Book", "BookError", "Chunk", "open_book"]


class BookError(Exception):
    """The book cannot be read at all; the message says why, in plain words."""


@dataclass
class Chunk:
    """Some rows of a sheet.

    cells has a column a header, as written, and the index is the row's number in the sheet (the
    header's is 1 as a rule). overlong are the numbers of rows with more cells than headers.
    """

    cells: pd.DataFrame
    overlong: list[int] = field(default_factory=list)


class Book:
    """A record book; sheets are named as in the design: 'Unit models' is 'unit_models'."""

    def __init__(self, name: str, sources: dict[str, object]):
        self.name = name
        self._sources = sources

    @property
    def sheets(self) -> list[str]:
        return list(self._sources)

    def chunks(self, sheet: str, rows: int | None) -> Iterator[Chunk]:
        """Yield a sheet in chunks of at most so many rows, in order; None takes all at once.

        A sheet with a header and no rows yields one empty chunk; a blank sheet yields nothing.
        Blank rows are passed over, but keep their number.
        """
        source = self._sources[sheet]
        lines = _csv_rows(source) if isinstance(source, Path) else _workbook_rows(*source)
        written = ((number, row) for number, row in lines if any(cell != "" for cell in row))
        headers = next(written, None)
        if headers is None:
            return
        headers = [str(cell).strip() for cell in headers[1]]
        batch = list(islice(written, rows))
        yield _chunk(headers, batch)
        while batch and (batch := list(islice(written, rows))):
            yield _chunk(headers, batch)


def open_book(path: Path) -> Book:
    """Open a folder of CSV files, one CSV file or a workbook. Raises BookError."""
    try:
        if path.is_dir():
            files = sorted(file for file in path.iterdir() if file.suffix.lower() == ".csv")
            if not files:
                raise BookError(_("%(path)s has no CSV files in it.") % {"path": path})
            return Book(path.name, _by_sheet((file.stem, file) for file in files))
        if path.suffix.lower() == ".csv":
            path.open().close()
            return Book(path.name, {sheet_name(path.stem): path})
        workbook = CalamineWorkbook.from_path(path)
    except OSError as error:
        raise BookError(f"{path}: {error.strerror or error}") from None
    except CalamineError as error:
        raise BookError(
            _("%(path)s is not a workbook that can be read: %(error)s")
            % {"path": path, "error": error}
        ) from None
    return Book(path.name, _by_sheet((name, (workbook, name)) for name in workbook.sheet_names))


def sheet_name(text: str) -> str:
    return re.sub(r"[\W_]+", "_", text.casefold()).strip("_")


def _by_sheet(sources: Iterable[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, source in sources:
        if found.setdefault(sheet_name(name), source) is not source:
            raise BookError(
                _("Two sheets of the book are both “%(name)s”; make them one.")
                % {"name": sheet_name(name)}
            )
    return found


def _chunk(headers: list[str], batch: list[tuple[int, list]]) -> Chunk:
    width = len(headers)
    overlong = []
    for place, (number, row) in enumerate(batch):
        if len(row) != width:
            if any(cell != "" for cell in row[width:]):
                overlong.append(number)
            batch[place] = (number, [*row[:width], *[""] * (width - len(row))])
    columns = zip(*(row for _, row in batch), strict=True) if batch else ([] for _ in headers)
    cells = pd.DataFrame(
        dict(enumerate(_objects(column) for column in columns)),
        index=np.array([number for number, _ in batch], dtype="int64"),
    )
    named = [place for place, header in enumerate(headers) if header]
    cells = cells.iloc[:, named]
    cells.columns = [headers[place] for place in named]
    return Chunk(cells, overlong)


def _objects(column) -> np.ndarray:
    cells = np.empty(len(column), dtype=object)
    cells[:] = column
    return cells


def _csv_rows(path: Path) -> Iterator[tuple[int, list]]:
    try:
        with path.open(newline="", encoding="utf-8-sig") as lines:
            yield from enumerate(csv.reader(lines), start=1)
    except UnicodeDecodeError:
        raise BookError(
            _("%(path)s is not in UTF-8; save it again as “CSV UTF-8”.") % {"path": path.name}
        ) from None
    except (OSError, csv.Error) as error:
        raise BookError(f"{path.name}: {error}") from None


def _workbook_rows(workbook: CalamineWorkbook, name: str) -> Iterator[tuple[int, list]]:
    try:
        rows = workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
    except CalamineError as error:
        raise BookError(f"{name}: {error}") from None
    _keep_midnights(rows)
    yield from enumerate(rows, start=1)


def _keep_midnights(rows: list[list]) -> None:
    """Make a whole day a midnight where its column holds times.

    A workbook keeps no difference between a day and the midnight it begins with, and the reader
    gives a date for both.
    """
    for place in range(len(rows[0]) if rows else 0):
        if any(isinstance(row[place], datetime) for row in rows):
            for row in rows:
                if type(row[place]) is date:
                    row[place] = datetime.combine(row[place], time.min)
