"""A curve of one number against another, with the band it is known to, as SVG.

Like the charts over time: presentation attributes only, words for those who hear it, nothing told by
colour alone.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from fleetcool.drawing import (
    BAND,
    GRID,
    LETTER,
    QUIET,
    SHAPES,
    SIGN,
    band_sign,
    limit_line,
    mark,
    round_steps,
    step_labels,
    text,
)

__all__ = ["Curve", "curve_chart"]

WIDTH, HEIGHT = 380, 264
LEFT, RIGHT, TOP, FOOT = 40, 368, 30, 188
TITLE_Y, X_TITLE_Y, LEGEND_Y, LEGEND_STEP, LEGEND_X = 16, 222, 240, 17, 8
SHAPE, COLOUR = SHAPES[0]


class Curve(NamedTuple):
    """What is drawn: y and its band against x, all of one length and in order of x.

    `asked` is the point asked about. `limit` is a value of y that matters. The words name, in the
    legend, the curve, its band, the point and the limit.
    """

    title: str
    x_title: str
    x: Sequence[float]
    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]
    asked: tuple[float, float]
    limit: float
    words: tuple[str, str, str, str]
    description: str = ""


def curve_chart(curve: Curve) -> str:
    """Return a curve as the text of an `<svg>` element; raises ValueError for less than two points."""
    if len(curve.x) < 2:
        raise ValueError("a curve needs at least two points")
    frame = _Frame(curve)
    rows = _legend_rows(curve.words)
    height = HEIGHT + LEGEND_STEP * (len(rows) - 1)
    parts = [
        *_band(curve, frame),
        *_axes(curve, frame),
        limit_line(LEFT, RIGHT, frame.y(curve.limit)),
        _line(zip(curve.x, curve.middle, strict=True), frame),
        mark(SHAPE, COLOUR, frame.x(curve.asked[0]), frame.y(curve.asked[1])),
        *_legend(rows),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}"'
        f' width="{WIDTH}" height="{height}" role="img" font-family="sans-serif" font-size="12"'
        f" aria-label={quoteattr(curve.title)}>"
        f"<title>{escape(curve.title)}</title><desc>{escape(curve.description)}</desc>"
        f"{text(LEGEND_X, TITLE_Y, curve.title, size=14, weight='bold')}{''.join(parts)}</svg>"
    )


class _Frame:
    """The way from numbers to places in the plot's rectangle. The values start at zero."""

    def __init__(self, curve: Curve) -> None:
        self.xs = round_steps(min(curve.x), max(curve.x))
        self.ys = round_steps(0, max(*curve.high, curve.limit, curve.asked[1]))

    def x(self, value: float) -> float:
        part = (value - self.xs[0]) / (self.xs[-1] - self.xs[0])
        return round(LEFT + part * (RIGHT - LEFT), 1)

    def y(self, value: float) -> float:
        part = (value - self.ys[0]) / (self.ys[-1] - self.ys[0])
        return round(FOOT - part * (FOOT - TOP), 1)


def _axes(curve: Curve, frame: _Frame) -> Iterator[str]:
    for value, label in zip(frame.ys, step_labels(frame.ys), strict=True):
        y = frame.y(value)
        yield f'<line x1="{LEFT}" y1="{y}" x2="{RIGHT}" y2="{y}" stroke="{GRID}"/>'
        yield text(LEFT - 6, y + 4, label, anchor="end")
    for value, label in zip(frame.xs, step_labels(frame.xs), strict=True):
        x = frame.x(value)
        yield f'<line x1="{x}" y1="{FOOT}" x2="{x}" y2="{FOOT + 5}" stroke="{QUIET}"/>'
        middle = min(x, WIDTH - len(label) * LETTER / 2)
        yield text(middle, FOOT + 18, label, anchor="middle")
    yield f'<path d="M{LEFT} {TOP}V{FOOT}H{RIGHT}" fill="none" stroke="{QUIET}"/>'
    yield text((LEFT + RIGHT) / 2, X_TITLE_Y, curve.x_title, anchor="middle", colour=QUIET)


def _band(curve: Curve, frame: _Frame) -> Iterator[str]:
    upper = [f"{frame.x(x)},{frame.y(y)}" for x, y in zip(curve.x, curve.high, strict=True)]
    lower = [f"{frame.x(x)},{frame.y(y)}" for x, y in zip(curve.x, curve.low, strict=True)]
    yield f'<polygon points="{" ".join([*upper, *reversed(lower)])}" fill="{BAND}"/>'
    # A printer may lose the tint, so its edges are drawn too.
    for edge in (upper, lower):
        yield (
            f'<polyline points="{" ".join(edge)}" fill="none" stroke="{QUIET}" stroke-width="0.6"/>'
        )


def _line(points, frame: _Frame) -> str:
    places = " ".join(f"{frame.x(x)},{frame.y(y)}" for x, y in points)
    return f'<polyline points="{places}" fill="none" stroke="{COLOUR}" stroke-width="1.8"/>'


def _signs(x: float, y: float) -> tuple[str, str, str, str]:
    """What stands in the legend for the curve, its band, the point and the limit."""
    return (
        f'<path d="M{x} {y - 4}h{SIGN}" fill="none" stroke="{COLOUR}" stroke-width="1.8"/>',
        "".join(band_sign(x, y)),
        mark(SHAPE, COLOUR, x + SIGN / 2, y - 4),
        limit_line(x, x + SIGN, y - 4),
    )


def _legend_rows(words: Sequence[str]) -> list[list[tuple[float, int, str]]]:
    """Each word with its place and the number of its sign, in as many rows as they need."""
    rows: list[list[tuple[float, int, str]]] = []
    x = float(WIDTH)
    for number, word in enumerate(words):
        width = SIGN + 4 + len(word) * LETTER
        if x + width > WIDTH:
            rows.append([])
            x = float(LEGEND_X)
        rows[-1].append((x, number, word))
        x += width + 2 * LETTER
    return rows


def _legend(rows: list[list[tuple[float, int, str]]]) -> Iterator[str]:
    for row, entries in enumerate(rows):
        y = LEGEND_Y + row * LEGEND_STEP
        for x, number, word in entries:
            yield _signs(x, y)[number]
            yield text(x + SIGN + 4, y, word)
