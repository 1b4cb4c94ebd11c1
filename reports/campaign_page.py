"""The page of a campaign: how far it is, unit by unit and over time."""

from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from installs.models import Install
from reports.exports.charts import Chart, Series
from reports.exports.svg import time_chart
from service.models import Campaign, CampaignState, CampaignUnit

__all__ = ["Completion", "Counts", "affected", "completion", "counts_of"]

STATES = tuple(CampaignState)


class Counts(NamedTuple):
    """How many units are affected, and how many of them know, are booked, are done."""

    affected: int
    told: int
    booked: int
    done: int


class Completion(NamedTuple):
    """The curve of what is told and done over time, as SVG, and its numbers."""

    title: str
    svg: SafeString
    header: list[str]
    rows: list[list[str]]


def affected(campaign: Campaign, user) -> list[CampaignUnit]:
    """The units of a campaign, those to do first, each with `install`, where it stands now."""
    standing = Install.objects.current().select_related("customer", "tractor")
    rows = (
        campaign.units.visible_to(user)
        .with_all()
        .prefetch_related(Prefetch("unit__installs", standing, to_attr="standing"))
    )
    told = list(rows)
    for row in told:
        row.install = next(iter(row.unit.standing), None)
    return sorted(told, key=lambda row: (STATES.index(row.state), row.unit.serial))


def counts_of(rows: list[CampaignUnit]) -> Counts:
    return Counts(
        len(rows),
        sum(row.told_at is not None for row in rows),
        sum(row.state == CampaignState.BOOKED for row in rows),
        sum(row.state == CampaignState.DONE for row in rows),
    )


def completion(campaign: Campaign, rows: list[CampaignUnit], today: date) -> Completion:
    """Return how many were told and done by each day on which that changed, from the opening on."""
    opened_on = _day(campaign.opened_at)
    told = [_day(row.told_at) for row in rows if row.told_at]
    done = [row.done_on for row in rows if row.done_on]
    days = sorted({opened_on, *told, *done, max(today, opened_on)})
    by_day = [(day, sum(d <= day for d in told), sum(d <= day for d in done)) for day in days]
    title = _("Told and done")
    described = _("By %(day)s %(told)d were told and %(done)d were done.") % {
        "day": by_day[-1][0],
        "told": by_day[-1][1],
        "done": by_day[-1][2],
    }
    lines = [
        Series(pgettext("units", "told"), _steps([(day, told) for day, told, _done in by_day])),
        Series(pgettext("units", "done"), _steps([(day, done) for day, _told, done in by_day])),
    ]
    of_all = _("of %(n)d units") % {"n": len(rows)}
    chart = Chart(title, of_all, lines, description=described)
    table = [[str(day), str(told), str(done)] for day, told, done in by_day]
    # The drawing escapes all text it is given.
    svg = mark_safe(time_chart(chart))
    return Completion(
        title, svg, [_("Day"), pgettext("units", "told"), pgettext("units", "done")], table
    )


def _steps(counts: list[tuple[date, int]]) -> list[tuple[datetime, float]]:
    """A count stays as it is until the day on which it changes."""
    points: list[tuple[datetime, float]] = []
    for day, count in counts:
        if points and points[-1][1] != count:
            points.append((_moment(day) - timedelta(hours=1), points[-1][1]))
        points.append((_moment(day), float(count)))
    return points


def _moment(day: date) -> datetime:
    return datetime.combine(day, time(12), timezone.get_default_timezone())


def _day(at: datetime) -> date:
    return timezone.localtime(at, timezone.get_default_timezone()).date()
