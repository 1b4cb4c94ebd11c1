"""The pictures of one finding: what the screen saw, what it expected, and when it may come to harm.

What is normal for a unit is learned from the whole fleet, so each screening keeps with a finding
what its pictures need (see reports.analysis.pictured). Here that is told in words and in a
person's units, beside the record itself, and only as far as the person may see the record.
"""

from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import mark_safe
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from fleetcool.quantities import DECIMALS, UNIT_LABEL, shown
from fleetcool.wording import NO_BREAK, number
from installs.models import Unit
from reports.analysis.features import FEATURES, PRESSURE
from reports.analysis.forecast import NEEDED_CHARGE, NEEDED_H
from reports.as_read import Record
from reports.epochs import bank_epochs, circuit_epochs, gauge_epochs
from reports.exports.charts import Band, Chart, Epoch, Limit, Path, Series, Whisker
from reports.exports.svg import time_chart
from reports.frames import fleet_frames, moment_of
from reports.knowledge import DAY_T, FleetFrames
from reports.models import Finding, ForecastEvent
from reports.pictures import Picture, day_text
from reports.wording import FAR_YEARS, feature_label, forecast_text

__all__ = ["Drawn", "finding_charts", "finding_pictures"]

# A value that the screen gave less weight than this is drawn as a slip. Our own choice.
LITTLE_WEIGHT = 0.5
# An epoch that lies further before the first point is of another series.
BEFORE = timedelta(days=31)
# A forecast is drawn at least so far ahead, and at most so far: what lies beyond is an open end.
LEAST_AHEAD, MOST_AHEAD = timedelta(days=365), timedelta(days=365 * 8)
# What a forecast is of, the kind of quantity, where it comes to harm, and the words for that.
FORECASTS = {
    ForecastEvent.CHARGE: (
        gettext_lazy("Charge by this finding"),
        "ratio",
        NEEDED_CHARGE,
        gettext_lazy("80 % of the nameplate charge"),
    ),
    ForecastEvent.BANK: (
        gettext_lazy("Night at low output by this finding"),
        "hours",
        NEEDED_H,
        gettext_lazy("8 h at low output"),
    ),
}


class Drawn(NamedTuple):
    """A picture as plain data, for a screen or for print, and its numbers as rows of text."""

    chart: Chart
    header: list[str]
    rows: list[list[str]]


def finding_pictures(finding: Finding, user, today: date) -> list[Picture]:
    """Return the pictures of a finding, the most telling first, with the forecast last.

    None where a screening kept none. Fetch `run` with the finding. The queries are as many for
    any finding.
    """
    # The drawing escapes all text it is given.
    return [
        Picture(drawn.chart.title, mark_safe(time_chart(drawn.chart)), drawn.header, drawn.rows)
        for drawn in finding_charts(finding, user, today)
    ]


def finding_charts(finding: Finding, user, today: date) -> list[Drawn]:
    """Return what the pictures of a finding show."""
    features = finding.picture.get("features", [])
    if finding.gauge:
        return [_gauge_chart(finding, feature, user) for feature in features if user.sees_all]
    if not finding.picture:
        return []
    units = Unit.objects.filter(pk=finding.unit_id)
    frames = fleet_frames(units, finding.run.as_of, user)
    record = Record(frames, user.unit_system)
    drawn = [_feature_chart(finding, one, frames, record, user.unit_system) for one in features]
    return [*filter(None, [*drawn, _forecast_chart(finding, frames, user.unit_system, today)])]


def _feature_chart(
    finding: Finding, feature: dict, frames: FleetFrames, record: Record, system: str
) -> Drawn | None:
    name = feature["feature"]
    behind = [record.behind(name, point[0]) for point in feature["points"]]
    # A point with nothing behind it is of another customer's time with the unit.
    seen = [(*point, read) for point, read in zip(feature["points"], behind, strict=True) if read]
    if not seen:
        return None
    kind = FEATURES[name]
    points = [(moment_of(t), float(shown(value, kind, system)[0])) for t, value, _w, _r in seen]
    hollow = [weight < LITTLE_WEIGHT for _t, _v, weight, _r in seen]
    first = points[0][0].date()
    bands = [
        _band([min(own), max(own), low, high], kind, system)
        for first_t, last_t, low, high in feature["bands"]
        if (own := [t for t, *_rest in seen if first_t <= t <= last_t])
    ]
    epochs = circuit_epochs(frames, system) if name in PRESSURE else bank_epochs(frames)
    epochs = [epoch for epoch in epochs if epoch.day >= first - BEFORE]
    epochs += _onset(finding)
    gauges = gauge_epochs(record.gauged(name, [when for when, _value in points]))
    label = capfirst(feature_label(name))
    chart = Chart(
        label,
        UNIT_LABEL[kind, system],
        [Series(_("as the screen sees it"), points, hollow, joined=False)],
        epochs=[*epochs, *gauges],
        bands=bands,
        hollow_word=_("given little weight, as a slip"),
        description=_described(finding, label, points, bands, hollow, kind, system),
    )
    unit, decimals = UNIT_LABEL[kind, system], DECIMALS[kind, system]
    header = [
        _("Day"),
        _("As the screen sees it, %(unit)s") % {"unit": unit},
        _("As read, %(unit)s") % {"unit": unit},
        _("What was read or done"),
    ]
    rows = [
        [
            day_text(when),
            number(value, decimals),
            number(shown(read.value, kind, system)[0], decimals),
            "; ".join(filter(None, [read.words, _weight_remark(weight)])),
        ]
        for (when, value), (_t, _v, weight, read) in zip(points, seen, strict=True)
    ]
    rows += [[day_text(epoch.day), "", "", epoch.word] for epoch in epochs]
    return Drawn(chart, header, sorted(rows, key=lambda row: row[0]))


def _forecast_chart(
    finding: Finding, frames: FleetFrames, system: str, today: date
) -> Drawn | None:
    if not finding.forecast_on:
        return None
    title, kind, needed, limit_word = FORECASTS[finding.forecast_event]
    as_of, path = finding.run.as_of, finding.picture.get("path", [])
    limit = float(shown(needed, kind, system)[0])
    # What came before this person's own time with the unit is another customer's.
    own_t = frames.installs["installed_t"].min() - DAY_T
    points = [
        (moment_of(t), float(shown(value, kind, system)[0])) for t, value in path if t >= own_t
    ]
    so_far = [point for point in points if point[0] <= moment_of(frames.as_of_t)]
    first = so_far[0][0].date() if so_far else as_of
    end = _horizon(finding, first)
    ahead = _until([*so_far[-1:], *points[len(so_far) :]], end)
    paths = [Path(_("reckoned so far"), so_far)] if so_far else []
    paths += [Path(_("expected"), ahead, ahead=True)] if len(ahead) > 1 else []
    circuit = finding.forecast_event == ForecastEvent.CHARGE
    epochs = circuit_epochs(frames, system) if circuit else bank_epochs(frames)
    epochs = [epoch for epoch in epochs if epoch.day >= first]
    onset = _onset(finding)
    now = Epoch(as_of, _("today") if as_of == today else _("screened"), "now")
    whisker = Whisker(
        low=_noon(min(finding.forecast_low, end)),
        middle=_noon(finding.forecast_on) if finding.forecast_on <= end else None,
        high=_noon(min(finding.forecast_high, end)),
        value=limit,
        word=_whisker_word(finding),
        open_end=finding.forecast_high > end,
    )
    unit, decimals = UNIT_LABEL[kind, system], DECIMALS[kind, system]
    chart = Chart(
        str(title),
        unit,
        epochs=[*epochs, *onset, now],
        paths=paths,
        limit=Limit(limit, str(limit_word)),
        whisker=whisker,
        description=" ".join(
            [capfirst(forecast_text(finding)) + ".", capfirst(whisker.word) + "."]
        ),
    )
    rows = [[day_text(when), number(value, decimals), _("reckoned")] for when, value in so_far]
    rows += [[day_text(epoch.day), "", epoch.word] for epoch in chart.epochs]
    rows += [
        [day_text(day), number(limit, decimals), word]
        for day, word in (
            (finding.forecast_low, _("forecast: 95 % sure not before")),
            (finding.forecast_on, _("forecast: as likely before as after")),
            (finding.forecast_high, _("forecast: 95 % sure not after")),
        )
        if day.year - as_of.year <= FAR_YEARS
    ]
    header = [_("Day"), f"{title}, {unit}", _("Remark")]
    return Drawn(chart, header, sorted(rows, key=lambda row: row[0]))


def _gauge_chart(finding: Finding, feature: dict, user) -> Drawn:
    """One gauge against all that is known of the units it read, before and after it went off."""
    kind, system = FEATURES[feature["feature"]], user.unit_system
    since = finding.since or date.min
    points = [
        (moment_of(t), float(shown(value, kind, system)[0]), weight < LITTLE_WEIGHT, serial)
        for t, value, weight, serial in feature["points"]
    ]
    parts = [
        (_("before %(month)s"), [point for point in points if point[0].date() < since]),
        (_("from %(month)s on"), [point for point in points if point[0].date() >= since]),
    ]
    series = [
        Series(
            word % {"month": date_format(since, "Y-m")},
            [(when, value) for when, value, _hollow, _serial in part],
            [hollow for *_point, hollow, _serial in part],
            joined=False,
        )
        for word, part in parts
        if part
    ]
    bands = [
        _band(band, kind, system)._replace(word=_("where 9 of 10 readings of a true gauge lie"))
        for band in feature["bands"]
    ]
    label = _("Gauge %(gauge)s: %(feature)s") % {
        "feature": feature_label(feature["feature"]),
        "gauge": finding.gauge,
    }
    unit, decimals = UNIT_LABEL[kind, system], DECIMALS[kind, system]
    chart = Chart(
        label,
        unit,
        series,
        epochs=_onset(finding),
        bands=bands,
        hollow_word=_("given little weight, as a slip"),
        description=_described(
            finding,
            label,
            [point[:2] for point in points],
            bands,
            [point[2] for point in points],
            kind,
            system,
        ),
    )
    header = [_("Day"), _("Unit"), _("Off by, %(unit)s") % {"unit": unit}, _("Remark")]
    rows = [
        [
            day_text(moment_of(t)),
            serial,
            number(shown(value, kind, system)[0], decimals),
            _weight_remark(weight),
        ]
        for t, value, weight, serial in feature["points"]
    ]
    return Drawn(chart, header, rows)


def _band(band: list[float], kind: str, system: str) -> Band:
    first_t, last_t, low, high = band
    low, high = (float(end) for end in shown([low, high], kind, system)[0])
    word = _("expected: 90 % of readings while sound")
    return Band(low, high, word, moment_of(first_t).date(), moment_of(last_t).date())


def _onset(finding: Finding) -> list[Epoch]:
    if finding.since is None:
        return []
    word = _("since about %(month)s") % {"month": date_format(finding.since, "Y-m")}
    return [Epoch(finding.since, word, "onset")]


def _weight_remark(weight: float) -> str:
    if weight >= LITTLE_WEIGHT:
        return ""
    percent = f"{100 * weight:.0f}{NO_BREAK}%"
    return _("given %(percent)s of its weight, as a slip") % {"percent": percent}


def _horizon(finding: Finding, first: date) -> date:
    """The last day that a forecast is drawn to."""
    as_of = finding.run.as_of
    to_middle = (finding.forecast_on - as_of) * 1.3
    return as_of + min(max(LEAST_AHEAD, as_of - first, to_middle), MOST_AHEAD)


def _until(points: list[tuple[datetime, float]], end: date) -> list[tuple[datetime, float]]:
    """A path of two points cut off at a day."""
    if len(points) < 2 or points[1][0].date() <= end:
        return points
    (start, first), (stop, last) = points
    part = (_noon(end) - start) / (stop - start)
    return [points[0], (_noon(end), first + part * (last - first))]


def _whisker_word(finding: Finding) -> str:
    days = {
        "on": day_text(finding.forecast_on),
        "low": day_text(finding.forecast_low),
        "high": day_text(finding.forecast_high),
    }
    if finding.forecast_high.year - finding.run.as_of.year > FAR_YEARS:
        return _("forecast: 95 %% sure not before %(low)s") % days
    return _("forecast %(on)s; 90 %%: %(low)s to %(high)s") % days


def _noon(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(12)))


def _described(
    finding: Finding,
    label: str,
    points: list[tuple[datetime, float]],
    bands: list[Band],
    hollow: list[bool],
    kind: str,
    system: str,
) -> str:
    """The picture in words, for those who hear it."""
    decimals, unit = DECIMALS[kind, system], UNIT_LABEL[kind, system]
    newest = bands[-1]
    sentences = [
        _("%(name)s: %(n)d points, from %(first)s to %(last)s %(unit)s, %(from)s to %(to)s.")
        % {
            "name": label,
            "n": len(points),
            "first": number(points[0][1], decimals),
            "last": number(points[-1][1], decimals),
            "unit": unit,
            "from": day_text(points[0][0]),
            "to": day_text(points[-1][0]),
        },
        _("Expected while sound: %(low)s to %(high)s %(unit)s.")
        % {
            "low": number(newest.low, decimals),
            "high": number(newest.high, decimals),
            "unit": unit,
        },
    ]
    if finding.since:
        day = date_format(finding.since, "F Y")
        sentences.append(_("The trouble is believed to begin in %(month)s.") % {"month": day})
    if slips := sum(hollow):
        sentences.append(
            ngettext(
                "%(n)d point was given little weight, as a slip.",
                "%(n)d points were given little weight, as slips.",
                slips,
            )
            % {"n": slips}
        )
    return " ".join(sentences)
