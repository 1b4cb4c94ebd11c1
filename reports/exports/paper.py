"""What all our papers share: faces, styles, tables, the code to scan, head and foot of each page."""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from os import PathLike
from pathlib import Path
from typing import IO
from xml.sax.saxutils import escape

import reportlab
import segno
from django.utils.formats import date_format
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from reportlab.graphics.shapes import Drawing, Rect
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Table, TableStyle
from svglib.fonts import register_font

from fleetcool.models import UnitSystem

__all__ = [
    "BOLD",
    "GAP_PT",
    "INK",
    "LINE",
    "QR_PT",
    "REGULAR",
    "TINT",
    "Paper",
    "Styles",
    "beside",
    "boxed",
    "drawable",
    "facts",
    "grid",
    "listing",
    "paragraph",
    "qr_drawing",
    "register_faces",
    "styles",
]

# Reportlab brings these faces along, so a paper looks the same on a machine with no fonts at all.
REGULAR, BOLD = "Vera", "VeraBd"
MARGIN_PT, FOOTER_PT, GAP_PT, QR_PT = 36, 24, 6, 78
# What reportlab keeps free inside its page frame.
FRAME_PT = 6
INK, QUIET, LINE, TINT = (HexColor(c) for c in ("#1d2a2e", "#51626a", "#b8c4c8", "#e3eef0"))
QUIET_ZONE = 4
FOOT_PT = 7


@dataclass(frozen=True)
class Styles:
    """How the kinds of text of a paper look."""

    text: ParagraphStyle
    label: ParagraphStyle
    strong: ParagraphStyle
    heading: ParagraphStyle
    title: ParagraphStyle
    small: ParagraphStyle


def styles(size_pt: float) -> Styles:
    """Return the styles of a paper whose plain text has this size."""
    sized = partial(_style, REGULAR)
    bold = partial(_style, BOLD)
    return Styles(
        text=sized(size_pt, INK),
        label=sized(size_pt, QUIET),
        strong=bold(size_pt, INK),
        heading=bold(1.2 * size_pt, INK, spaceBefore=4, spaceAfter=2),
        title=bold(20, INK),
        small=sized(max(FOOT_PT, 0.88 * size_pt), QUIET),
    )


def _style(face: str, size_pt: float, colour: HexColor, **spaces: float) -> ParagraphStyle:
    return ParagraphStyle(
        "own", fontName=face, fontSize=size_pt, leading=1.24 * size_pt, textColor=colour, **spaces
    )


@dataclass(frozen=True)
class Paper:
    """One PDF: Letter with US units, else A4.

    Every page has the day of printing and its number at its foot, and from the second page on the
    title at its head. `across` stands in large letters over each page. The same content gives the
    same bytes.
    """

    title: str
    subject: str
    unit_system: str
    printed_on: date
    across: str = ""

    @property
    def pagesize(self) -> tuple[float, float]:
        return LETTER if self.unit_system == UnitSystem.US else A4

    @property
    def width(self) -> float:
        """How wide the content of a page may be, in points."""
        return self.pagesize[0] - 2 * (MARGIN_PT + FRAME_PT)

    @property
    def height(self) -> float:
        return self.pagesize[1] - 2 * MARGIN_PT - FOOTER_PT

    def write(self, target: str | PathLike | IO[bytes], story: list[Flowable]) -> None:
        register_faces()
        document = SimpleDocTemplate(
            str(target) if isinstance(target, PathLike) else target,
            pagesize=self.pagesize,
            leftMargin=MARGIN_PT,
            rightMargin=MARGIN_PT,
            topMargin=MARGIN_PT - FRAME_PT,
            bottomMargin=MARGIN_PT + FOOTER_PT - FRAME_PT,
            title=self.title,
            author="Fleetcool",
            subject=self.subject,
            lang=get_language() or "en",
            initialFontName=REGULAR,
            invariant=1,
        )
        document.build(story, canvasmaker=partial(_NumberedCanvas, paper=self))

    def draw_frame(self, canvas: Canvas, page: int, pages: int) -> None:
        """Draw what stands on a page outside its content."""
        left = MARGIN_PT + FRAME_PT
        right = self.pagesize[0] - left
        canvas.setFont(REGULAR, FOOT_PT)
        canvas.setFillColor(QUIET)
        printed = _("Printed on %s") % date_format(self.printed_on, "Y-m-d")
        counted = _("Page %(page)d of %(pages)d") % {"page": page, "pages": pages}
        canvas.drawString(left, MARGIN_PT, drawable(printed))
        canvas.drawRightString(right, MARGIN_PT, drawable(counted))
        if page > 1:
            canvas.drawString(left, self.pagesize[1] - MARGIN_PT + FRAME_PT, drawable(self.title))
        if self.across:
            self._draw_across(canvas)

    def _draw_across(self, canvas: Canvas) -> None:
        width, height = self.pagesize
        text = drawable(self.across)
        size = 0.8 * width / pdfmetrics.stringWidth(text, BOLD, 1)
        canvas.saveState()
        canvas.translate(width / 2, height / 2)
        canvas.rotate(45)
        canvas.setFont(BOLD, size)
        canvas.setFillColor(INK, alpha=0.3)
        canvas.drawCentredString(0, -size / 3, text)
        canvas.restoreState()


class _NumberedCanvas(Canvas):
    """Keeps the pages until the last, because only then their number is known."""

    def __init__(self, *args, paper: Paper, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self._paper, self._kept = paper, []

    def showPage(self) -> None:
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._kept, start=1):
            self.__dict__.update(page)
            self._paper.draw_frame(self, number, len(self._kept))
            super().showPage()
        super().save()


def qr_drawing(address: str, side_pt: float) -> Drawing:
    """Return a QR code as vectors, with the quiet zone that scanners need around it."""
    code = segno.make(address, error="m", micro=False)
    modules = code.symbol_size(border=QUIET_ZONE)[0]
    size = side_pt / modules
    drawing = Drawing(side_pt, side_pt)
    for row, line in enumerate(code.matrix):
        for column, dark in enumerate(line):
            if dark:
                x, y = column + QUIET_ZONE, modules - QUIET_ZONE - row - 1
                drawing.add(Rect(x * size, y * size, size, size, strokeWidth=0, strokeColor=None))
    return drawing


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(drawable(str(text))), style)


def drawable(text: str) -> str:
    """The text in letters that the face has: an accent it lacks is dropped, another sign is `?`."""
    register_faces()
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    return "".join(sign if ord(sign) in known else _nearest(sign, known) for sign in text)


def facts(pairs: Sequence[tuple[str, str]], width: float, look: Styles) -> Table:
    """Return labels with their facts, one pair a line."""
    rows = [
        [paragraph(label, look.label), paragraph(text or "–", look.text)] for label, text in pairs
    ]
    return grid(rows, [0.36 * width, 0.64 * width])


def listing(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    width: float,
    look: Styles,
    *,
    parts: Sequence[float],
    more: int = 0,
) -> Table:
    """Return a table whose columns share the width in these parts, its header on every page.

    `more` rows that are not shown are told of in the last line.
    """
    widths = [width * part / sum(parts) for part in parts]
    told = [[paragraph(text, look.strong) for text in header]]
    told += [[paragraph(text, look.text) for text in row] for row in rows]
    if more:
        words = paragraph(_("and %(n)d more") % {"n": more}, look.label)
        told.append([words, *[""] * (len(parts) - 1)])
    table = grid(told, widths, repeat_rows=1)
    table.setStyle(
        TableStyle(
            [
                ("BACKGROUND", (0, 0), (-1, 0), TINT),
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE),
                ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
            ]
        )
    )
    return table


def boxed(flowables: Sequence[Flowable], width: float) -> Table:
    """Return what must not be overlooked, in a frame."""
    table = grid([[flowable] for flowable in flowables], [width], padding=4)
    table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 1.2, INK)]))
    table.spaceAfter = GAP_PT
    return table


def beside(left, right, half: float) -> Table:
    """Return two columns of this width, each a flowable or a list of them."""
    return grid([[left, "", right]], [half, 2 * GAP_PT, half], padding=0)


def grid(
    rows: list[list], widths: Sequence[float], padding: float = 2, repeat_rows: int = 0
) -> Table:
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), padding),
            ("RIGHTPADDING", (0, 0), (-1, -1), padding),
            ("TOPPADDING", (0, 0), (-1, -1), padding / 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), padding / 2),
        ]
    )
    return Table(rows, colWidths=widths, style=style, hAlign="LEFT", repeatRows=repeat_rows)


def register_faces() -> None:
    """Make the faces known to reportlab and, under the same family, to the charts' SVG reader."""
    folder = Path(reportlab.__file__).parent / "fonts"
    for name, weight in ((REGULAR, "normal"), (BOLD, "bold")):
        if name not in pdfmetrics.getRegisteredFontNames():
            register_font(REGULAR, str(folder / f"{name}.ttf"), weight, rlgFontName=name)


def _nearest(sign: str, known: dict[int, int]) -> str:
    if sign.isspace():
        return " "
    parts = unicodedata.normalize("NFKD", sign)
    kept = (part for part in parts if ord(part) in known and not unicodedata.combining(part))
    return "".join(kept) or "?"
