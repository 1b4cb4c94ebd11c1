"""Which trucks to visit next: what is found, what is booked and what is to be measured, by date.

A truck stands in the list once, at the first of its days; all there is to do at it stands together.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from django.core.paginator import Page, Paginator

from installs.models import Tractor
from reports.models import Ask, Finding

__all__ = ["Due", "Stop", "ask_rows", "asks_of", "due_rows", "stops_page"]

PER_PAGE = 25
SOON = timedelta(days=31)


class Key(NamedTuple):
    """What sorts a thing to do, and where to find it."""

    day: date
    is_ask: bool
    place: int
    pk: int
    tractor: int
    booked: bool


@dataclass(frozen=True)
class Due:
    """One thing to do at a truck by a day: a finding, or a measurement that is asked for."""

    day: date
    finding: Finding | None = None
    ask: Ask | None = None
    booked: bool = False


@dataclass(frozen=True)
class Stop:
    """A truck to visit; its things to do, the first first."""

    tractor: Tractor
    due: list[Due]

    @property
    def day(self) -> date:
        return self.due[0].day

    @property
    def booked(self) -> bool:
        return self.due[0].booked


def due_rows(user, today: date):
    """The findings on trucks that are to be done, worst first: not settled and not put off."""
    findings = Finding.objects.visible_to(user).latest().to_do(today)
    return findings.exclude(tractor=None).worst_first()


def ask_rows(user):
    """The measurements that the newest screening asks for, the soonest first."""
    return Ask.objects.visible_to(user).latest().most_telling_first()


def asks_of(unit, user):
    """What the newest screening asks of one unit, for its page."""
    return unit.asks.visible_to(user).latest().most_telling_first().select_related("unit__model")


def stops_page(findings, asks, today: date, number) -> tuple[Page, dict[str, int]]:
    """Return a page of the trucks to visit, and how many trucks and things to do there are in all.

    Costs a fixed number of queries: what stands on no page is read as three columns only.
    """
    to_do = findings.values_list("pk", "tractor", "concern__last_step__booked_for")
    to_measure = asks.values_list("pk", "tractor", "by")
    keys = [
        Key(booked_for or today, False, place, pk, tractor, booked_for is not None)
        for place, (pk, tractor, booked_for) in enumerate(to_do)
    ]
    keys += [
        Key(max(by, today), True, place, pk, tractor, False)
        for place, (pk, tractor, by) in enumerate(to_measure)
    ]
    by_truck: dict[int, list[Key]] = {}
    for key in sorted(keys):
        by_truck.setdefault(key.tractor, []).append(key)
    counts = {
        "trucks": len(by_truck),
        "soon": sum(due[0].day <= today + SOON for due in by_truck.values()),
        "findings": sum(not key.is_ask for key in keys),
        "asks": sum(key.is_ask for key in keys),
    }
    page = Paginator(list(by_truck.values()), PER_PAGE).get_page(number)
    page.object_list = _stops(page.object_list, findings, asks)
    return page, counts


def _stops(trucks: list[list[Key]], findings, asks) -> list[Stop]:
    keys = [key for due in trucks for key in due]
    found = (
        findings.select_related("run", "customer", "unit__model", "concern__last_step")
        .defer("picture")
        .in_bulk([key.pk for key in keys if not key.is_ask])
    )
    asked = asks.select_related("unit__model").in_bulk([key.pk for key in keys if key.is_ask])
    tractors = Tractor.objects.select_related("customer", "yard")
    tractor = tractors.in_bulk({key.tractor for key in keys})

    def due(key: Key) -> Due:
        if key.is_ask:
            return Due(key.day, ask=asked[key.pk])
        return Due(key.day, found[key.pk], booked=key.booked)

    return [Stop(tractor[keys[0].tractor], [due(key) for key in keys]) for keys in trucks]
