"""The workbook of rejects: rows as they came, each with its reason, to be mended and loaded again."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from itertools import groupby
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from installs.records.loader import Load

__all__ = ["write_rejects"]

# A sheet of a workbook ends after 1,048,576 rows; the header is one of them.
MOST_ROWS = 1_048_575


def write_rejects(load: Load, path: Path) -> int:
    """Write the refused rows, a sheet each, and return how many had no room.

    The leading columns `reason` and `row` are passed over when the workbook is loaded.
    """
    workbook = Workbook(write_only=True)
    left = 0
    for name, refused in groupby(load.refused, key=lambda one: one.sheet):
        sheet = workbook.create_sheet(name)
        sheet.freeze_panes = "C2"
        sheet.column_dimensions["A"].width = 60
        headers = list(load.cells[name][0].columns)
        sheet.append([_cell(sheet, text) for text in ("reason", "row", *headers)])
        for place, (one, cells) in enumerate(zip(refused, _cells(load, name), strict=True)):
            if place < MOST_ROWS:
                sheet.append([_cell(sheet, value) for value in (one.words, one.row, *cells)])
            else:
                left += 1
    if not workbook.worksheets:
        workbook.create_sheet("rejects").append(["nothing was rejected"])
    workbook.save(path)
    return left


def _cells(load: Load, name: str) -> Iterator[tuple]:
    for frame in load.cells[name]:
        yield from frame.itertuples(index=False, name=None)


def _cell(sheet, value) -> WriteOnlyCell:
    """A cell with the value as it came; text is never taken for a formula."""
    if isinstance(value, datetime):
        # A midnight among times would come back as a mere day.
        value = value.isoformat() if value.time() == time.min else value
    elif isinstance(value, timedelta):
        value = str(value)
    if isinstance(value, str):
        value = ILLEGAL_CHARACTERS_RE.sub("", value)
    cell = WriteOnlyCell(sheet, value=value)
    if isinstance(value, str):
        cell.data_type = "s"
    return cell
