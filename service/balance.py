"""The book's balance over a period, per cylinder and per refrigerant."""

from collections.abc import Callable, Hashable
from datetime import datetime
from typing import NamedTuple

from django.db.models import Sum

from service.engineering.balance import COLUMNS, balance
from service.lines import lines_of
from service.models import Cylinder, Movement
from service.querysets import CylinderQuerySet

__all__ = ["Balance", "BalanceRow", "balance_by", "balance_by_cylinder", "moved_outside"]

# Sums of floats leave less than this; a scale shows far more.
NOTHING_G = 0.05


class BalanceRow(NamedTuple):
    """One account: a cylinder, a refrigerant or an owner, and its values by `COLUMNS`, g."""

    account: Hashable
    values: tuple[float, ...]

    @property
    def residual_g(self) -> float:
        return self.values[COLUMNS.index("residual")]

    @property
    def balances(self) -> bool:
        return abs(self.residual_g) < NOTHING_G


class Balance(NamedTuple):
    rows: list[BalanceRow]

    @property
    def balances(self) -> bool:
        return all(row.balances for row in self.rows)


def balance_by_cylinder(start: datetime, end: datetime) -> Balance:
    """The balance of each cylinder in the book, from a moment up to, not including, another."""
    return balance_by(lambda cylinder: cylinder, start, end)


def balance_by(
    account_of: Callable[[Cylinder], Hashable],
    start: datetime,
    end: datetime,
    among: CylinderQuerySet | None = None,
) -> Balance:
    """The balance of what cylinders have in common, such as their refrigerant. Three queries.

    `among` are the cylinders that are looked at; all if not given.
    """
    looked_at = Cylinder.objects.all() if among is None else among
    cylinders = list(
        looked_at.in_book().select_related("owner", "yard").order_by("refrigerant", "code")
    )
    accounts = list(dict.fromkeys(account_of(cylinder) for cylinder in cylinders))
    places = {account: place for place, account in enumerate(accounts)}
    place_of = {cylinder.pk: places[account_of(cylinder)] for cylinder in cylinders}
    held_g = [0.0] * len(accounts)
    for cylinder in cylinders:
        held_g[place_of[cylinder.pk]] += cylinder.held_g
    lines = lines_of(None if among is None else place_of)
    values = balance(
        [place_of[line.cylinder_id] for line in lines],
        [line.kind for line in lines],
        [line.mass_g for line in lines],
        [line.t for line in lines],
        (start.timestamp(), end.timestamp()),
        held_g,
    )
    return Balance(
        [
            BalanceRow(account, tuple(row))
            for account, row in zip(accounts, values.tolist(), strict=True)
        ]
    )


def moved_outside(start: datetime, end: datetime) -> list[tuple[str, str, float]]:
    """Refrigerant, movement and mass, g, of what went by no cylinder of the book in a period.

    From an old record book, from a cylinder known by name only, or before its book began.
    """
    moved = Movement.objects.filter(at__gte=start, at__lt=end)
    counted = Movement.objects.counted().values("pk")
    outside = moved.exclude(pk__in=counted).values_list("unit__model__refrigerant", "movement")
    sums = outside.annotate(mass_g=Sum("mass_g")).order_by("unit__model__refrigerant", "movement")
    return list(sums)
