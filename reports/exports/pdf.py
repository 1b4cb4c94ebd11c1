"""The unit card as one page of PDF, with the way to the unit's own page as a QR code."""

from collections.abc import Sequence
from datetime import date
from io import BytesIO
from os import PathLike
from typing import IO

from django.utils import timezone
from django.utils.translation import gettext as _
from reportlab.graphics.shapes import Drawing
from reportlab.platypus import Flowable, KeepInFrame, Spacer, Table
from svglib.svglib import svg2rlg

from installs.models import Unit
from reports.exports.card import Listing, Note, UnitCard, card_of
from reports.exports.paper import (
    GAP_PT,
    QR_PT,
    REGULAR,
    Paper,
    beside,
    boxed,
    facts,
    grid,
    listing,
    paragraph,
    qr_drawing,
    register_faces,
    styles,
)

__all__ = ["write_unit_card"]

LOOK = styles(7.9)


def write_unit_card(
    target: str | PathLike | IO[bytes], unit: Unit, user, *, printed_on: date | None = None
) -> None:
    """Write the card of a unit that a person sees: one page, Letter with US units, else A4.

    The same records give the same bytes on the same day (`printed_on`, today if not given).
    """
    printed_on = printed_on or timezone.localdate()
    # The charts measure their words in the face that the page has.
    register_faces()
    card = card_of(unit, user, printed_on, chart_font=REGULAR)
    paper = Paper(
        title=_("Unit card %(serial)s") % {"serial": card.serial},
        subject=_("%(model)s, serial %(serial)s") % {"model": card.model, "serial": card.serial},
        unit_system=user.unit_system,
        printed_on=printed_on,
    )
    story = _story(card, paper.width)
    paper.write(target, [KeepInFrame(paper.width, paper.height, story, mode="shrink")])


def _story(card: UnitCard, width: float) -> list[Flowable]:
    half = (width - 2 * GAP_PT) / 2
    cover = card.cover
    if not cover.rows:
        cover = Listing(cover.header, [(_("ask the shop"), "–", "–")])
    covered = _listing(cover, half, parts=(4.4, 4, 3))
    moved = [
        _listing(card.movements, half, parts=(3.4, 6, 2)),
        paragraph(_("Added in service: %s") % card.added, LOOK.text),
    ]
    first, *second = _charts(card.charts, half)
    if second:
        pictured = [beside(first, second, half), Spacer(0, GAP_PT), beside(covered, moved, half)]
    else:
        pictured = [beside(first, [covered, Spacer(0, GAP_PT), *moved], half)]
    return [
        _head(card, width),
        boxed([paragraph(text, LOOK.strong) for text in card.cautions], width),
        beside(facts(card.nameplate, half, LOOK), facts(card.place, half, LOOK), half),
        paragraph(card.screening, LOOK.heading),
        *(flowable for note in card.findings for flowable in _finding(note)),
        *_and_more(card.more_findings),
        Spacer(0, GAP_PT),
        *pictured,
        Spacer(0, GAP_PT),
        _listing(card.readings, width, parts=(4, 5, 3.2, 3, 3, 3, 3.6, 2.5, 3, 2.5)),
        Spacer(0, GAP_PT),
        paragraph(
            _(
                "A reading with the unit standing shows the air's temperature, not the charge. "
                "Local codes, the maker's instructions and licensed practice come before this "
                "page, which records and computes, and certifies no one."
            ),
            LOOK.small,
        ),
    ]


def _head(card: UnitCard, width: float) -> Table:
    words = [
        paragraph(_("Unit card"), LOOK.label),
        paragraph(card.serial, LOOK.title),
        paragraph(card.model, LOOK.strong),
        Spacer(0, GAP_PT),
        paragraph(_("The code opens this unit's page: %s") % card.address, LOOK.small),
    ]
    return grid([[words, qr_drawing(card.address, QR_PT)]], [width - QR_PT, QR_PT])


def _finding(note: Note) -> list[Flowable]:
    return [
        paragraph(note.head, LOOK.strong),
        paragraph(note.why, LOOK.text),
        paragraph(_("What to do: %s") % note.action, LOOK.text),
        paragraph(_("Caution: %s") % note.caution, LOOK.strong),
        Spacer(0, GAP_PT / 2),
    ]


def _charts(charts: Sequence[str], width: float) -> list[Flowable]:
    if not charts:
        return [
            paragraph(_("No pressures were taken with the unit running, so no chart."), LOOK.label)
        ]
    return [_drawing(svg, width) for svg in charts]


def _drawing(svg: str, width: float) -> Drawing:
    drawing = svg2rlg(BytesIO(svg.encode()))
    scale = width / drawing.width
    drawing.scale(scale, scale)
    drawing.width, drawing.height = width, scale * drawing.height
    return drawing


def _listing(of: Listing, width: float, *, parts: Sequence[float]) -> Table:
    return listing(of.header, of.rows, width, LOOK, parts=parts, more=of.more)


def _and_more(count: int) -> list[Flowable]:
    return [paragraph(_("and %(n)d more") % {"n": count}, LOOK.label)] if count else []
