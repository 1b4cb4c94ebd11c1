"""A chart as SVG that a strict page and a printed page both accept.

Presentation attributes only, no `style=`, no script, no fonts to fetch; svglib draws the same text
into a PDF. What a mark means is told by its shape and its word, never by its colour alone.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from fleetcool.drawing import (
    BAND,
    GRID,
    INK,
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
from reports.exports.charts import Band, Chart, Epoch, Path, Series, Whisker

__all__ = ["time_chart"]

WIDTH, HEIGHT = 380, 250
LEFT, RIGHT, BOTTOM = 44, 8, 32
TITLE_Y, EPOCH_Y, EPOCH_STEP, EPOCH_ROWS = 16, 33, 13, 4
LEGEND_X, LEGEND_STEP = 8, 17
MONTHS_BETWEEN = (1, 2, 3, 6, 12, 24, 60, 120)
# What gets its word first where words are many.
RANK = {"onset": 0, "added": 1, "break": 1, "now": 2, "tool": 3}
LINE = {
    "break": 'stroke-dasharray="4 3"',
    "added": 'stroke-dasharray="4 3"',
    "tool": 'stroke-dasharray="1 3"',
    "onset": 'stroke-width="2.5" stroke-dasharray="1.5 2.5"',
    "now": "",
}


class _Entry(NamedTuple):
    """One thing in the legend: how its sign is drawn at a place, and its word."""

    sign: Callable[[float, float], Iterator[str]]
    word: str


def time_chart(chart: Chart, *, font: str = "sans-serif") -> str:
    """Return a chart as the text of an `<svg>` element."""
    legend = _legend_rows(list(_legend(chart)))
    frame = _Frame(chart, legend_rows=len(legend))
    parts = [
        *(part for band in chart.bands for part in _band(band, frame)),
        *_axes(frame),
        *_epochs(chart.epochs, frame),
        *_limit(chart, frame),
        *(part for path in chart.paths for part in _path(path, frame)),
        *(
            part
            for line, look in zip(chart.series, SHAPES, strict=False)
            for part in _line(line, look, frame)
        ),
        *_whisker(chart.whisker, frame),
        *_drawn_legend(legend),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {frame.height}"'
        f' width="{WIDTH}" height="{frame.height}" role="img" font-family={quoteattr(font)}'
        f' font-size="12" aria-label={quoteattr(chart.title)}>'
        f"<title>{escape(chart.title)}</title><desc>{escape(chart.description)}</desc>"
        f"{text(LEFT, TITLE_Y, f'{chart.title}, {chart.unit}', size=14, weight='bold')}"
        f"{''.join(parts)}</svg>"
    )


class _Frame:
    """The plot's rectangle, and the way from days and values to places in it."""

    def __init__(self, chart: Chart, legend_rows: int) -> None:
        lines = (*chart.series, *chart.paths)
        days = [_days(when) for line in lines for when, _value in line.points]
        days += [_days(epoch.day) for epoch in chart.epochs]
        values = [value for line in lines for _when, value in line.points]
        values += [end for band in chart.bands for end in (band.low, band.high)]
        values += [chart.limit.value] if chart.limit else []
        if chart.whisker:
            days += [_days(chart.whisker.low), _days(chart.whisker.high)]
            values.append(chart.whisker.value)
            # Room for the whisker's ends off the axis.
            margin = (max(values) - min(values)) / 12
            values += [chart.whisker.value - margin, chart.whisker.value + margin]
        self.left, self.right = LEFT, WIDTH - RIGHT
        margin = max(0.03 * (max(days) - min(days)), 10)
        self.first, self.last = min(days) - margin, max(days) + margin
        self.values = round_steps(min(values), max(values))
        self.low, self.high = self.values[0], self.values[-1]
        self.words = list(_epoch_words(chart.epochs, self))
        self.top = EPOCH_Y + EPOCH_STEP * (1 + max((row for *_, row in self.words), default=-1)) - 4
        # A first row of legend has its place in the height; each further one adds to it.
        self.height = HEIGHT + LEGEND_STEP * max(legend_rows - 1, 0)
        self.foot = HEIGHT - BOTTOM - (LEGEND_STEP + 1 if legend_rows else 0)

    def x(self, days: float) -> float:
        part = (days - self.first) / (self.last - self.first)
        return round(self.left + part * (self.right - self.left), 1)

    def y(self, value: float) -> float:
        part = (value - self.low) / (self.high - self.low)
        return round(self.foot - part * (self.foot - self.top), 1)


def _axes(frame: _Frame) -> Iterator[str]:
    for value, label in zip(frame.values, step_labels(frame.values), strict=True):
        y = frame.y(value)
        yield f'<line x1="{frame.left}" y1="{y}" x2="{frame.right}" y2="{y}" stroke="{GRID}"/>'
        yield text(frame.left - 6, y + 4, label, anchor="end")
    for days, label in _months(frame.first, frame.last):
        x = frame.x(days)
        yield (
            f'<line x1="{x}" y1="{frame.foot}" x2="{x}" y2="{frame.foot + 5}" stroke="{QUIET}"/>'
        )
        middle = min(x, WIDTH - len(label) * LETTER / 2)
        yield text(middle, frame.foot + 19, label, anchor="middle")
    yield (
        f'<path d="M{frame.left} {frame.top}V{frame.foot}H{frame.right}" fill="none"'
        f' stroke="{QUIET}"/>'
    )


def _band(band: Band, frame: _Frame) -> Iterator[str]:
    left = frame.x(_days(band.first)) - 5 if band.first else frame.left
    right = frame.x(_days(band.last)) + 5 if band.last else frame.right
    left, right = max(left, frame.left), min(right, frame.right)
    top, foot = frame.y(band.high), frame.y(band.low)
    yield (
        f'<rect x="{left:.1f}" y="{top}" width="{right - left:.1f}"'
        f' height="{max(foot - top, 2):.1f}" fill="{BAND}"/>'
    )
    # A printer may lose the tint, so its edges are drawn too.
    yield (
        f'<path d="M{left:.1f} {top}H{right:.1f}M{left:.1f} {foot}H{right:.1f}" fill="none"'
        f' stroke="{QUIET}" stroke-width="0.6"/>'
    )


def _epochs(epochs: Sequence[Epoch], frame: _Frame) -> Iterator[str]:
    for day, _word, shape in epochs:
        x = frame.x(_days(day))
        yield (
            f'<line x1="{x}" y1="{frame.top}" x2="{x}" y2="{frame.foot}" stroke="{QUIET}"'
            f" {LINE[shape]}/>"
        )
        if shape == "added":
            yield mark("triangle", INK, x, frame.foot - 5)
    for x, word, row in frame.words:
        yield text(x, EPOCH_Y + row * EPOCH_STEP, word, colour=QUIET, size=11)


def _epoch_words(epochs: Sequence[Epoch], frame: _Frame) -> Iterator[tuple[float, str, int]]:
    """Each word with its place and its row, the weightiest first; none where no row is free.

    The line of such an epoch stays, and its word stands in the table beside the picture.
    """
    taken: list[list[tuple[float, float]]] = [[] for _row in range(EPOCH_ROWS)]
    for day, word, _shape in sorted(epochs, key=lambda epoch: (RANK[epoch.shape], epoch)):
        width = len(word) * LETTER
        start = max(min(frame.x(_days(day)), frame.right - width), frame.left)
        for row, words in enumerate(taken):
            if _is_free(words, start, start + width):
                words.append((start, start + width))
                yield start, word, row
                break


def _is_free(taken: list[tuple[float, float]], start: float, end: float) -> bool:
    return all(end + LETTER <= left or start >= right + LETTER for left, right in taken)


def _limit(chart: Chart, frame: _Frame) -> Iterator[str]:
    if chart.limit is None:
        return
    yield limit_line(frame.left, frame.right, frame.y(chart.limit.value))


def _path(path: Path, frame: _Frame) -> Iterator[str]:
    places = " ".join(f"{frame.x(_days(when))},{frame.y(value)}" for when, value in path.points)
    yield f'<polyline points="{places}" {_path_look(path)}/>'


def _path_look(path: Path) -> str:
    dashes = ' stroke-dasharray="6 3"' if path.ahead else ""
    return f'fill="none" stroke="{SHAPES[0][1]}" stroke-width="1.8"{dashes}'


def _line(line: Series, look: tuple[str, str], frame: _Frame) -> Iterator[str]:
    shape, colour = look
    places = [(frame.x(_days(when)), frame.y(value)) for when, value in line.points]
    if line.joined:
        path = " ".join(f"{x},{y}" for x, y in places)
        yield f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-opacity="0.45"/>'
    hollow = line.hollow or [False] * len(places)
    for (x, y), is_hollow in zip(places, hollow, strict=True):
        yield mark(shape, colour, x, y, hollow=is_hollow)


def _whisker(whisker: Whisker | None, frame: _Frame) -> Iterator[str]:
    if whisker is None:
        return
    low, high = frame.x(_days(whisker.low)), frame.x(_days(whisker.high))
    middle = frame.x(_days(whisker.middle)) if whisker.middle else None
    yield from _whisker_at(low, middle, high, frame.y(whisker.value), open_end=whisker.open_end)


def _whisker_at(
    low: float, middle: float | None, high: float, y: float, *, open_end: bool
) -> Iterator[str]:
    end = (
        f"M{high - 6} {y - 5}L{high} {y}L{high - 6} {y + 5}" if open_end else f"M{high} {y - 6}v12"
    )
    yield (
        f'<path d="M{low} {y - 6}v12M{low} {y}H{high}{end}" fill="none" stroke="{INK}"'
        f' stroke-width="2"/>'
    )
    if middle is not None:
        corners = f"{middle},{y - 5:.1f} {middle + 5},{y} {middle},{y + 5:.1f} {middle - 5},{y}"
        yield f'<polygon points="{corners}" fill="#ffffff" stroke="{INK}" stroke-width="1.5"/>'


def _legend(chart: Chart) -> Iterator[_Entry]:
    """What the marks mean; of one plain series and nothing else the title says enough."""
    for word in dict.fromkeys(band.word for band in chart.bands):
        yield _Entry(band_sign, word)
    hollow = any(any(line.hollow) for line in chart.series)
    if len(chart.series) > 1 or hollow:
        for line, (shape, colour) in zip(chart.series, SHAPES, strict=False):
            yield _Entry(
                lambda x, y, s=shape, c=colour: iter([mark(s, c, x + 10, y - 4)]), line.name
            )
    if hollow:
        colour = SHAPES[0][1]
        yield _Entry(
            lambda x, y: iter([mark("circle", colour, x + 10, y - 4, hollow=True)]),
            chart.hollow_word,
        )
    for path in chart.paths:
        yield _Entry(lambda x, y, p=path: iter([_path_sign(p, x, y)]), path.word)
    if chart.limit:
        yield _Entry(lambda x, y: iter([limit_line(x, x + SIGN, y - 4)]), chart.limit.word)
    if chart.whisker:
        yield _Entry(
            lambda x, y: _whisker_at(x, x + SIGN / 2, x + SIGN, y - 4, open_end=False),
            chart.whisker.word,
        )


def _path_sign(path: Path, x: float, y: float) -> str:
    return f'<polyline points="{x},{y - 4} {x + SIGN},{y - 4}" {_path_look(path)}/>'


def _legend_rows(entries: list[_Entry]) -> list[list[tuple[float, _Entry]]]:
    """The entries with the place of each, in as many rows as they need."""
    rows: list[list[tuple[float, _Entry]]] = []
    x = float(WIDTH)
    for entry in entries:
        width = SIGN + 4 + len(entry.word) * LETTER
        if x + width > WIDTH:
            rows.append([])
            x = float(LEGEND_X)
        rows[-1].append((x, entry))
        x += width + 2 * LETTER
    return rows


def _drawn_legend(rows: list[list[tuple[float, _Entry]]]) -> Iterator[str]:
    first = HEIGHT - LEGEND_STEP / 2
    for number, row in enumerate(rows):
        y = first + number * LEGEND_STEP
        for x, entry in row:
            yield from entry.sign(x, y)
            yield text(x + SIGN + 4, y, entry.word)


def _days(when: date) -> float:
    """Days since the first day of our era; a moment counts by its own clock."""
    if isinstance(when, datetime):
        return when.toordinal() + when.hour / 24 + when.minute / 1440
    return float(when.toordinal())


def _months(first: float, last: float, most: int = 5) -> list[tuple[float, str]]:
    """The firsts of months at even steps between two days, each with its label `2025-07`."""
    start, end = date.fromordinal(math.ceil(first)), date.fromordinal(math.floor(last))
    # Months since year 0, so that a step of 3 falls on quarters and one of 12 on Januaries.
    months = range(start.year * 12 + start.month - (start.day == 1), end.year * 12 + end.month)
    step = next((step for step in MONTHS_BETWEEN if len(months) / step <= most), MONTHS_BETWEEN[-1])
    firsts = [date(month // 12, month % 12 + 1, 1) for month in months if month % step == 0]
    return [(float(day.toordinal()), f"{day:%Y-%m}") for day in firsts]
