"""Which trucks to visit next: what is found, what is booked and what is to be measured, by date.

A truck stands in the list once, at the first of its days; all there is to do at it stands together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.paginator import Page, Paginator

from installs.models import Tractor
from reports.models import Ask, Finding

__all__ = ["Due", "Stop", "ask_rows", "asks_of", "due_rows", "stops_page"]

PER_PAGE = 25
SOON = timedelta(days=31)


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
    """What is asked of one unit, with its run."""
    return unit.asks.visible_to(user).latest().most_telling_first().select_related("unit__model")


def stops_page(findings, asks, today: date, number) -> tuple[Page, dict[str, int]]:
    """Return a page of the trucks to visit, and how many trucks and things to do there are in all.

    Costs a fixed number of queries: what stands on no page is read as three columns only.
    """
    keys = [
        (booked_for or today, False, place, tractor, pk, booked_for is not None)
        for place, (pk, tractor, booked_for) in enumerate(
            findings.values_list("pk", "tractor", "concern__last_step__booked_for")
        )
    ]
    keys += [
        (max(by, today), True, place, tractor, pk, False)
        for place, (pk, tractor, by) in enumerate(asks.values_list("pk", "tractor", "by"))
    ]
    by_truck: dict[int, list] = {}
    for key in sorted(keys):
        by_truck.setdefault(key[3], []).append(key)
    counts = {
        "trucks": len(by_truck),
        "soon": sum(due[0][0] <= today + SOON for due in by_truck.values()),
        "findings": sum(not is_ask for _day, is_ask, *_rest in keys),
        "asks": sum(is_ask for _day, is_ask, *_rest in keys),
    }
    page = Paginator(list(by_truck.items()), PER_PAGE).get_page(number)
    page.object_list = _stops(page.object_list, findings, asks)
    return page, counts


def _stops(keys: Sequence[tuple[int, list]], findings, asks) -> list[Stop]:
    of_page = [key for _truck, due in keys for key in due]
    found = (
        findings.select_related("run", "customer", "unit__model", "concern__last_step")
        .defer("picture")
        .in_bulk([key[4] for key in of_page if not key[1]])
    )
    asked = asks.select_related("unit__model").in_bulk([key[4] for key in of_page if key[1]])
    trucks = Tractor.objects.select_related("customer", "yard").in_bulk([one for one, _ in keys])
    return [
        Stop(
            trucks[truck],
            [
                Due(day, ask=asked[pk]) if is_ask else Due(day, found[pk], booked=booked)
                for day, is_ask, _place, _truck, pk, booked in due
            ],
        )
        for truck, due in keys
    ]
