"""What is done with a campaign: find whom it is for, open it, tell, book, and write down as done."""

from collections.abc import Sequence
from datetime import date, datetime
from hashlib import sha256
from typing import NamedTuple

from django.db import transaction
from django.db.models import Q, QuerySet
from django.db.models.functions import Upper

from installs.models import Booking, Customer, Install, Unit, UnitModel
from service.models import Campaign, CampaignUnit, Visit

__all__ = ["Addressee", "Range", "addressees", "mark_told", "open_campaign", "settle", "take_back"]


class Range(NamedTuple):
    """Whom a bulletin is for. What is empty does not narrow; with nothing but serials, only those."""

    models: Sequence[UnitModel] = ()
    lots: Sequence[str] = ()
    made_from: date | None = None
    made_to: date | None = None
    serials: Sequence[str] = ()

    @property
    def is_empty(self) -> bool:
        return not any(self)

    def units(self) -> QuerySet[Unit]:
        """The units that it holds, in trucks or in stock; small and capital letters are alike.

        A unit that went back to its maker or was scrapped is nobody's to mend.
        """
        named = Q(upper_serial__in=[serial.upper() for serial in self.serials])
        held = named | self._kind() if any(self[:4]) else named
        units = Unit.objects.annotate(upper_serial=Upper("serial"), upper_lot=Upper("lot"))
        return units.filter(held, left_stock="").select_related("model").order_by("serial")

    def mark(self) -> str:
        """A mark of the units that it holds now: another where one comes in or goes out."""
        numbers = ",".join(str(number) for number in self.units().values_list("pk", flat=True))
        return sha256(numbers.encode()).hexdigest()[:16]

    def without_a_day(self) -> QuerySet[Unit]:
        """Units that may belong to it, and have no made-on day to tell by."""
        if self.made_from is None and self.made_to is None:
            return Unit.objects.none()
        units = self._replace(made_from=None, made_to=None)
        if not any(units[:2]):
            return Unit.objects.filter(made_on=None, left_stock="")
        return units._replace(serials=()).units().filter(made_on=None)

    def missing(self) -> list[str]:
        """The serials that are not on record."""
        units = Unit.objects.annotate(upper=Upper("serial"))
        wanted = {serial.upper(): serial for serial in self.serials}
        known = set(units.filter(upper__in=wanted).values_list("upper", flat=True))
        return [serial for upper, serial in wanted.items() if upper not in known]

    def _kind(self) -> Q:
        held = Q()
        if self.models:
            held &= Q(model__in=self.models)
        if self.lots:
            held &= Q(upper_lot__in=[lot.upper() for lot in self.lots])
        if self.made_from:
            held &= Q(made_on__gte=self.made_from)
        if self.made_to:
            held &= Q(made_on__lte=self.made_to)
        return held


class Addressee(NamedTuple):
    """A customer, and the units in its trucks that are not done: each with the install it stands in."""

    customer: Customer
    rows: list[tuple[CampaignUnit, Install]]

    @property
    def untold(self) -> list[CampaignUnit]:
        return [row for row, _install in self.rows if row.told_at is None]


@transaction.atomic
def open_campaign(campaign: Campaign, range_: Range, *, by, now: datetime) -> Campaign:
    """Open a campaign for the units that its range holds now: they are fixed from here on."""
    campaign.opened_by, campaign.opened_at = by, now
    campaign.lots, campaign.serials = list(range_.lots), list(range_.serials)
    campaign.made_from, campaign.made_to = range_.made_from, range_.made_to
    campaign.full_clean()
    campaign.save()
    campaign.unit_models.set(range_.models)
    rows = [CampaignUnit(campaign=campaign, unit=unit) for unit in range_.units()]
    CampaignUnit.objects.bulk_create(rows)
    return campaign


def addressees(campaign: Campaign) -> list[Addressee]:
    """Whom to write to: the customers in whose trucks units stand that are not done."""
    rows = {row.unit_id: row for row in campaign.units.to_do().select_related("unit__model")}
    installs = (
        Install.objects.current()
        .filter(unit__in=rows)
        .select_related("customer", "tractor")
        .order_by("customer__name", "tractor__truck_number")
    )
    told: dict[int, Addressee] = {}
    for install in installs:
        one = told.setdefault(install.customer_id, Addressee(install.customer, []))
        one.rows.append((rows[install.unit_id], install))
    return list(told.values())


@transaction.atomic
def mark_told(rows: Sequence[CampaignUnit], now: datetime) -> list[CampaignUnit]:
    """Write down that the owner of these knows, and return those that were not told before.

    Of two people who tell at once, one gets them.
    """
    locked = CampaignUnit.objects.select_for_update().filter(pk__in=[row.pk for row in rows])
    untold = list(locked.filter(told_at=None))
    for row in untold:
        row.told_at = now
        row.save()
    return untold


@transaction.atomic
def take_back(rows: Sequence[CampaignUnit]) -> None:
    """Their letter did not go out after all: they are to be told again."""
    for row in rows:
        row.told_at = None
        row.save()


@transaction.atomic
def settle(
    row: CampaignUnit,
    *,
    booking: Booking | None,
    visit: Visit | None,
    done_on: date | None,
    told_at: datetime | None,
) -> None:
    """Write down how far a unit is. Raises ValidationError for what cannot be."""
    kept = CampaignUnit.objects.select_for_update().get(pk=row.pk)
    kept.booking, kept.visit, kept.done_on = booking, visit, done_on
    kept.told_at = kept.told_at or told_at
    kept.full_clean()
    kept.save()
