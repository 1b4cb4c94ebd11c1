"""The e-mail that tells a customer of a booking, of its new time, or that it is called off."""

import logging
from datetime import datetime
from email.mime.text import MIMEText
from smtplib import SMTPException

from django.core.mail import EmailMessage
from django.db import transaction
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from installs.calendars import invitation
from installs.models import Booking, BookingState

__all__ = ["confirm", "confirm_on_commit"]

log = logging.getLogger(__name__)


def confirm_on_commit(booking: Booking, now: datetime) -> None:
    """Send what a customer is to know, once it is sure to stand."""
    if booking.contact_email:
        transaction.on_commit(lambda: confirm(booking, now))


def confirm(booking: Booking, now: datetime) -> bool:
    """Send the confirmation of a booking as it stands; say whether the mail server took it.

    What went out is `mailed_sequence`. A mail server that is down loses nothing but the mail.
    """
    with translation.override(booking.customer.language):
        message = _message(booking, now)
    try:
        message.send()
    except (OSError, SMTPException) as failed:
        log.warning("The confirmation of booking %s was not sent: %s", booking.pk, failed)
        return False
    booking.mailed_sequence = booking.sequence
    # The row alone: that a letter went out is no change of the booking.
    Booking.objects.filter(pk=booking.pk).update(mailed_sequence=booking.sequence)
    return True


def _message(booking: Booking, now: datetime) -> EmailMessage:
    subject, words = _words(booking)
    message = EmailMessage(subject, words, to=[booking.contact_email])
    method, calendar = invitation(booking, now)
    part = MIMEText(calendar.decode(), "calendar", "utf-8")
    part.set_param("method", method.value)
    part.add_header("Content-Disposition", "attachment", filename="booking.ics")
    message.attach(part)
    return message


def _words(booking: Booking) -> tuple[str, str]:
    """Subject and text, in words for someone who knows the truck and not the shop's trade."""
    begins_at, ends_at = timezone.localtime(booking.begins_at), timezone.localtime(booking.ends_at)
    facts = {
        "truck": booking.tractor.truck_number or booking.tractor.vin,
        "vin": booking.tractor.vin,
        "job": booking.job,
        "day": date_format(begins_at, _("l, j F Y")),
        "begin": f"{begins_at:%H:%M}",
        "end": f"{ends_at:%H:%M} {ends_at:%Z}",
        "yard": booking.bay.yard,
        "bay": booking.bay.name,
    }
    if booking.state == BookingState.CALLED_OFF:
        subject = _("Called off: truck %(truck)s on %(day)s")
        words = _(
            "The booking of truck %(truck)s on %(day)s at %(begin)s (%(job)s) is called off. You "
            "need not bring the truck. Please call us for another day."
        )
    elif booking.sequence:
        subject = _("New time: truck %(truck)s on %(day)s at %(begin)s")
        words = _("Your booking has changed. This is how it stands now, in place of what we wrote.")
    else:
        subject = _("Booked: truck %(truck)s on %(day)s at %(begin)s")
        words = _("Your truck is booked in with us.")
    if booking.state != BookingState.CALLED_OFF:
        words += "\n\n" + _(
            "Truck: %(truck)s (VIN %(vin)s)\n"
            "Work: %(job)s\n"
            "Day: %(day)s\n"
            "Bring it by: %(begin)s\n"
            "Ready about: %(end)s\n"
            "Where: %(yard)s, %(bay)s"
        )
        words += "\n\n" + _(
            "Please bring the truck with its batteries charged and the sleeper cab cleared. If the "
            "day does not suit you, call us. The attached file puts the time into your calendar."
        )
    return subject % facts, words % facts + "\n"
