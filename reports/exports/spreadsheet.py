"""How a workbook is written: sheets for the screen and for paper, row after row.

Memory does not grow with the rows. Text is text whatever it begins with; values are in the units of
the person who asked, moments in the shop's time without a zone.
"""

import re
import textwrap
from collections.abc import Callable, Iterable
from datetime import date, datetime
from itertools import compress
from typing import NamedTuple

from django.utils import timezone
from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties

from fleetcool.models import UnitSystem
from fleetcool.quantities import DECIMALS, UNIT_LABEL, shown
from reports.exports.columns import Column

__all__ = ["Sheet", "new_workbook", "write_notes", "write_table"]

# What XML 1.0 cannot carry (its production Char), such as a stray control character.
NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
FORMATS = {
    # A column of format @ keeps its text a text, also when someone edits the cell.
    "text": "@",
    "prose": "General",
    "date": "yyyy-mm-dd",
    "moment": "yyyy-mm-dd hh:mm",
    "share": "0.0%",
    "count": "#,##0",
    "money": "#,##0.00",
    "quantity": "#,##0.###",
    "year": "0",
}
TITLE = Font(name="Calibri", bold=True, size=14)
BOLD = Font(name="Calibri", bold=True, size=11)
WRAPPED = Alignment(vertical="top", wrap_text=True)
TO_THE_LEFT = Alignment(vertical="top", horizontal="left")
TO_THE_RIGHT = Alignment(vertical="top", horizontal="right", indent=1)
LEFT = {"text", "date", "moment"}
LINE_PT = 15
# A column's width counts digits; letters are narrower than digits on the whole.
LETTERS_PER_WIDTH = 1.1
HEADER = {
    "font": BOLD,
    "fill": PatternFill("solid", fgColor="DCE6EA"),
    "border": Border(bottom=Side("thin")),
}
NOTE_WIDTHS = (30, 100)
LETTER, A4 = 1, 9


class Sheet(NamedTuple):
    title: str
    columns: tuple[Column, ...]
    rows: Iterable[tuple]
    above: tuple[str, ...] = ()


def new_workbook(title: str) -> Workbook:
    """An empty workbook that is written row by row."""
    book = Workbook(write_only=True)
    book.properties.creator = "Fleetcool"
    book.properties.title = title
    return book


def write_table(book: Workbook, sheet: Sheet, system: str) -> int:
    """Write one sheet: lines above, a frozen header with filters, then row after row."""
    page = _page(book, sheet.title, [column.width for column in sheet.columns], system)
    header_at = len(sheet.above) + 1
    page.freeze_panes = f"C{header_at + 1}"
    page.print_title_rows = f"{header_at}:{header_at}"
    for line, text in enumerate(sheet.above):
        page.append([_styled(page, text, **({} if line else {"font": TITLE}))])
    widths = [column.width for column in sheet.columns]
    headers = [_header(page, column, system) for column in sheet.columns]
    _append(page, header_at, headers, _lines([cell.value for cell in headers], widths))
    pens = [_pen(page, column, system) for column in sheet.columns]
    wraps = [column.kind == "prose" for column in sheet.columns]
    count = 0
    for count, row in enumerate(sheet.rows, 1):
        cells = [pen(value) for pen, value in zip(pens, row, strict=True)]
        lines = _lines(compress(row, wraps), compress(widths, wraps))
        _append(page, header_at + count, cells, lines)
    last = get_column_letter(len(sheet.columns))
    page.auto_filter.ref = f"A{header_at}:{last}{header_at + count}"
    return count


def write_notes(
    book: Workbook, title: str, heading: str, notes: Iterable[tuple], system: str
) -> int:
    """Write a sheet of subjects and words about each; return how many."""
    page = _page(book, title, NOTE_WIDTHS, system)
    page.append([_styled(page, heading, font=TITLE)])
    count = 0
    for count, (subject, words) in enumerate(notes, 1):
        cells = [
            _styled(page, str(subject), font=BOLD, alignment=WRAPPED),
            _styled(page, str(words), alignment=WRAPPED),
        ]
        _append(page, count + 1, cells, _lines((subject, words), NOTE_WIDTHS))
    return count


def _page(book: Workbook, title: str, widths: Iterable[int], system: str) -> WriteOnlyWorksheet:
    """An empty sheet, set up for the screen and for paper."""
    page = book.create_sheet(title)
    for place, width in enumerate(widths, 1):
        page.column_dimensions[get_column_letter(place)].width = width
    page.page_setup.orientation = "landscape"
    page.page_setup.paperSize = LETTER if system == UnitSystem.US else A4
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.page_margins = PageMargins(left=0.4, right=0.4, top=0.5, bottom=0.6, footer=0.3)
    page.oddFooter.left.text = title
    page.oddFooter.right.text = _("Page %(page)s of %(pages)s") % {"page": "&P", "pages": "&N"}
    return page


def _styled(page: WriteOnlyWorksheet, text: str, **style) -> Cell:
    cell = WriteOnlyCell(page)
    for name, value in style.items():
        setattr(cell, name, value)
    return _write_text(cell, text)


def _header(page: WriteOnlyWorksheet, column: Column, system: str) -> Cell:
    unit = UNIT_LABEL.get((column.kind, system))
    text = f"{column.name}, {unit}" if unit else str(column.name)
    left = column.kind in LEFT | {"prose"}
    alignment = Alignment(
        horizontal="left" if left else "right",
        indent=0 if left else 1,
        vertical="bottom",
        wrap_text=True,
    )
    return _styled(page, text, alignment=alignment, **HEADER)


def _pen(page: WriteOnlyWorksheet, column: Column, system: str) -> Callable:
    """What turns a column's values into cells: one cell of the right style, used row after row."""
    cell = WriteOnlyCell(page)
    cell.number_format = _format(column, system)
    if column.kind == "prose":
        cell.alignment = WRAPPED
    else:
        cell.alignment = TO_THE_LEFT if column.kind in LEFT else TO_THE_RIGHT

    def write(value) -> Cell | None:
        if value is None or value == "":
            return None
        if column.kind in {"text", "prose"}:
            return _write_text(cell, str(value))
        cell.value = _shop_time(value)
        return cell

    if column.kind in FORMATS:
        return write
    # Every conversion is a straight line, so two points of it spare a call for every cell.
    zero, one = shown([0.0, 1.0], column.kind, system)[0].tolist()
    return lambda value: write(None if value is None else round(zero + (one - zero) * value, 4))


def _lines(texts: Iterable, widths: Iterable[int]) -> int:
    """How many lines the longest of these texts takes when it wraps in its column."""
    lines = (
        len(textwrap.wrap(str(text or ""), int(LETTERS_PER_WIDTH * width)))
        for text, width in zip(texts, widths, strict=True)
    )
    return max(lines, default=1)


def _append(page: WriteOnlyWorksheet, line: int, cells: list, lines: int) -> None:
    """Write a row high enough for its text, for not every program finds the height by itself."""
    if lines > 1:
        page.row_dimensions[line].height = LINE_PT * lines
    page.append(cells)
    page.row_dimensions.pop(line, None)


def _format(column: Column, system: str) -> str:
    if column.kind in FORMATS:
        return FORMATS[column.kind]
    places = DECIMALS[column.kind, system] if column.decimals is None else column.decimals
    return f"#,##0.{'0' * places}".rstrip(".")


def _write_text(cell: Cell, text: str) -> Cell:
    """Put text into a cell as text, never as a formula or an error, whatever it begins with."""
    cell.value = NOT_XML.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
    cell.data_type = "s"
    return cell


def _shop_time(value: date | datetime | float) -> date | datetime | float:
    """A moment as the shop's clock showed it, with no zone, for a spreadsheet knows none."""
    if not isinstance(value, datetime):
        return value
    return timezone.make_naive(value, timezone.get_default_timezone()).replace(microsecond=0)
