"""The sale of a truck: from that day on it, and the unit in it, are another customer's.

Each fleet sees its own time only: the install ends for the one who sold and begins for the one who
bought, and what is on record of the unit goes to whose truck it was on its day.
"""

from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetcool.models import Person
from installs.models import Customer, Install, Tractor
from installs.records.loader import let_follow
from installs.stock import check_day, lock, save_as

__all__ = ["sell_tractor"]


@transaction.atomic
def sell_tractor(
    tractor: Tractor,
    customer: Customer,
    on_day: date,
    truck_number: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Write down that a truck is another customer's from a day on, under that fleet's own number.

    Terms follow the unit's serial and count from its first install as before. Raises
    ValidationError where the sale cannot be so, and then changes nothing.
    """
    lock(tractor)
    check_day(on_day, at)
    seller = tractor.customer
    if customer == seller:
        raise ValidationError(
            _("The truck is %(customer)s's already; choose who bought it.") % {"customer": seller}
        )
    _check_no_booking(tractor)
    installs = list(_reaching_beyond(tractor, on_day))
    for install in installs:
        _check_began(install, on_day)
    words = _("sold by %(seller)s to %(buyer)s") % {"seller": seller, "buyer": customer}
    for install in installs:
        _pass_on(install, customer, on_day, by, at, words)
    tractor.customer, tractor.truck_number = customer, truck_number
    if tractor.yard and tractor.yard.customer_id == seller.pk:
        tractor.yard = None
    save_as(tractor, by, words)
    let_follow({install.unit_id for install in installs}, words[:100])


def _reaching_beyond(tractor: Tractor, on_day: date):
    """The installs in a truck that take any time after a day, or that stand open."""
    later = Q(removed_on=None) | Q(removed_on__gt=on_day)
    installs = tractor.installs.filter(later).exclude(removed_on=F("installed_on"))
    return installs.select_related("unit")


def _check_no_booking(tractor: Tractor) -> None:
    if booking := tractor.bookings.open().first():
        raise ValidationError(
            _(
                "The truck is booked in for %(day)s; see that booking done, or call it off and book "
                "the truck again for whoever bought it."
            )
            % {"day": timezone.localdate(booking.begins_at)}
        )


def _check_began(install: Install, on_day: date) -> None:
    shown = {"serial": install.unit, "day": install.installed_on, "removed": install.removed_on}
    if install.installed_on > on_day:
        raise ValidationError(
            _(
                "%(serial)s was put in on %(day)s for the old customer; give that day or a later one."
            )
            % shown
        )
    if install.removed_on is not None:
        raise ValidationError(
            _(
                "%(serial)s was taken out on %(removed)s for the old customer; give that day or a "
                "later one."
            )
            % shown
        )


def _pass_on(install: Install, customer: Customer, on_day: date, by, at, words: str) -> None:
    """End an install on the day and begin it for another customer; one of that very day changes hands."""
    if install.installed_on == on_day:
        install.customer = customer
        save_as(install, by, words)
        return
    install.removed_on = on_day
    save_as(install, by, words)
    bought = Install(
        unit=install.unit,
        tractor=install.tractor,
        customer=customer,
        installed_on=on_day,
        entered_at=at,
    )
    save_as(bought, by, words)
