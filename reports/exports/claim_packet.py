"""The packet of a claim: everything that whoever pays for it asks to see, in one file."""

from collections.abc import Sequence
from datetime import date
from io import BytesIO
from os import PathLike
from typing import IO

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from PIL import Image as Picture
from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, Spacer, Table

from fleetcool.models import Person
from reports.cautions import unit_cautions
from reports.claim_page import StepRow, claim_page
from reports.claim_records import ClaimPhoto
from reports.claim_rules import RuleLine, ToldRules
from reports.claim_words import sum_text
from reports.exports.paper import (
    GAP_PT,
    QR_PT,
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
from service.models import Claim

__all__ = ["write_claim_packet"]

LOOK = styles(7.9)
# A photo is drawn anew this large, so that a file of a dozen can be sent by e-mail.
PHOTO_PX, PHOTO_QUALITY = 1000, 72
PHOTO_HEIGHT_PT = 190
# A heading with less room than this below it goes to the next page.
LEAST_ROOM_PT = 70


def write_claim_packet(
    target: str | PathLike | IO[bytes],
    claim: Claim,
    user: Person,
    *,
    printed_on: date | None = None,
) -> None:
    """Write the packet of a claim in a person's units: Letter with US units, else A4.

    `claim` is one of `with_all()`; the person is one of the shop. The same records give the same
    bytes on the same day (`printed_on`, today if not given).
    """
    printed_on = printed_on or timezone.localdate()
    page = claim_page(claim, user, printed_on)
    paper = Paper(
        title=_("Claim %(number)s") % {"number": claim.number},
        subject=_("Unit %(serial)s, failed on %(day)s")
        % {"serial": claim.unit.serial, "day": claim.failed_on},
        unit_system=user.unit_system,
        printed_on=printed_on,
    )
    paper.write(target, _story(claim, page, paper.width))


def _story(claim: Claim, page: dict, width: float) -> list[Flowable]:
    half = (width - 2 * GAP_PT) / 2
    cautions = [_("Caution: %s") % text for text in unit_cautions(claim.unit)]
    return [
        _head(claim, page, width),
        beside(
            facts(_failure(claim, page), half, LOOK),
            facts(_standing(claim, page), half, LOOK),
            half,
        ),
        *_words(claim),
        *_section(_("What is claimed"), _lines(claim, page, width)),
        *_rules(page["told"], width),
        *_section(_("Evidence"), _evidence(page["told"], width)),
        *_section(_("Decision and steps"), _steps(page["steps"], width)),
        *_decision(page["steps"], width),
        *_section(_("Certificate of the install"), _certificate(page, width)),
        *_section(
            _("Readings, beside what the day's air let expect"), _readings(page["readings"], width)
        ),
        *_section(_("Refrigerant moved"), _movements(page["movements"], width)),
        *_photos(page["photos"], half),
        Spacer(0, GAP_PT),
        boxed([paragraph(text, LOOK.strong) for text in cautions], width),
        paragraph(
            _(
                "The expected band is what a sound unit of this model shows in the air of that day; "
                "a value outside it is no fault by itself. This paper records and computes, and "
                "certifies no one; local codes and licensed practice come first."
            ),
            LOOK.small,
        ),
    ]


def _head(claim: Claim, page: dict, width: float) -> Table:
    address = settings.SITE_URL + claim.get_absolute_url()
    words = [
        paragraph(_("Warranty claim %(number)s") % {"number": claim.number}, LOOK.label),
        paragraph(claim.unit.serial, LOOK.title),
        paragraph(f"{claim.unit.model}: {page['state']}", LOOK.strong),
        Spacer(0, GAP_PT),
        paragraph(_("The code opens this claim's page: %s") % address, LOOK.small),
    ]
    return grid([[words, qr_drawing(address, QR_PT)]], [width - QR_PT, QR_PT])


def _failure(claim: Claim, page: dict) -> list[tuple[str, str]]:
    at = timezone.localtime(claim.visit.at, timezone.get_default_timezone())
    return [
        (_("Customer"), str(claim.customer or "")),
        (_("Truck"), page["truck"]),
        (_("Unit model, lot"), ", ".join(filter(None, (claim.unit.model.name, claim.unit.lot)))),
        (_("Failed on"), f"{claim.failed_on:%Y-%m-%d}"),
        (_("Visit"), f"{at:%Y-%m-%d %H:%M}"),
        (_("Technician"), str(claim.visit.technician or "")),
    ]


def _standing(claim: Claim, page: dict) -> list[tuple[str, str]]:
    deadline = page["deadline"]
    return [
        (_("Terms"), str(claim.terms or _("none"))),
        (_("By the rules"), page["told"].covered_text),
        (_("To submit by"), f"{deadline:%Y-%m-%d}" if deadline else ""),
        (_("Submitted on"), f"{claim.submitted_on:%Y-%m-%d}" if claim.submitted_on else ""),
        (_("Asked"), sum_text(claim.asked, claim.currency)),
        (_("Approved"), sum_text(claim.approved, claim.currency)),
    ]


def _words(claim: Claim) -> list[Flowable]:
    visit = claim.visit
    told = [
        (_("What failed: %s"), claim.words),
        (_("Complaint: %s"), visit.complaint),
        (_("Found: %s"), visit.found),
        (_("Work done: %s"), visit.done),
    ]
    return [paragraph(label % words, LOOK.text) for label, words in told if words]


def _section(title: str, content: Flowable) -> list[Flowable]:
    heading = [CondPageBreak(LEAST_ROOM_PT), paragraph(title, LOOK.heading)]
    return [*heading, content, Spacer(0, GAP_PT / 2)]


def _table(header: Sequence[str], rows: list[Sequence[str]], width: float, parts) -> Flowable:
    if not rows:
        return paragraph(_("None is on record."), LOOK.text)
    return listing(header, rows, width, LOOK, parts=parts)


def _lines(claim: Claim, page: dict, width: float) -> Flowable:
    rows = [
        (
            f"{row.line.name} ({row.line.get_part_group_display()})",
            row.line.serial_out or "–",
            row.line.serial_in or "–",
            f"{row.line.quantity.normalize():f}",
            sum_text(row.line.unit_price, claim.currency),
            sum_text(row.line.amount, claim.currency),
            sum_text(row.granted, claim.currency),
        )
        for row in page["lines"]
    ]
    header = (
        _("What"),
        _("Serial out"),
        _("Serial in"),
        _("Quantity"),
        _("Price of one"),
        _("Asked"),
        _("Approved"),
    )
    return _table(header, rows, width, (5, 3, 3, 2, 3, 3, 3))


def _rules(told: ToldRules, width: float) -> list[Flowable]:
    story = [paragraph(_("Rules, as they stand on the day of printing"), LOOK.heading)]
    titled = [(f"{one.line.name}: {one.covered_text}", one.rules) for one in told.lists]
    titled.append((_("The same for all that is claimed"), told.common))
    for title, rules in titled:
        if rules:
            table = _rule_table(rules, width)
            story += [CondPageBreak(LEAST_ROOM_PT), paragraph(title, LOOK.strong)]
            story += [table, Spacer(0, GAP_PT / 2)]
    return story


def _rule_table(rules: list[RuleLine], width: float) -> Flowable:
    rows = [
        (rule.verdict_text, rule.label, rule.words, ", ".join(link.text for link in rule.links))
        for rule in rules
    ]
    return _table((_("Verdict"), _("Rule"), _("Says"), _("Rests on")), rows, width, (2, 4, 7, 5))


def _evidence(told: ToldRules, width: float) -> Flowable:
    rows = [
        (
            one.label,
            _("There") if one.present else _("Missing"),
            ", ".join(link.text for link in one.links) or "–",
        )
        for one in told.evidence
    ]
    return _table((_("Evidence"), _("There or missing"), _("What")), rows, width, (5, 3, 8))


def _steps(steps: list[StepRow], width: float) -> Flowable:
    rows = [
        (
            f"{timezone.localtime(row.step.at, timezone.get_default_timezone()):%Y-%m-%d %H:%M}",
            row.what,
            row.who,
            ". ".join(filter(None, (row.step.why, row.rule))) or "–",
            row.sum or "–",
        )
        for row in steps
    ]
    header = (_("When"), _("Step"), pgettext("who", "By"), _("Why, and by which rule"), _("Sum"))
    return _table(header, rows, width, (3, 4, 3, 8, 3))


def _decision(steps: list[StepRow], width: float) -> list[Flowable]:
    """The rules that the newest decision rested on, as they stood when it was taken."""
    decided = [row for row in steps if row.kept]
    if not decided:
        return []
    row = decided[-1]
    title = _("The rules as they stood on %(day)s: %(step)s") % {
        "day": row.step.day,
        "step": row.what,
    }
    rows = [(rule.line, rule.verdict, rule.label, rule.words) for rule in row.kept]
    header = (_("What"), _("Verdict"), _("Rule"), _("Says"))
    return _section(title, _table(header, rows, width, (4, 2, 4, 8)))


def _certificate(page: dict, width: float) -> Flowable:
    told = page["certificate_facts"]
    return facts(told, width, LOOK) if told else paragraph(_("None is on record."), LOOK.text)


def _readings(lines, width: float) -> Flowable:
    header = (
        _("Day"),
        _("Kind"),
        _("Output"),
        _("Air"),
        _("Suction"),
        _("Discharge"),
        _("Voltage"),
        _("Gauge"),
    )
    return _table(header, lines, width, (2.6, 3.6, 2.2, 3.4, 4.3, 4.3, 3.2, 1.8))


def _movements(lines, width: float) -> Flowable:
    header = (_("Day"), _("Movement"), _("Mass"), _("Cylinder"), _("By, and certificate"))
    return _table(header, lines, width, (3, 4, 2, 3, 7))


def _photos(photos: list[ClaimPhoto], half: float) -> list[Flowable]:
    """Two a row, each with its name; a file that is gone is said to be."""
    story: list[Flowable] = [CondPageBreak(PHOTO_HEIGHT_PT), paragraph(_("Photos"), LOOK.heading)]
    if not photos:
        return [*story, paragraph(_("None is on record."), LOOK.text)]
    drawn = [[_photo(photo, half), paragraph(photo.title, LOOK.small)] for photo in photos]
    for left in range(0, len(drawn), 2):
        right = drawn[left + 1] if left + 1 < len(drawn) else ""
        story.append(KeepTogether([beside(drawn[left], right, half), Spacer(0, GAP_PT)]))
    return story


def _photo(photo: ClaimPhoto, width: float) -> Flowable:
    try:
        with photo.file.open() as file, Picture.open(file) as picture:
            picture.thumbnail((PHOTO_PX, PHOTO_PX))
            small = picture.convert("RGB")
    except (OSError, ValueError):
        return paragraph(_("The file of this photo is gone or cannot be read."), LOOK.strong)
    out = BytesIO()
    small.save(out, "JPEG", quality=PHOTO_QUALITY, optimize=True)
    scale = min(width / small.width, PHOTO_HEIGHT_PT / small.height)
    return Image(out, small.width * scale, small.height * scale, hAlign="LEFT")
