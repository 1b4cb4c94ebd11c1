"""How fast units lose refrigerant, from what was put into them, by both published methods."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import NamedTuple

from django.conf import settings
from django.db.models import QuerySet
from django.utils import timezone

from installs.models import Unit
from service.engineering.charge import co2e_kg, leak_rate_annualizing, leak_rate_rolling
from service.models import Movement, MovementKind

__all__ = ["Addition", "Leak", "leaks_of"]


class Addition(NamedTuple):
    """Refrigerant that made good a loss, and the yearly rate that it shows by itself.

    `rate` is in % of the full charge a year (annualizing method), None where nothing was put in
    before, so that no time is known in which it was lost.
    """

    day: date
    mass_g: float
    days: int | None
    rate: float | None


class Leak(NamedTuple):
    """A unit's losses up to a day: every addition, and the rate of the last year's (rolling)."""

    unit: Unit
    additions: list[Addition]
    rolling: float
    as_of: date

    @property
    def newest(self) -> Addition | None:
        return self.additions[-1] if self.additions else None

    @property
    def added_g(self) -> float:
        return sum(one.mass_g for one in self.additions)

    @property
    def co2e_kg(self) -> float:
        """What the refrigerant that was lost warms, by the report that the shop's law names."""
        return float(co2e_kg(self.added_g, self.unit.model.refrigerant, settings.GWP))


def leaks_of(units: QuerySet[Unit], as_of: date, user) -> list[Leak]:
    """The losses of these units up to a day, as a person may see them, in two queries."""
    moved = Movement.objects.visible_to(user).filter(unit__in=units.values("pk"))
    by_unit = defaultdict(list)
    for unit_id, at, kind, mass_g in moved.order_by("at").values_list(
        "unit_id", "at", "movement", "mass_g"
    ):
        if _day(at) <= as_of:
            by_unit[unit_id].append((_day(at), kind, mass_g))
    return [
        _leak(unit, by_unit[unit.pk], as_of)
        for unit in units.select_related("model").order_by("serial")
    ]


def _leak(unit: Unit, moved: list[tuple[date, str, float]], as_of: date) -> Leak:
    additions = list(_additions(moved, unit.model.charge_g))
    rolling = leak_rate_rolling(
        [0] * len(additions),
        [one.mass_g for one in additions],
        [(as_of - one.day).days for one in additions],
        [unit.model.charge_g],
    )
    return Leak(unit, additions, float(rolling[0]), as_of)


def _additions(moved: Iterable[tuple[date, str, float]], charge_g: float) -> Iterable[Addition]:
    """What made good a loss, in order of time.

    The first charge fills a unit and makes good nothing; a later one does as far as it is more
    than what was recovered for it.
    """
    last, recovered_g = None, 0.0
    for day, kind, mass_g in moved:
        if kind == MovementKind.RECOVERED:
            recovered_g += mass_g
            continue
        made_good_g = mass_g - (recovered_g if kind == MovementKind.CHARGED else 0)
        first = kind == MovementKind.CHARGED and last is None
        if not first and made_good_g > 0:
            # An addition on the very day of another belongs to it: a day at the least.
            days = max((day - last).days, 1) if last else None
            rate = float(leak_rate_annualizing(made_good_g, charge_g, days)) if days else None
            yield Addition(day, made_good_g, days, rate)
        last, recovered_g = day, 0.0


def _day(at: datetime) -> date:
    return timezone.localtime(at, timezone.get_default_timezone()).date()
