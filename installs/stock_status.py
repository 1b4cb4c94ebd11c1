"""Where units are, in one word each: in stock and free, held, in a truck, nowhere, or gone."""

from collections.abc import Iterator
from typing import NamedTuple

from django.db.models import (
    Case,
    CharField,
    Count,
    Exists,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    TextChoices,
    Value,
    When,
)
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from installs.models import Booking, Install, LeftStock, Unit

__all__ = ["Standing", "StockCount", "count_stock", "standing_words", "with_standing"]


class Standing(TextChoices):
    FREE = "free", gettext_lazy("in stock, free")
    HELD = "held", gettext_lazy("held for a booking")
    IN_TRUCK = "in_truck", gettext_lazy("in a truck")
    NOWHERE = "nowhere", gettext_lazy("in no truck and no yard")
    RETURNED = "returned", gettext_lazy("returned to the maker")
    SCRAPPED = "scrapped", gettext_lazy("scrapped")


IN_STOCK = (Standing.FREE, Standing.HELD)


class StockCount(NamedTuple):
    """How many units of a model lie in a yard; what is not held is free."""

    yard: str
    model: str
    in_stock: int
    held: int

    @property
    def free(self) -> int:
        return self.in_stock - self.held


def with_standing(units: QuerySet[Unit]) -> QuerySet[Unit]:
    """Units with their `standing`, and what it is told by, however many, in one query.

    now_number, now_vin, now_customer and now_since are of the truck a unit stands in; held_number,
    held_vin and held_at of the booking that holds it; was_installed is true after any install.
    """
    now = Install.objects.current().filter(unit=OuterRef("pk")).order_by()
    held = Booking.objects.open().filter(unit=OuterRef("pk")).order_by()
    return units.select_related("model", "yard").annotate(
        now_number=Subquery(now.values("tractor__truck_number")[:1]),
        now_vin=Subquery(now.values("tractor__vin")[:1]),
        now_customer=Subquery(now.values("customer__name")[:1]),
        now_since=Subquery(now.values("installed_on")[:1]),
        held_number=Subquery(held.values("tractor__truck_number")[:1]),
        held_vin=Subquery(held.values("tractor__vin")[:1]),
        held_at=Subquery(held.values("begins_at")[:1]),
        was_installed=Exists(Install.objects.filter(unit=OuterRef("pk"))),
        standing=Case(
            When(now_vin__isnull=False, then=Value(Standing.IN_TRUCK)),
            When(left_stock=LeftStock.RETURNED, then=Value(Standing.RETURNED)),
            When(left_stock=LeftStock.SCRAPPED, then=Value(Standing.SCRAPPED)),
            When(held_vin__isnull=False, then=Value(Standing.HELD)),
            When(yard__isnull=False, then=Value(Standing.FREE)),
            default=Value(Standing.NOWHERE),
            output_field=CharField(),
        ),
    )


def standing_words(unit: Unit) -> str:
    """Say where a unit is, in a sentence without its stop; the unit comes from `with_standing`."""
    if unit.standing == Standing.IN_TRUCK:
        return _("in truck %(truck)s of %(customer)s since %(day)s") % {
            "truck": unit.now_number or unit.now_vin,
            "customer": unit.now_customer,
            "day": unit.now_since,
        }
    if unit.standing in (Standing.RETURNED, Standing.SCRAPPED, Standing.NOWHERE):
        return str(Standing(unit.standing).label)
    words = _("in stock at %(yard)s") if unit.yard else _("in no yard")
    if unit.was_installed and unit.yard:
        words = _("removed from a truck, in stock at %(yard)s")
    words %= {"yard": unit.yard}
    if unit.standing == Standing.HELD:
        words = _("%(where)s, held for truck %(truck)s on %(day)s") % {
            "where": words,
            "truck": unit.held_number or unit.held_vin,
            "day": timezone.localdate(unit.held_at),
        }
    return words


def count_stock(units: QuerySet[Unit]) -> Iterator[StockCount]:
    """Count those of some units, with their standing, that are in stock: by yard and model."""
    stock = units.filter(standing__in=IN_STOCK, yard__isnull=False)
    counted = (
        stock.order_by()
        .values(where=F("yard__name"), what=F("model__name"))
        .annotate(n=Count("pk"), held=Count("pk", filter=Q(standing=Standing.HELD)))
        .order_by("where", "what")
    )
    for row in counted:
        yield StockCount(row["where"], row["what"], row["n"], row["held"])
