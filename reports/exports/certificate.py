"""The certificate of an install as a PDF of two pages: what the driver keeps, and every proof."""

from datetime import date, datetime
from os import PathLike
from typing import IO

from django.conf import settings
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from reportlab.graphics.shapes import Drawing, PolyLine
from reportlab.platypus import Flowable, KeepInFrame, PageBreak, Spacer, Table, TableStyle

from fleetcool.wording import amount
from installs.certificate_words import ProofLine, bank_words, cover_rows, let_pass_lines, step_lines
from installs.engineering.saturation import SAFETY_CLASS, designation
from installs.models import Certificate
from reports.cautions import refrigerant_cautions
from reports.exports.night_use import night_use
from reports.exports.paper import (
    GAP_PT,
    INK,
    LINE,
    QR_PT,
    TINT,
    Paper,
    beside,
    boxed,
    facts,
    grid,
    listing,
    paragraph,
    qr_drawing,
    styles,
)

__all__ = ["write_certificate"]

LOOK = styles(7.9)
# The room of a signature, and how the columns of the proofs share the width.
SIGNED_PT = (190, 46)
PROOF_PARTS = (4.6, 2, 3.2, 4.2)
Says = dict[str, object]


def write_certificate(
    target: str | PathLike | IO[bytes],
    certificate: Certificate,
    user,
    *,
    printed_on: date | None = None,
) -> None:
    """Write a certificate in a person's units: Letter with US units, else A4.

    It is drawn from what the certificate says and from nothing that may have changed since. The
    same certificate gives the same bytes on the same day (`printed_on`, today if not given).
    """
    says = certificate.says
    paper = Paper(
        title=_("Certificate %(number)s") % {"number": certificate.number},
        subject=_("Install of %(model)s, serial %(serial)s") % says,
        unit_system=user.unit_system,
        printed_on=printed_on or timezone.localdate(),
        across=_("Withdrawn") if certificate.withdrawn_at else "",
    )
    first = _first_page(certificate, user.unit_system, paper.width)
    second = _proofs_page(says["steps"], user.unit_system, paper.width)
    paper.write(target, [_on_one_page(first, paper), PageBreak(), _on_one_page(second, paper)])


def _on_one_page(story: list[Flowable], paper: Paper) -> KeepInFrame:
    return KeepInFrame(paper.width, paper.height, story, mode="shrink")


def _first_page(certificate: Certificate, system: str, width: float) -> list[Flowable]:
    says, half = certificate.says, (width - 2 * GAP_PT) / 2
    refrigerant = says["nameplate"]["refrigerant"]
    cautions = [*refrigerant_cautions(refrigerant), _gas_in_the_cab()]
    return [
        _head(certificate, width),
        *_withdrawn(certificate, width),
        beside(_facts_of_unit(says, system, half), _facts_of_truck(says, half), half),
        *_let_pass(says, width),
        paragraph(_("Through a night"), LOOK.heading),
        *(
            paragraph(f"{place}. {text}", LOOK.text)
            for place, text in enumerate(night_use(says, system), start=1)
        ),
        Spacer(0, GAP_PT),
        boxed([paragraph(_("Caution: %s") % text, LOOK.strong) for text in cautions], width),
        paragraph(_("Terms"), LOOK.heading),
        *_terms(says["terms"], width),
        Spacer(0, GAP_PT),
        beside(_signed(certificate), _received(certificate), half),
        Spacer(0, GAP_PT),
        paragraph(
            _(
                "This paper says what was measured on the day, and the limit beside it. Local "
                "codes, the makers' instructions and licensed practice come first; no authority's "
                "approval is claimed."
            ),
            LOOK.small,
        ),
    ]


def _head(certificate: Certificate, width: float) -> Table:
    says = certificate.says
    address = settings.SITE_URL + certificate.get_public_url()
    words = [
        paragraph(_("Certificate of install %s") % certificate.number, LOOK.label),
        paragraph(says["serial"], LOOK.title),
        paragraph(says["model"], LOOK.strong),
        Spacer(0, GAP_PT),
        paragraph(
            _("The code opens a page with the serial, the date and whether it stands: %s")
            % address,
            LOOK.small,
        ),
    ]
    return grid([[words, qr_drawing(address, QR_PT)]], [width - QR_PT, QR_PT])


def _withdrawn(certificate: Certificate, width: float) -> list[Flowable]:
    if certificate.withdrawn_at is None:
        return []
    words = _("Withdrawn on %(day)s: %(why)s") % {
        "day": _day(certificate.withdrawn_at),
        "why": certificate.withdrawn_why,
    }
    return [boxed([paragraph(words, LOOK.strong)], width)]


def _facts_of_unit(says: Says, system: str, width: float) -> list[Flowable]:
    plate = says["nameplate"]
    refrigerant = designation(plate["refrigerant"])
    told = [
        (_("Serial"), says["serial"]),
        (_("Model, lot"), ", ".join(filter(None, (says["model"], says["lot"])))),
        (
            _("Refrigerant"),
            _("%(refrigerant)s, safety class %(class)s")
            % {"refrigerant": refrigerant, "class": SAFETY_CLASS[refrigerant]},
        ),
        (_("Nameplate charge"), amount(plate["charge_g"], "mass", system)),
        (_("Charged by weight"), amount(says["charge_g"], "mass", system)),
        (_("From cylinder"), says["cylinder"]),
        (_("Cutoff, under load"), amount(says["cutoff_v"], "volts", system)),
        (_("Set-point"), amount(says["set_point_c"], "temperature", system)),
    ]
    return [paragraph(_("The unit"), LOOK.heading), facts(told, width, LOOK)]


def _facts_of_truck(says: Says, width: float) -> list[Flowable]:
    technician = says["technician"]
    certified = ", ".join(filter(None, (technician["scheme"], technician["number"])))
    told = [
        (_("Customer"), says["customer"]),
        (_("Truck number"), says["truck_number"]),
        (_("VIN"), says["vin"]),
        (_("Model year"), str(says["model_year"] or _("not on record"))),
        (_("Battery bank"), bank_words(says["bank"])),
        (_("Installed on"), says["installed_on"]),
        (_("Yard"), says["yard"]),
        (_("Technician"), technician["name"]),
        (_("Refrigerant certificate"), certified or _("none on record")),
    ]
    return [paragraph(_("The truck and the work"), LOOK.heading), facts(told, width, LOOK)]


def _let_pass(says: Says, width: float) -> list[Flowable]:
    """The proofs that did not hold, in plain sight: who let each pass, and why."""
    passed = let_pass_lines(says["steps"])
    if not passed:
        return []
    head = paragraph(_("These proofs did not hold and were let pass"), LOOK.strong)
    return [
        Spacer(0, GAP_PT),
        boxed([head, *(paragraph(text, LOOK.text) for text in passed)], width),
    ]


def _terms(terms: dict | None, width: float) -> list[Flowable]:
    if terms is None:
        return [paragraph(_("Ask the shop which terms hold for this unit."), LOOK.text)]
    counted = _(
        "%(name)s, counted from the first install on %(counted_from)s. The cover follows the "
        "serial from truck to truck; months or run hours, whichever comes first."
    )
    rows = cover_rows(terms)
    header = (_("Covered"), _("months"), _("until"), _("or run hours"))
    half, middle = (width - 2 * GAP_PT) / 2, (len(rows) + 1) // 2
    columns = [
        listing(header, column, half, LOOK, parts=(4, 2, 3, 3))
        for column in (rows[:middle], rows[middle:])
    ]
    return [
        paragraph(counted % terms, LOOK.text),
        Spacer(0, GAP_PT / 2),
        beside(columns[0], columns[1] if rows[middle:] else "", half),
    ]


def _proofs_page(steps: list[dict], system: str, width: float) -> list[Flowable]:
    """Every proof with its number, its limit and its verdict, step by step."""
    header = (_("Proof"), _("measured"), _("proves"), _("verdict"))
    rows = [[paragraph(text, LOOK.strong) for text in header]]
    rules = [("BACKGROUND", (0, 0), (-1, 0), TINT), ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE)]
    for title, lines in step_lines(steps, system):
        rules.append(("SPAN", (0, len(rows)), (-1, len(rows))))
        rows.append([paragraph(title, LOOK.strong), "", "", ""])
        rows += [_proof_row(line) for line in lines]
    widths = [width * part / sum(PROOF_PARTS) for part in PROOF_PARTS]
    table = grid(rows, widths, padding=1.6)
    table.setStyle(TableStyle(rules))
    return [paragraph(_("What was proved, and by which limit"), LOOK.heading), table]


def _proof_row(line: ProofLine) -> list:
    told = [paragraph(line.verdict, LOOK.text)]
    if line.passed_by:
        told.append(paragraph(_("Let pass by %s") % line.passed_by, LOOK.strong))
    return [
        *(paragraph(text, LOOK.text) for text in (line.label, line.measured, line.proves)),
        told,
    ]


def _signed(certificate: Certificate) -> list[Flowable]:
    technician = certificate.says["technician"]
    return [
        paragraph(_("Proved and signed by"), LOOK.label),
        paragraph(technician["name"], LOOK.strong),
        paragraph(_day(certificate.issued_at), LOOK.text),
    ]


def _received(certificate: Certificate) -> list[Flowable]:
    drawn = [_strokes(certificate.signature)] if certificate.signature else []
    return [
        paragraph(_("Handed over to"), LOOK.label),
        *drawn,
        paragraph(certificate.received_by, LOOK.strong),
        paragraph(_day(certificate.issued_at), LOOK.text),
    ]


def _strokes(strokes: list) -> Drawing:
    """A signature as vectors, as large as its room lets it be without changing its shape."""
    width, height = SIGNED_PT
    lowest = max(y for stroke in strokes for _x, y in stroke)
    scale = min(width, height / lowest) if lowest else width
    drawing = Drawing(width, lowest * scale + 2)
    for stroke in strokes:
        # A dot is a stroke of one point.
        points = stroke if len(stroke) > 1 else [*stroke, *stroke]
        flat = [part for x, y in points for part in (x * scale, (lowest - y) * scale + 1)]
        drawing.add(PolyLine(flat, strokeColor=INK, strokeWidth=1, strokeLineCap=1))
    return drawing


def _gas_in_the_cab() -> str:
    return _(
        "If it hisses or smells of gas: switch it off, get out, open the doors, no flame, and call "
        "the shop. Never open the circuit, the fuse box or the unit yourself."
    )


def _day(moment: datetime) -> str:
    return date_format(timezone.localtime(moment, timezone.get_default_timezone()), "Y-m-d")
