"""Shares as lying bars, each with the range that it may truly have, as SVG that a strict page accepts.

Presentation attributes only. A bar is solid and its range a line with two ends below it, so that
neither needs its colour.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

__all__ = ["Share", "share_chart"]

WIDTH, LEFT, RIGHT = 380, 8, 372
TITLE_Y, TOP, ROW, BAR, FOOT = 16, 30, 48, 12, 26
INK, GRID, FILL, EMPTY = "#1d2a2e", "#dfe1da", "#0b5563", "#eceee9"


class Share(NamedTuple):
    """A part of a whole, from 0 to 1, with its bounds, and the words above its bar."""

    words: str
    share: float
    low: float
    high: float


def share_chart(title: str, description: str, shares: Sequence[Share]) -> str:
    """Return one bar a share as the text of an `<svg>` element; raises ValueError for none."""
    if not shares:
        raise ValueError("a chart of shares needs at least one share")
    foot = TOP + ROW * len(shares)
    parts = [*_axis(foot)]
    for number, share in enumerate(shares):
        parts += _row(share, TOP + ROW * number)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {foot + FOOT}"'
        f' width="{WIDTH}" height="{foot + FOOT}" role="img" font-family="sans-serif"'
        f' font-size="12" aria-label={quoteattr(title)}>'
        f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
        f'<text x="{LEFT}" y="{TITLE_Y}" fill="{INK}" font-size="14" font-weight="bold">'
        f"{escape(title)}</text>{''.join(parts)}</svg>"
    )


def _axis(foot: float) -> Iterator[str]:
    for percent in (0, 25, 50, 75, 100):
        x = _x(percent / 100)
        anchor = {0: "start", 100: "end"}.get(percent, "middle")
        yield f'<line x1="{x}" y1="{TOP}" x2="{x}" y2="{foot}" stroke="{GRID}"/>'
        yield (
            f'<text x="{x}" y="{foot + 16}" text-anchor="{anchor}" fill="{INK}">{percent} %</text>'
        )


def _row(share: Share, top: float) -> Iterator[str]:
    y, under = top + 20, top + 20 + BAR + 7
    low, high = _x(share.low), _x(share.high)
    yield f'<text x="{LEFT}" y="{top + 14}" fill="{INK}">{escape(share.words)}</text>'
    yield (
        f'<rect x="{LEFT}" y="{y}" width="{RIGHT - LEFT}" height="{BAR}" fill="{EMPTY}"/>'
        f'<rect x="{LEFT}" y="{y}" width="{_x(share.share) - LEFT:.1f}" height="{BAR}"'
        f' fill="{FILL}"/>'
    )
    line = f"M{low} {under - 4}v8M{low} {under}H{high}M{high} {under - 4}v8"
    yield f'<path d="{line}" fill="none" stroke="{INK}" stroke-width="1.6"/>'


def _x(share: float) -> float:
    return round(LEFT + share * (RIGHT - LEFT), 1)
