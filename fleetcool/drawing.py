"""The small pieces that the charts of the project share: words, marks, colours, round steps.

SVG as text, presentation attributes only: a strict page allows no `style=`, and svglib draws the
same text into a PDF.
"""

import math
from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape

from fleetcool.wording import number

__all__ = [
    "BAND",
    "GRID",
    "INK",
    "LETTER",
    "QUIET",
    "SHAPES",
    "SIGN",
    "band_sign",
    "limit_line",
    "mark",
    "round_steps",
    "step_labels",
    "text",
]

# About the width of a letter at 12 units, enough to keep two words from running into each other.
LETTER = 6.2
# The width of a sign in a legend.
SIGN = 20
INK, QUIET, GRID, BAND = "#1d2a2e", "#51626a", "#dfe1da", "#d7e8eb"
SHAPES = (("circle", "#0b5563"), ("square", "#8a4b00"), ("triangle", "#5b3f8c"))


def text(
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


def mark(shape: str, colour: str, x: float, y: float, *, hollow: bool = False) -> str:
    paint = f'fill="#ffffff" stroke="{colour}" stroke-width="1.5"' if hollow else f'fill="{colour}"'
    if shape == "circle":
        return f'<circle cx="{x}" cy="{y}" r="3.5" {paint}/>'
    if shape == "square":
        return f'<rect x="{x - 3.5:.1f}" y="{y - 3.5:.1f}" width="7" height="7" {paint}/>'
    corners = f"{x},{y - 4.5:.1f} {x - 4.5:.1f},{y + 3.5:.1f} {x + 4.5:.1f},{y + 3.5:.1f}"
    return f'<polygon points="{corners}" {paint}/>'


def limit_line(left: float, right: float, y: float) -> str:
    return (
        f'<line x1="{left}" y1="{y}" x2="{right}" y2="{y}" stroke="{INK}" stroke-width="1.4"'
        f' stroke-dasharray="9 2"/>'
    )


def band_sign(x: float, y: float) -> Iterator[str]:
    yield (
        f'<rect x="{x:.1f}" y="{y - 9}" width="{SIGN}" height="10" fill="{BAND}"/>'
        f'<path d="M{x} {y - 9}h{SIGN}M{x} {y + 1}h{SIGN}" fill="none" stroke="{QUIET}"'
        f' stroke-width="0.6"/>'
    )


def round_steps(low: float, high: float, most: int = 5) -> list[float]:
    """Values at even round steps that enclose low and high, at most `most` steps of them."""
    span = (high - low) or abs(high) * 0.1 or 1.0
    raw = span / (most - 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(size * power for size in (1, 2, 2.5, 5, 10) if size * power >= raw)
    first = math.floor(low / step)
    last = max(math.ceil(high / step), first + 1)
    return [number * step for number in range(first, last + 1)]


def step_labels(values: Sequence[float]) -> list[str]:
    """The labels of values at even steps, all with the decimals that the step needs."""
    step = values[1] - values[0]
    # A step of 2.5 has one decimal more than its size says.
    decimals = next(n for n in range(20) if math.isclose(round(step, n), step, rel_tol=1e-6))
    return [number(value, decimals) for value in values]
