"""From records to lifetimes: what each part of a unit has lasted, and until when it is covered.

A failure is a part of a group that was replaced at a visit, or that a claim names; the group of a
unit then begins anew. A lifetime counts from the unit's first install, and is under watch from the
first day of which the shop has anything on record.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta
from django.db.models import F, Min
from django.utils import timezone

from installs.models import Install, PartGroup, ReplacedPart, Terms, Unit
from reports.analysis.reliability import Lifetimes
from service.models import ClaimLine, LineKind, Settled, Visit, VisitPart

__all__ = ["PARTS", "Life", "Standing", "as_lifetimes", "given_to", "lives"]

# The groups that are things: labour, refrigerant and travel do not fail.
PARTS = (
    PartGroup.COMPRESSOR,
    PartGroup.ELECTRONICS,
    PartGroup.FANS,
    PartGroup.COILS,
    PartGroup.HOSES,
    PartGroup.REMOTE,
)
YEAR_DAYS = 365.25


@dataclass(frozen=True)
class Life:
    """One part of a unit from the day it was put in; it failed on its last day, or is whole still.

    `technician` installed the unit first. `covered_until` is empty for no terms, and by the
    calendar: run hours may end the cover sooner.
    """

    unit: int
    serial: str
    model: str
    lot: str
    technician: str
    part_group: str
    began_on: date
    watched_from: date
    last_on: date
    failed: bool
    stands: bool
    covered_until: date | None


@dataclass(frozen=True)
class Standing:
    """A unit as the records have it: when it came, from when on it was watched, and its last day.

    `install` is its first; `changed_owner` says that it stands, or last stood, in another's truck.
    """

    install: Install
    changed_owner: bool
    watched_from: date
    last_on: date
    stands: bool


def as_lifetimes(rows: list[Life]) -> Lifetimes:
    """Return lifetimes in years; raises ValueError for a row of no length."""
    entry = [(row.watched_from - row.began_on).days / YEAR_DAYS for row in rows]
    ends = [(row.last_on - row.began_on).days / YEAR_DAYS for row in rows]
    return Lifetimes.of(ends, [row.failed for row in rows], entry)


def lives(user, today: date) -> dict[str, list[Life]]:
    """Return the lives of all parts by part group, in a bounded number of queries."""
    failed = _failures(user, today)
    terms = list(_terms(user))
    told: dict[str, list[Life]] = {group: [] for group in PARTS}
    for standing in _standings(user, today):
        given = given_to(standing.install, terms)
        if given is not None and standing.changed_owner and not given.transferable:
            given = None
        for group in PARTS:
            days = failed.get((standing.install.unit_id, group), set())
            told[group] += _lives_of(standing, group, days, given)
    return told


def given_to(first: Install, terms: list[Terms]) -> Terms | None:
    """The terms that a unit is under that was first installed so.

    `terms` are all, the most particular first, as `TermsQuerySet.given_to` orders them; here
    they are matched in memory, because there are few terms and many units.
    """
    return next((given for given in terms if _reaches(given, first)), None)


def _covered_until(
    terms: Terms | None, group: str, first: date, replaced_on: date | None
) -> date | None:
    """The last day on which a part is covered: a new part has the rest of the old, or its own time."""
    covers = terms.covers.all() if terms else ()
    cover = next((cover for cover in covers if cover.part_group == group), None)
    if cover is None:
        return None
    if replaced_on is not None and terms.replaced_part == ReplacedPart.OWN:
        return replaced_on + relativedelta(months=terms.replaced_months)
    return cover.ends_on(first)


def _reaches(terms: Terms, first: Install) -> bool:
    made_on = first.unit.made_on
    if terms.made_from or terms.made_to:
        if made_on is None:
            return False
        if made_on < (terms.made_from or made_on) or made_on > (terms.made_to or made_on):
            return False
    return (
        terms.given_from <= first.installed_on
        and terms.customer_id in (None, first.customer_id)
        and terms.model_id in (None, first.unit.model_id)
    )


def _terms(user):
    return (
        Terms.objects.visible_to(user)
        .prefetch_related("covers")
        .order_by(
            F("customer").asc(nulls_last=True), F("model").asc(nulls_last=True), "-given_from"
        )
    )


def _standings(user, today: date) -> Iterator[Standing]:
    """Every unit that was ever installed; one that was undone on its own day has begun nothing."""
    visited = dict(
        Visit.objects.visible_to(user).values_list("unit").annotate(first=Min("at")).order_by()
    )
    stood: dict[int, list[Install]] = defaultdict(list)
    installs = Install.objects.visible_to(user).exclude(removed_on=F("installed_on"))
    for install in (
        installs.filter(installed_on__lte=today)
        .select_related("unit__model", "installed_by")
        .order_by("installed_on", "pk")
    ):
        stood[install.unit_id].append(install)
    for unit, rows in stood.items():
        first, last = rows[0], rows[-1]
        known = [_day(row.entered_at) for row in rows]
        known += [_day(visited[unit])] if unit in visited else []
        gone = last.removed_on is not None and last.removed_on <= today
        yield Standing(
            first,
            last.customer_id != first.customer_id,
            max(first.installed_on, min(known)),
            last.removed_on if gone else today,
            not gone,
        )


def _failures(user, today: date) -> dict[tuple[int, str], set[date]]:
    """The days on which a part of a group failed, by unit and group; one failure a day."""
    days: dict[tuple[int, str], set[date]] = defaultdict(set)
    replaced = (
        VisitPart.objects.visible_to(user)
        .filter(part_group__in=PARTS)
        # What was logged a second time failed once.
        .exclude(visit__settled=Settled.SAME)
    )
    for unit, group, at in replaced.values_list("visit__unit", "part_group", "visit__at"):
        days[unit, group].add(_day(at))
    claimed = (
        ClaimLine.objects.visible_to(user)
        .filter(kind=LineKind.PART, part_group__in=PARTS)
        .exclude(claim__visit__settled=Settled.SAME)
    )
    for unit, group, at in claimed.values_list("claim__unit", "part_group", "claim__visit__at"):
        # The visit may name no part where the claim does; its day is the one of the new part.
        days[unit, group].add(_day(at))
    return {key: {day for day in some if day <= today} for key, some in days.items()}


def _lives_of(
    standing: Standing, group: str, failed: set[date], terms: Terms | None
) -> Iterator[Life]:
    unit: Unit = standing.install.unit
    technician = standing.install.installed_by
    began_on = standing.install.installed_on
    covered = _covered_until(terms, group, began_on, None)
    watched_from = standing.watched_from
    ends = [(day, True) for day in sorted(failed) if watched_from < day <= standing.last_on]
    ends.append((standing.last_on, False))
    for last_on, fell in ends:
        if last_on > watched_from:
            yield Life(
                unit=unit.pk,
                serial=unit.serial,
                model=unit.model.name,
                lot=unit.lot,
                technician=technician.name if technician else "",
                part_group=group,
                began_on=began_on,
                watched_from=watched_from,
                last_on=last_on,
                failed=fell,
                stands=not fell and standing.stands,
                covered_until=covered,
            )
        if fell:
            began_on = watched_from = last_on
            covered = _covered_until(terms, group, standing.install.installed_on, began_on)


def _day(at) -> date:
    return timezone.localtime(at, timezone.get_default_timezone()).date()
