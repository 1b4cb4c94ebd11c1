"""The letter of a campaign to one customer, for the post, in the customer's language."""

from datetime import date
from os import PathLike
from typing import IO

from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from reportlab.platypus import Flowable, Spacer

from reports.exports.paper import GAP_PT, Paper, boxed, listing, paragraph, styles
from service.campaign_letters import letter_paragraphs, subject_of
from service.campaigning import Addressee
from service.models import Campaign

__all__ = ["write_letter"]

LOOK = styles(10)


def write_letter(
    target: str | PathLike | IO[bytes],
    campaign: Campaign,
    addressee: Addressee,
    user,
    *,
    printed_on: date | None = None,
) -> None:
    """Write a letter: Letter with US units, else A4.

    The same records give the same bytes on the same day (`printed_on`, today if not given).
    """
    with translation.override(addressee.customer.language):
        paper = Paper(
            title=subject_of(campaign),
            subject=addressee.customer.name,
            unit_system=user.unit_system,
            printed_on=printed_on or timezone.localdate(),
        )
        paper.write(target, _story(campaign, addressee, paper))


def _story(campaign: Campaign, addressee: Addressee, paper: Paper) -> list[Flowable]:
    first, *told = letter_paragraphs(campaign, addressee)
    caution = next(place for place, text in enumerate(told) if campaign.until_done in text)
    parts: list[Flowable] = [
        paragraph(date_format(paper.printed_on, "Y-m-d"), LOOK.label),
        paragraph(first, LOOK.strong),
        Spacer(0, 3 * GAP_PT),
        paragraph(subject_of(campaign), LOOK.heading),
    ]
    for place, text in enumerate(told):
        lines = [paragraph(line, LOOK.text) for line in text.splitlines() if line.strip()]
        if place == caution:
            lines = [
                boxed([paragraph(line, LOOK.strong) for line in text.splitlines()], paper.width)
            ]
        parts += [Spacer(0, GAP_PT), *lines]
    return [*parts, Spacer(0, 2 * GAP_PT), _trucks(addressee, paper.width)]


def _trucks(addressee: Addressee, width: float) -> Flowable:
    rows = [
        (install.truck, install.tractor.vin, row.unit.serial, row.unit.model.name)
        for row, install in addressee.rows
    ]
    header = (_("Truck"), _("VIN"), _("Unit serial"), _("Model"))
    return listing(header, rows, width, LOOK, parts=(2, 4, 3, 2))
