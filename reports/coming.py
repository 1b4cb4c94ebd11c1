"""What is coming: how long parts last, how many will fail inside their terms, and who stands out."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

import numpy as np
from dateutil.relativedelta import relativedelta

from reports.analysis.reliability import (
    Coming,
    Lifetimes,
    Survival,
    TooFew,
    Weibull,
    cumulative_hazard,
    foreseen_cost,
    foreseen_failures,
    kaplan_meier,
    weibull,
)
from reports.analysis.standing_out import Compared, compare, corrected
from reports.costs import Costs
from reports.lifetimes import PARTS, YEAR_DAYS, Life, as_lifetimes

__all__ = [
    "HORIZON_MONTHS",
    "Ahead",
    "Group",
    "Lasting",
    "StandingOut",
    "ahead_of",
    "groups_of",
    "lasting_of",
    "narrowed",
    "standing_out",
    "together",
]

HORIZON_MONTHS = (3, 6, 12)


class Ahead(NamedTuple):
    """The next so many months: failures inside terms, and their cost in cents where there is a price."""

    months: int
    failures: Coming
    cost: Coming | None
    of_own_claims: bool


class Lasting(NamedTuple):
    """How the parts of one kind last; `law` is None where there are too few failures."""

    units: int
    lifetimes: Lifetimes | None
    survival: Survival | None
    law: Weibull | None

    @property
    def failures(self) -> int:
        return self.lifetimes.failures if self.lifetimes else 0


class Group(NamedTuple):
    """One part group: its parts and what is ahead of them, nothing where there are too few failures."""

    part_group: str
    lasting: Lasting
    covered: int
    ahead: list[Ahead]


class StandingOut(NamedTuple):
    """One group that was compared: a lot of a model, or a technician."""

    kind: str
    part_group: str
    model: str
    group: Compared


def narrowed(lives: list[Life], model: str = "", lot: str = "") -> list[Life]:
    return [one for one in lives if model in ("", one.model) and lot in ("", one.lot)]


def groups_of(lives: dict[str, list[Life]], costs: Costs, today: date) -> list[Group]:
    """Return each part group with what is ahead of it."""
    return [
        Group(
            group,
            lasting_of(lives[group]),
            sum(_is_covered(one, today) for one in lives[group]),
            ahead_of(lives[group], costs, today),
        )
        for group in PARTS
    ]


def lasting_of(lives: list[Life]) -> Lasting:
    """Return how parts last; the Weibull law only of enough failures."""
    units = len({one.unit for one in lives})
    if not lives:
        return Lasting(0, None, None, None)
    lifetimes = as_lifetimes(lives)
    try:
        law = weibull(lifetimes)
    except TooFew:
        law = None
    survival = kaplan_meier(lifetimes) if lifetimes.failures else None
    return Lasting(units, lifetimes, survival, law)


def ahead_of(lives: list[Life], costs: Costs, today: date) -> list[Ahead]:
    """Return what is ahead of the parts that stand now, a row a horizon; no rows for too few failures."""
    standing = [one for one in lives if one.stands]
    if not standing:
        return []
    ages = np.array([(today - one.began_on).days / YEAR_DAYS for one in standing])
    windows = [
        np.array([_window(one, today, months) for one in standing]) for months in HORIZON_MONTHS
    ]
    # The same records give the same page; the groups are drawn apart, so that they may be added.
    part_group = standing[0].part_group
    rng = np.random.default_rng([today.toordinal(), PARTS.index(part_group)])
    try:
        coming = foreseen_failures(as_lifetimes(lives), ages, windows, rng)
    except TooFew:
        return []
    prices, own = costs.of(part_group)
    return [
        Ahead(months, one, foreseen_cost(one.draws, prices, rng) if prices.size else None, own)
        for months, one in zip(HORIZON_MONTHS, coming, strict=True)
    ]


def together(groups: list[Group]) -> list[Ahead]:
    """Return what is ahead of all groups of which something can be said, added up."""
    told = [group.ahead for group in groups if group.ahead]
    rows = []
    for ones in zip(*told, strict=True):
        costs = [one.cost for one in ones if one.cost]
        rows.append(
            Ahead(
                ones[0].months,
                Coming.of(sum(one.failures.draws for one in ones)),
                Coming.of(sum(cost.draws for cost in costs)) if costs else None,
                all(one.of_own_claims for one in ones),
            )
        )
    return rows


def _window(life: Life, today: date, months: int) -> float:
    """Years from today to the end of the horizon, or of cover if that comes sooner."""
    if life.covered_until is None:
        return 0.0
    end = min(today + relativedelta(months=months), life.covered_until)
    return max((end - today).days, 0) / YEAR_DAYS


def _is_covered(life: Life, today: date) -> bool:
    return life.stands and life.covered_until is not None and life.covered_until >= today


def standing_out(lives: dict[str, list[Life]]) -> list[StandingOut]:
    """Return all that was compared, the least likely chance first, corrected as one family.

    A lot is compared with the other lots of its model. A technician is compared with the others,
    each model's parts being expected to fail as that model's do.
    """
    compared = [one for group in PARTS for one in _compared(group, lives[group])]
    groups = corrected([one.group for one in compared])
    told = [one._replace(group=group) for one, group in zip(compared, groups, strict=True)]
    return sorted(told, key=lambda one: (np.nan_to_num(one.group.p, nan=2.0), one.group.name))


def _compared(part_group: str, lives: list[Life]) -> Iterator[StandingOut]:
    by_model: dict[str, list[Life]] = defaultdict(list)
    for one in lives:
        by_model[one.model].append(one)
    told: list[tuple[Life, float]] = []
    for model, rows in sorted(by_model.items()):
        lifetimes = as_lifetimes(rows)
        try:
            lifetimes.must_tell()
        except TooFew:
            continue
        expected = cumulative_hazard(lifetimes, lifetimes)
        for group in _groups(rows, expected, [one.lot for one in rows]):
            yield StandingOut("lot", part_group, model, group)
        told += zip(rows, expected, strict=True)
    if told:
        rows, expected = [one for one, _n in told], np.array([n for _one, n in told])
        for group in _groups(rows, expected, [one.technician for one in rows]):
            yield StandingOut("technician", part_group, "", group)


def _groups(lives: list[Life], expected, names: list[str]) -> list[Compared]:
    lifetimes = as_lifetimes(lives)
    units = np.array([one.unit for one in lives])
    return compare(names, units, lifetimes.failed, expected, lifetimes.exit - lifetimes.entry)
