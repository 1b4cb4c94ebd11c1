"""The steps of an install on paper: each with its cautions, how it is done, and room to write."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from reportlab.graphics.shapes import Drawing, Rect, String
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table, TableStyle

from installs.engineering.acceptance import REFRIGERANT_STEPS
from installs.models import InstallStep
from installs.step_words import step_cautions, step_how
from reports.exports.paper import (
    BOLD,
    GAP_PT,
    INK,
    REGULAR,
    Styles,
    beside,
    boxed,
    drawable,
    grid,
    paragraph,
)
from service.measures import MEASURES, Measure, unit_label
from service.models import Output

__all__ = ["signature_lines", "step_sections"]

# What a hand needs over a line, and a box that it ticks.
HAND_PT, BOX_PT = 5, 8
# How a label, its blank and the unit share half of the width.
PARTS = (0.56, 0.26, 0.18)
# Cautions that hold whatever the refrigerant are those of one that does not burn.
PLAIN = "R-134a"
# What the form says of these is about typing them in.
TYPED = frozenset({"cylinder", "micron", "pressure", "text", "time"})


def step_sections(
    refrigerant: str | None, system: str, width: float, look: Styles
) -> list[Flowable]:
    """Return all steps in their order, the blanks in a person's units.

    `refrigerant` is None where the unit is not chosen yet.
    """
    return [
        flowable
        for number, step in enumerate(InstallStep, start=1)
        for flowable in _section(number, step, refrigerant, system, width, look)
    ]


def signature_lines(width: float, look: Styles) -> Flowable:
    """Return the lines at the end: remarks, and who did the work and when."""
    labels = (_("Remarks"), _("Technician, signature, date and time"))
    table = grid(
        [[paragraph(label, look.label), ""] for label in labels], [0.34 * width, 0.66 * width]
    )
    table.setStyle(
        TableStyle(
            [
                *_room_to_write(),
                ("TOPPADDING", (0, 0), (-1, -1), 3 * HAND_PT),
                ("LINEBELOW", (1, 0), (1, -1), 0.6, INK),
            ]
        )
    )
    return KeepTogether([paragraph(_("At the end"), look.heading), table])


def _section(
    number: int, step: InstallStep, refrigerant: str | None, system: str, width: float, look: Styles
) -> list[Flowable]:
    """A step: a page may end between two groups of its measures, not above the first of them."""
    cautions = [f"• {text}" for text in _cautions(step, refrigerant)]
    how = [f"{number}.{place} {text}" for place, text in enumerate(step_how(step), start=1)]
    word = _("Caution")
    word_pt = stringWidth(drawable(word), BOLD, look.strong.fontSize) + GAP_PT
    inside = width - 2 * GAP_PT - word_pt
    warned = grid(
        [[paragraph(word, look.strong), _in_two_columns(cautions, inside, look)]],
        [word_pt, inside],
        padding=0,
    )
    first, *rest = _blanks(step, system, width, look)
    return [
        KeepTogether(
            [
                paragraph(f"{number}. {step.label}", look.heading),
                boxed([warned], width),
                _in_two_columns(how, width, look),
                *first,
            ]
        ),
        *(KeepTogether(group) for group in rest),
        Spacer(0, GAP_PT / 2),
    ]


def _in_two_columns(texts: list[str], width: float, look: Styles) -> Table:
    """The first of them, then the rest beside them, about as long."""

    def longer(at: int) -> int:
        return max(len("".join(texts[:at])), len("".join(texts[at:])))

    middle = min(range(1, len(texts) + 1), key=longer)
    columns = [
        [paragraph(text, look.text) for text in part] for part in (texts[:middle], texts[middle:])
    ]
    return beside(*columns, (width - 2 * GAP_PT) / 2)


def _cautions(step: InstallStep, refrigerant: str | None) -> list[str]:
    if refrigerant is not None or step not in REFRIGERANT_STEPS:
        return step_cautions(step, refrigerant or PLAIN)
    unknown = _("Read the refrigerant on the unit's plate first: it may burn.")
    return [unknown, *step_cautions(step, PLAIN)]


def _blanks(step: InstallStep, system: str, width: float, look: Styles) -> list[list[Flowable]]:
    """The measures of a step, group by group, each under its title if it has one."""
    return [
        [
            *([Spacer(0, GAP_PT / 2), paragraph(group.title, look.strong)] if group.title else []),
            _ruled(group.measures, system, width, look),
        ]
        for group in MEASURES[step]
    ]


def _ruled(measures: Sequence[Measure], system: str, width: float, look: Styles) -> Table:
    half = (width - 2 * GAP_PT) / 2
    widths = [part * half for part in PARTS]
    pairs = [measures[at : at + 2] for at in range(0, len(measures), 2)]
    rows, rules = [], _room_to_write()
    for row, pair in enumerate(pairs):
        cells = []
        for side, measure in enumerate(pair):
            first = side * 4
            choices = _choices(measure)
            blank = _boxes(choices, look) if choices else ""
            unit = unit_label(measure.kind, system)
            cells += [_label(measure, look), blank, paragraph(unit, look.text), ""]
            if choices:
                rules.append(("SPAN", (first + 1, row), (first + 2, row)))
            else:
                rules.append(("LINEBELOW", (first + 1, row), (first + 1, row), 0.6, INK))
        rows.append([*cells, *[""] * (8 - len(cells))][:7])
    table = grid(rows, [*widths, 2 * GAP_PT, *widths])
    table.setStyle(TableStyle(rules))
    return table


def _label(measure: Measure, look: Styles) -> list[Flowable]:
    label = [paragraph(measure.label, look.text)]
    if measure.help and measure.kind not in TYPED:
        label.append(paragraph(measure.help, look.small))
    return label


def _room_to_write() -> list[tuple]:
    return [
        ("TOPPADDING", (0, 0), (-1, -1), HAND_PT),
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
    ]


def _choices(measure: Measure) -> list[str]:
    """What there is to tick; nothing where a number or a word is written."""
    if measure.kind == "yes":
        return [_("yes"), _("no")]
    return [str(label) for label in Output.labels] if measure.kind == "output" else []


def _boxes(choices: Sequence[str], look: Styles) -> Drawing:
    size = look.text.fontSize
    step = BOX_PT + 3 * size + GAP_PT
    drawing = Drawing(step * len(choices), BOX_PT + 2)
    for place, words in enumerate(choices):
        x = place * step
        drawing.add(Rect(x, 1, BOX_PT, BOX_PT, strokeWidth=0.7, strokeColor=INK, fillColor=None))
        drawing.add(
            String(
                x + BOX_PT + 3, 2, drawable(words), fontName=REGULAR, fontSize=size, fillColor=INK
            )
        )
    return drawing
