"""Labels for units: sheets with, for each, its serial in large letters and its page as a QR code.

A plain grid of our own, to be cut apart or printed on sheets that stick: 3 across and 8 down. On
Letter a label is 2.5 × 1.25 in with margins of 0.5 in all round; on A4 it is 62 × 34 mm with
margins of 12 mm at the sides and 12.5 mm above and below.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from os import PathLike
from typing import IO

import segno
from django.conf import settings
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from fleetcool.models import UnitSystem
from installs.engineering.saturation import SAFETY_CLASS, designation, is_flammable
from installs.models import Unit
from reports.exports.paper import BOLD, INK, LINE, REGULAR, drawable, register_faces

__all__ = ["ACROSS", "DOWN", "PER_SHEET", "write_labels"]

ACROSS, DOWN = 3, 8
PER_SHEET = ACROSS * DOWN
PADDING_PT, SERIAL_PT, SERIAL_BAND_PT, TEXT_PT = 5, 18, 20, 8.5
# Below this size a name goes on in a second line.
LEAST_PT = 8
LEADING = 1.2
# ISO/IEC 18004 asks for four free modules around a code.
QUIET_ZONE = 4


@dataclass(frozen=True)
class Grid:
    """Where the labels of a sheet are, in points."""

    pagesize: tuple[float, float]
    left: float
    top: float

    @property
    def width(self) -> float:
        return (self.pagesize[0] - 2 * self.left) / ACROSS

    @property
    def height(self) -> float:
        return (self.pagesize[1] - 2 * self.top) / DOWN

    def corner(self, place: int) -> tuple[float, float]:
        """The lower left corner of a label; places are counted from 0, row by row."""
        row, column = divmod(place, ACROSS)
        y = self.pagesize[1] - self.top - (row + 1) * self.height
        return self.left + column * self.width, y


LETTER_GRID = Grid(LETTER, left=0.5 * inch, top=0.5 * inch)
A4_GRID = Grid(A4, left=12 * mm, top=12.5 * mm)


def write_labels(
    target: str | PathLike | IO[bytes], units: Iterable[Unit], user, skip: int = 0
) -> None:
    """Write a label a unit, in their order, with `model` at hand; Letter with US units, else A4.

    `skip` leaves as many places of the first sheet free, for labels that were used already. The
    same units give the same bytes. Raises ValueError where `skip` is a sheet or more, or below 0.
    """
    if not 0 <= skip < PER_SHEET:
        raise ValueError(f"skip is 0 to {PER_SHEET - 1}, not {skip}")
    register_faces()
    grid = LETTER_GRID if user.unit_system == UnitSystem.US else A4_GRID
    canvas = Canvas(
        str(target) if isinstance(target, PathLike) else target,
        pagesize=grid.pagesize,
        pageCompression=1,
        invariant=1,
        initialFontName=REGULAR,
        lang=get_language() or "en",
    )
    canvas.setTitle(_("Labels of units"))
    canvas.setAuthor("Fleetcool")
    for number, unit in enumerate(units, start=skip):
        place = number % PER_SHEET
        if place == 0 and number > skip:
            canvas.showPage()
        _draw_label(canvas, unit, grid, *grid.corner(place))
    canvas.save()


def _draw_label(canvas: Canvas, unit: Unit, grid: Grid, x: float, y: float) -> None:
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.4)
    canvas.rect(x, y, grid.width, grid.height)
    canvas.setFillColor(INK)
    top = y + grid.height - PADDING_PT
    _draw_serial(canvas, unit.serial, x + PADDING_PT, top, grid.width - 2 * PADDING_PT)
    side = grid.height - PADDING_PT - SERIAL_BAND_PT
    _draw_code(canvas, settings.SITE_URL + unit.get_absolute_url(), x, y, side)
    width = grid.width - side - PADDING_PT
    _draw_facts(canvas, unit, x + side, y + side - 2, width)


def _draw_serial(canvas: Canvas, serial: str, x: float, top: float, width: float) -> None:
    lines, size = _fitted(serial, BOLD, SERIAL_PT, width)
    # What stands in two lines shares the height of one.
    size = min(size, SERIAL_BAND_PT / LEADING / len(lines))
    _draw_lines(canvas, lines, BOLD, size, x, top)


def _draw_facts(canvas: Canvas, unit: Unit, x: float, top: float, width: float) -> None:
    name = designation(unit.model.refrigerant)
    words = _("%(refrigerant)s, class %(class)s") % {
        "refrigerant": name,
        "class": SAFETY_CLASS[name],
    }
    for text in (unit.model.name, words):
        lines, size = _fitted(text, REGULAR, TEXT_PT, width)
        top = _draw_lines(canvas, lines, REGULAR, size, x, top) - 2
    if is_flammable(name):
        lines, size = _fitted(_("BURNS: no flame, no spark"), BOLD, TEXT_PT, width - 6)
        height = len(lines) * LEADING * size + 4
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1)
        canvas.rect(x, top - height, width, height)
        _draw_lines(canvas, lines, BOLD, size, x + 3, top - 2)


def _draw_lines(
    canvas: Canvas, lines: list[str], face: str, size: float, x: float, top: float
) -> float:
    """Draw lines from `top` down, and return where they end."""
    canvas.setFont(face, size)
    for line in lines:
        canvas.drawString(x, top - size, line)
        top -= LEADING * size
    return top


def _draw_code(canvas: Canvas, address: str, x: float, y: float, side: float) -> None:
    """Draw a QR code with its quiet zone: one path, each run of dark modules one rectangle."""
    code = segno.make(address, error="m", micro=False)
    modules = code.symbol_size(border=QUIET_ZONE)[0]
    size = side / modules
    path = canvas.beginPath()
    for row, line in enumerate(code.matrix_iter(border=QUIET_ZONE)):
        column = 0
        for dark, run in groupby(line):
            length = len(list(run))
            if dark:
                path.rect(x + column * size, y + side - (row + 1) * size, length * size, size)
            column += length
    canvas.drawPath(path, stroke=0, fill=1)


def _fitted(text: str, face: str, size: float, width: float) -> tuple[list[str], float]:
    """The text in one line or two, and the size, at most `size`, at which it is no wider."""
    lines = [drawable(text)]
    if _size_for(lines, face, width) < min(LEAST_PT, size):
        lines = _halves(lines[0])
    return lines, min(size, _size_for(lines, face, width))


def _size_for(lines: list[str], face: str, width: float) -> float:
    return width / max(stringWidth(line, face, 1) for line in lines)


def _halves(text: str) -> list[str]:
    """Two lines, parted at the space nearest to the middle, or there."""
    middle = (len(text) + 1) // 2
    spaces = [place for place, sign in enumerate(text) if sign == " "]
    cut = min(spaces, key=lambda place: abs(place - middle), default=middle)
    return [text[:cut].rstrip(), text[cut:].lstrip()]
