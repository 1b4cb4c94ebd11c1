"""What a campaign says to a customer, in the customer's language: by e-mail, and for the post."""

import logging
from collections.abc import Sequence
from datetime import datetime
from smtplib import SMTPException

from django.core.mail import EmailMessage
from django.utils import translation
from django.utils.translation import gettext as _

from installs.engineering.saturation import is_flammable
from installs.models import Install
from service.campaigning import Addressee, mark_told, take_back
from service.models import Campaign, CampaignUnit

__all__ = ["letter_paragraphs", "send", "subject_of", "truck_line"]

log = logging.getLogger(__name__)


def send(campaign: Campaign, addressee: Addressee, now: datetime) -> int:
    """Write to a customer of the units it was not told of yet; return how many units it now knows of.

    A mail server that is down loses nothing but the mail: the units stay to be told.
    """
    customer = addressee.customer
    # Taken before the letter goes, so that two people who press the button send one.
    if not customer.contact_email or not (taken := mark_told(addressee.untold, now)):
        return 0
    with translation.override(customer.language):
        words = "\n\n".join(letter_paragraphs(campaign, addressee, _lines(addressee)))
        message = EmailMessage(subject_of(campaign), words + "\n", to=[customer.contact_email])
    try:
        message.send()
    except (OSError, SMTPException) as failed:
        log.warning("The letter of campaign %s was not sent: %s", campaign.pk, failed)
        take_back(taken)
        return 0
    return len(taken)


def subject_of(campaign: Campaign) -> str:
    return _("Bulletin %(number)s: %(title)s") % {
        "number": campaign.number,
        "title": campaign.title,
    }


def letter_paragraphs(
    campaign: Campaign, addressee: Addressee, trucks: Sequence[str] = ()
) -> list[str]:
    """The letter in paragraphs; the caution comes before the trucks."""
    told = [
        _("To %(customer)s") % {"customer": addressee.customer.name},
        _("Units in your trucks are affected by a bulletin. Please let us see them.")
        if len(addressee.rows) > 1
        else _("A unit in one of your trucks is affected by a bulletin. Please let us see it."),
        campaign.words,
        _("Until the work is done: %(caution)s") % {"caution": campaign.until_done},
        *_of_what_burns(addressee),
        "\n".join(trucks),
        _(
            "Call us for a day that suits you; the work needs the truck with its batteries "
            "charged and the sleeper cab cleared. Nobody but a certified technician opens the unit."
        ),
    ]
    return [text for text in told if text]


def truck_line(row: CampaignUnit, install: Install) -> str:
    return _("Truck %(truck)s (VIN %(vin)s): unit %(serial)s") % {
        "truck": install.truck,
        "vin": install.tractor.vin,
        "serial": row.unit.serial,
    }


def _lines(addressee: Addressee) -> list[str]:
    return [truck_line(row, install) for row, install in addressee.rows]


def _of_what_burns(addressee: Addressee) -> list[str]:
    models = {row.unit.model for row, _install in addressee.rows}
    burning = sorted({model.refrigerant for model in models if is_flammable(model.refrigerant)})
    if not burning:
        return []
    words = _("%(refrigerants)s burns: no flame, spark or smoking near a unit that may leak.")
    return [words % {"refrigerants": ", ".join(burning)}]
