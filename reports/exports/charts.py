"""One kind of picture: values over time, as SVG that a strict page and a printed page both accept.

Presentation attributes only, no `style=`, no script, no fonts to fetch; svglib draws the same text
into a PDF. Series differ by the shape of their marks, not only by colour.
"""

import math
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

__all__ = ["Band", "Epoch", "Series", "time_chart"]

WIDTH, HEIGHT = 380, 250
LEFT, RIGHT, BOTTOM = 44, 8, 32
TITLE_Y, EPOCH_Y, EPOCH_STEP, EPOCH_ROWS = 16, 33, 13, 3
LEGEND_STEP = 18
# About the width of a letter at 12 units, enough to keep two words from running into each other.
LETTER = 6.2
INK, QUIET, GRID, BAND = "#1d2a2e", "#51626a", "#dfe1da", "#d7e8eb"
SHAPES = (("circle", "#0b5563"), ("square", "#8a4b00"), ("triangle", "#5b3f8c"))
MONTHS_BETWEEN = (1, 2, 3, 6, 12, 24, 60, 120)


class Series(NamedTuple):
    """A named line of `points`, (when, value), in order of time; the values in the chart's unit."""

    name: str
    points: Sequence[tuple[datetime, float]]


class Epoch(NamedTuple):
    """A day on which a series begins anew, and the word that says why."""

    day: date
    word: str


class Band(NamedTuple):
    """A range of values to compare with, and the word for it; of equal ends it is a line."""

    low: float
    high: float
    word: str


def time_chart(
    title: str,
    unit: str,
    series: Sequence[Series],
    *,
    epochs: Sequence[Epoch] = (),
    band: Band | None = None,
    description: str = "",
    font: str = "sans-serif",
) -> str:
    """Return one chart as the text of an `<svg>` element.

    Up to three series share the axes. Raises ValueError when there is no point at all.
    """
    points = [point for line in series for point in line.points]
    if not points:
        raise ValueError("a chart needs at least one point")
    if len(series) > len(SHAPES):
        raise ValueError(f"a chart has marks for {len(SHAPES)} series, not for {len(series)}")
    bounds = (band.low, band.high) if band else ()
    legend = LEGEND_STEP if len(series) > 1 or band else 0
    frame = _Frame(
        [_days(when) for when, _ in points] + [_days(epoch.day) for epoch in epochs],
        [value for _, value in points] + list(bounds),
        top=EPOCH_Y + EPOCH_STEP * min(len(epochs), EPOCH_ROWS) - 4,
        foot=HEIGHT - BOTTOM - legend,
    )
    parts = [
        *_band(band, frame),
        *_axes(frame),
        *_epochs(epochs, frame),
        *(
            part
            for line, look in zip(series, SHAPES, strict=False)
            for part in _line(line, look, frame)
        ),
        *(_legend(series, band) if legend else ()),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}"'
        f' height="{HEIGHT}" role="img" font-family={quoteattr(font)} font-size="12"'
        f" aria-label={quoteattr(title)}>"
        f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
        f"{_text(LEFT, TITLE_Y, f'{title}, {unit}', size=14, weight='bold')}{''.join(parts)}</svg>"
    )


class _Frame:
    """The plot's rectangle, and the way from days and values to places in it."""

    def __init__(self, days: list[float], values: list[float], top: float, foot: float) -> None:
        self.top, self.foot = top, foot
        self.left, self.right = LEFT, WIDTH - RIGHT
        margin = max(0.03 * (max(days) - min(days)), 10)
        self.first, self.last = min(days) - margin, max(days) + margin
        self.values = _round_steps(min(values), max(values))
        self.low, self.high = self.values[0], self.values[-1]

    def x(self, days: float) -> float:
        part = (days - self.first) / (self.last - self.first)
        return round(self.left + part * (self.right - self.left), 1)

    def y(self, value: float) -> float:
        part = (value - self.low) / (self.high - self.low)
        return round(self.foot - part * (self.foot - self.top), 1)


def _axes(frame: _Frame) -> Iterator[str]:
    decimals = max(0, -math.floor(math.log10(frame.values[1] - frame.values[0]) + 1e-9))
    for value in frame.values:
        y = frame.y(value)
        yield f'<line x1="{frame.left}" y1="{y}" x2="{frame.right}" y2="{y}" stroke="{GRID}"/>'
        label = f"{value:.{decimals}f}".replace("-", "−")
        yield _text(frame.left - 6, y + 4, label, anchor="end")
    for days, label in _months(frame.first, frame.last):
        x = frame.x(days)
        yield (
            f'<line x1="{x}" y1="{frame.foot}" x2="{x}" y2="{frame.foot + 5}" stroke="{QUIET}"/>'
        )
        yield _text(x, frame.foot + 19, label, anchor="middle")
    yield (
        f'<path d="M{frame.left} {frame.top}V{frame.foot}H{frame.right}" fill="none"'
        f' stroke="{QUIET}"/>'
    )


def _band(band: Band | None, frame: _Frame) -> Iterator[str]:
    if band is None:
        return
    top, foot = frame.y(band.high), frame.y(band.low)
    yield (
        f'<rect x="{frame.left}" y="{top}" width="{frame.right - frame.left}"'
        f' height="{max(foot - top, 2):.1f}" fill="{BAND}"/>'
    )


def _epochs(epochs: Sequence[Epoch], frame: _Frame) -> Iterator[str]:
    free_from = [frame.left - 1.0] * EPOCH_ROWS
    for day, word in sorted(epochs):
        x = frame.x(_days(day))
        yield (
            f'<line x1="{x}" y1="{frame.top}" x2="{x}" y2="{frame.foot}" stroke="{QUIET}"'
            f' stroke-dasharray="4 3"/>'
        )
        width = len(word) * LETTER
        start = min(x, frame.right - width)
        row = next((row for row, free in enumerate(free_from) if start >= free), None)
        # Where no row is free the line stays; its word stands in the table beside the picture.
        if row is not None:
            free_from[row] = start + width + LETTER
            yield _text(start, EPOCH_Y + row * EPOCH_STEP, word, colour=QUIET, size=11)


def _line(line: Series, look: tuple[str, str], frame: _Frame) -> Iterator[str]:
    shape, colour = look
    places = [(frame.x(_days(when)), frame.y(value)) for when, value in line.points]
    path = " ".join(f"{x},{y}" for x, y in places)
    yield f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-opacity="0.45"/>'
    for x, y in places:
        yield _mark(shape, colour, x, y)


def _mark(shape: str, colour: str, x: float, y: float) -> str:
    if shape == "circle":
        return f'<circle cx="{x}" cy="{y}" r="3.5" fill="{colour}"/>'
    if shape == "square":
        return f'<rect x="{x - 3.5:.1f}" y="{y - 3.5:.1f}" width="7" height="7" fill="{colour}"/>'
    corners = f"{x},{y - 4.5:.1f} {x - 4.5:.1f},{y + 3.5:.1f} {x + 4.5:.1f},{y + 3.5:.1f}"
    return f'<polygon points="{corners}" fill="{colour}"/>'


def _legend(series: Sequence[Series], band: Band | None) -> Iterator[str]:
    x, y = LEFT + 4.0, HEIGHT - 8
    if band:
        yield f'<rect x="{x - 4:.1f}" y="{y - 9}" width="14" height="10" fill="{BAND}"/>'
        yield _text(x + 14, y, band.word)
        x += 24 + (len(band.word) + 1) * LETTER
    if len(series) == 1:
        return
    for line, (shape, colour) in zip(series, SHAPES, strict=False):
        yield _mark(shape, colour, x, y - 4)
        yield _text(x + 9, y, line.name)
        x += 9 + (len(line.name) + 3) * LETTER


def _text(
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    colour: str = INK,
    size: int = 12,
    weight: str = "normal",
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}"'
        f' font-size="{size}" font-weight="{weight}">{escape(words)}</text>'
    )


def _days(when: date) -> float:
    """Days since the first day of our era; a moment counts by its own clock."""
    if isinstance(when, datetime):
        return when.toordinal() + when.hour / 24 + when.minute / 1440
    return float(when.toordinal())


def _round_steps(low: float, high: float, most: int = 5) -> list[float]:
    """Values at even round steps that enclose low and high, at most `most` steps of them."""
    span = (high - low) or abs(high) * 0.1 or 1.0
    raw = span / (most - 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(size * power for size in (1, 2, 2.5, 5, 10) if size * power >= raw)
    first = math.floor(low / step)
    last = max(math.ceil(high / step), first + 1)
    return [number * step for number in range(first, last + 1)]


def _months(first: float, last: float, most: int = 5) -> list[tuple[float, str]]:
    """The firsts of months at even steps between two days, each with its label `2025-07`."""
    start, end = date.fromordinal(math.ceil(first)), date.fromordinal(math.floor(last))
    # Months since year 0, so that a step of 3 falls on quarters and one of 12 on Januaries.
    months = range(start.year * 12 + start.month - (start.day == 1), end.year * 12 + end.month)
    step = next((step for step in MONTHS_BETWEEN if len(months) / step <= most), MONTHS_BETWEEN[-1])
    firsts = [date(month // 12, month % 12 + 1, 1) for month in months if month % step == 0]
    return [(float(day.toordinal()), f"{day:%Y-%m}") for day in firsts]
