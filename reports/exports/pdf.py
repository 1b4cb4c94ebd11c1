"""The unit card as one page of PDF, with the way to the unit's own page as a QR code."""

import unicodedata
from collections.abc import Sequence
from datetime import date
from io import BytesIO
from os import PathLike
from pathlib import Path
from typing import IO
from xml.sax.saxutils import escape

import reportlab
import segno
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from reportlab.graphics.shapes import Drawing, Rect
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.platypus import (
    Flowable,
    KeepInFrame,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)
from svglib.fonts import register_font
from svglib.svglib import svg2rlg

from fleetcool.models import UnitSystem
from installs.models import Unit
from reports.exports.card import Listing, Note, UnitCard, card_of

__all__ = ["qr_drawing", "write_unit_card"]

# Reportlab brings these faces along, so a card looks the same on a machine with no fonts at all.
REGULAR, BOLD = "Vera", "VeraBd"
MARGIN_PT, FOOTER_PT, GAP_PT, QR_PT = 36, 24, 6, 78
# What reportlab keeps free inside its page frame.
FRAME_PT = 6
INK, QUIET, LINE, TINT = (HexColor(c) for c in ("#1d2a2e", "#51626a", "#b8c4c8", "#e3eef0"))
QUIET_ZONE = 4

TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=7.9, leading=9.8, textColor=INK)
LABEL = ParagraphStyle("label", TEXT, textColor=QUIET)
STRONG = ParagraphStyle("strong", TEXT, fontName=BOLD)
HEADING = ParagraphStyle("heading", STRONG, fontSize=9.5, leading=12, spaceBefore=4, spaceAfter=2)
TITLE = ParagraphStyle("title", STRONG, fontSize=20, leading=24)
SMALL = ParagraphStyle("small", LABEL, fontSize=7, leading=8.8)


def write_unit_card(
    target: str | PathLike | IO[bytes], unit: Unit, user, *, printed_on: date | None = None
) -> None:
    """Write the card of a unit that a person sees: one page, Letter with US units, else A4.

    The same records give the same bytes on the same day (`printed_on`, today if not given).
    """
    printed_on = printed_on or timezone.localdate()
    _register_faces()
    card = card_of(unit, user, printed_on, chart_font=REGULAR)
    document = SimpleDocTemplate(
        str(target) if isinstance(target, PathLike) else target,
        pagesize=LETTER if user.unit_system == UnitSystem.US else A4,
        leftMargin=MARGIN_PT,
        rightMargin=MARGIN_PT,
        topMargin=MARGIN_PT - FRAME_PT,
        bottomMargin=MARGIN_PT + FOOTER_PT - FRAME_PT,
        title=_("Unit card %(serial)s") % {"serial": card.serial},
        author="Fleetcool",
        subject=_("%(model)s, serial %(serial)s") % {"model": card.model, "serial": card.serial},
        lang=get_language() or "en",
        initialFontName=REGULAR,
        invariant=1,
    )
    width, height = document.width - 2 * FRAME_PT, document.height - 2 * FRAME_PT
    page = KeepInFrame(width, height, _story(card, width), mode="shrink")

    def footer(canvas, _document) -> None:
        _draw_footer(canvas, document, printed_on)

    document.build([page], onFirstPage=footer)


def qr_drawing(address: str, side_pt: float) -> Drawing:
    """A QR code as vectors, with the quiet zone that scanners need around it."""
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


def _story(card: UnitCard, width: float) -> list[Flowable]:
    half = (width - 2 * GAP_PT) / 2
    cover = card.cover
    if not cover.rows:
        cover = Listing(cover.header, [(_("ask the shop"), "–", "–")])
    covered = _listing(cover, half, parts=(4.4, 4, 3))
    moved = [
        _listing(card.movements, half, parts=(3.4, 6, 2)),
        _paragraph(_("Added in service: %s") % card.added, TEXT),
    ]
    first, *second = _charts(card.charts, half)
    if second:
        pictured = [_beside(first, second, half), Spacer(0, GAP_PT), _beside(covered, moved, half)]
    else:
        pictured = [_beside(first, [covered, Spacer(0, GAP_PT), *moved], half)]
    return [
        _head(card, width),
        _boxed([_paragraph(text, STRONG) for text in card.cautions], width),
        _beside(_facts(card.nameplate, half), _facts(card.place, half), half),
        _paragraph(card.screening, HEADING),
        *(flowable for note in card.findings for flowable in _finding(note)),
        *_and_more(card.more_findings),
        Spacer(0, GAP_PT),
        *pictured,
        Spacer(0, GAP_PT),
        _listing(card.readings, width, parts=(4, 5, 3.2, 3, 3, 3, 3.6, 2.5, 3, 2.5)),
        Spacer(0, GAP_PT),
        _paragraph(
            _(
                "A reading with the unit standing shows the air's temperature, not the charge. "
                "Local codes, the maker's instructions and licensed practice come before this "
                "page, which records and computes, and certifies no one."
            ),
            SMALL,
        ),
    ]


def _head(card: UnitCard, width: float) -> Table:
    words = [
        _paragraph(_("Unit card"), LABEL),
        _paragraph(card.serial, TITLE),
        _paragraph(card.model, STRONG),
        Spacer(0, GAP_PT),
        _paragraph(_("The code opens this unit's page: %s") % card.address, SMALL),
    ]
    return _grid([[words, qr_drawing(card.address, QR_PT)]], [width - QR_PT, QR_PT])


def _finding(note: Note) -> list[Flowable]:
    return [
        _paragraph(note.head, STRONG),
        _paragraph(note.why, TEXT),
        _paragraph(_("What to do: %s") % note.action, TEXT),
        _paragraph(_("Caution: %s") % note.caution, STRONG),
        Spacer(0, GAP_PT / 2),
    ]


def _facts(facts: Sequence[tuple[str, str]], width: float) -> Table:
    rows = [[_paragraph(label, LABEL), _paragraph(text or "–", TEXT)] for label, text in facts]
    return _grid(rows, [0.36 * width, 0.64 * width])


def _charts(charts: Sequence[str], width: float) -> list[Flowable]:
    if not charts:
        return [_paragraph(_("No pressures were taken with the unit running, so no chart."), LABEL)]
    return [_drawing(svg, width) for svg in charts]


def _drawing(svg: str, width: float) -> Drawing:
    drawing = svg2rlg(BytesIO(svg.encode()))
    scale = width / drawing.width
    drawing.scale(scale, scale)
    drawing.width, drawing.height = width, scale * drawing.height
    return drawing


def _listing(listing: Listing, width: float, *, parts: Sequence[float]) -> Table:
    """A short table whose columns share the width in these parts."""
    widths = [width * part / sum(parts) for part in parts]
    rows = [[_paragraph(text, STRONG) for text in listing.header]]
    rows += [[_paragraph(text, TEXT) for text in row] for row in listing.rows]
    rows += [[flowable, *[""] * (len(parts) - 1)] for flowable in _and_more(listing.more)]
    table = _grid(rows, widths)
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


def _and_more(count: int) -> list[Flowable]:
    return [_paragraph(_("and %(n)d more") % {"n": count}, LABEL)] if count else []


def _boxed(flowables: list[Flowable], width: float) -> Table:
    table = _grid([[flowable] for flowable in flowables], [width], padding=4)
    table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 1.2, INK)]))
    table.spaceAfter = GAP_PT
    return table


def _beside(left, right, half: float) -> Table:
    return _grid([[left, "", right]], [half, 2 * GAP_PT, half], padding=0)


def _grid(rows: list[list], widths: list[float], padding: float = 2) -> Table:
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), padding),
            ("RIGHTPADDING", (0, 0), (-1, -1), padding),
            ("TOPPADDING", (0, 0), (-1, -1), padding / 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), padding / 2),
        ]
    )
    return Table(rows, colWidths=widths, style=style, hAlign="LEFT")


def _draw_footer(canvas, document: SimpleDocTemplate, printed_on: date) -> None:
    canvas.setFont(REGULAR, SMALL.fontSize)
    canvas.setFillColor(QUIET)
    left = MARGIN_PT + FRAME_PT
    right = document.pagesize[0] - left
    printed = _("Printed on %s") % date_format(printed_on, "Y-m-d")
    canvas.drawString(left, MARGIN_PT, _drawable(printed))
    canvas.drawRightString(right, MARGIN_PT, _drawable(_("Page 1 of 1")))


def _paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(_drawable(str(text))), style)


def _drawable(text: str) -> str:
    """The text in letters that the face has: an accent it lacks is dropped, another sign is `?`."""
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    return "".join(sign if ord(sign) in known else _nearest(sign, known) for sign in text)


def _nearest(sign: str, known: dict[int, int]) -> str:
    if sign.isspace():
        return " "
    parts = unicodedata.normalize("NFKD", sign)
    kept = (part for part in parts if ord(part) in known and not unicodedata.combining(part))
    return "".join(kept) or "?"


def _register_faces() -> None:
    """Make the faces known to reportlab and, under the same family, to the charts' SVG reader."""
    folder = Path(reportlab.__file__).parent / "fonts"
    for name, weight in ((REGULAR, "normal"), (BOLD, "bold")):
        if name not in pdfmetrics.getRegisteredFontNames():
            register_font(REGULAR, str(folder / f"{name}.ttf"), weight, rlgFontName=name)
