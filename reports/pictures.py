"""The charts of a unit's page: what is drawn, and the same numbers as a table."""

from collections import defaultdict
from datetime import date, datetime
from itertools import groupby
from statistics import median
from typing import NamedTuple

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.quantities import DECIMALS, UNIT_LABEL, shown
from fleetcool.wording import number
from installs.models import Unit
from reports.analysis.features import FEATURES, PRESSURE
from reports.exports.charts import Band, Chart, Epoch, Series
from reports.exports.svg import time_chart
from reports.series import DRAWN, unit_series
from reports.wording import feature_label

__all__ = ["Picture", "converted", "day_text", "unit_pictures"]

Points = list[tuple[datetime, float]]

# One chart each: its title and the features that share its axes.
CHARTS = (
    (gettext_lazy("Condensing lift"), ("condensing_lift_k",)),
    (gettext_lazy("Evaporating depression"), ("evaporating_depression_k",)),
    (gettext_lazy("Superheat and subcooling"), ("superheat_k", "subcooling_k")),
    (gettext_lazy("Rest voltage of a 12 V block at 25 °C"), ("rest_v",)),
    (gettext_lazy("Bank and joint resistance"), ("resistance_mohm",)),
    (gettext_lazy("A night's draw, median of each month"), (DRAWN,)),
)
BANDED = ("condensing_lift_k", "evaporating_depression_k")
# So many readings after the install say where a unit began.
FIRST = 3


class Picture(NamedTuple):
    """One chart: its SVG, and its numbers as header and rows of text, the epochs among them."""

    title: str
    svg: SafeString
    header: list[str]
    rows: list[list[str]]


def unit_pictures(unit: Unit, user, as_of: date) -> list[Picture]:
    """Return the charts of all that was taken of a unit and that this person may see."""
    taken = unit_series(unit, user, as_of)
    pictures = []
    for title, names in CHARTS:
        features = {name: taken.features[name] for name in names if name in taken.features}
        epochs = taken.circuit_epochs if names[0] in PRESSURE else taken.bank_epochs
        if features:
            pictures.append(_picture(str(title), features, epochs, user.unit_system))
    return pictures


def _picture(title: str, features: dict[str, Points], epochs: list[Epoch], system: str) -> Picture:
    if DRAWN in features:
        features = {DRAWN: _monthly(features[DRAWN])}
    kind = FEATURES.get(next(iter(features)), "ah")
    unit = UNIT_LABEL[kind, system]
    series = [
        Series(_name(name), converted(points, kind, system)) for name, points in features.items()
    ]
    band = _first_readings(series[0]) if next(iter(features)) in BANDED else None
    chart = Chart(
        title,
        unit,
        series,
        epochs=epochs,
        bands=[band] if band else [],
        description=_described(series, unit, DECIMALS[kind, system]),
    )
    header = [_("Day"), *(f"{line.name}, {unit}" for line in series), _("What began anew")]
    # The helper escapes all text it is given.
    return Picture(
        title,
        mark_safe(time_chart(chart)),
        header,
        _table(series, epochs, DECIMALS[kind, system]),
    )


def _monthly(points: Points) -> Points:
    months = groupby(points, key=lambda point: (point[0].year, point[0].month))
    nights = [list(month) for _number, month in months]
    return [
        (month[len(month) // 2][0], median(value for _when, value in month)) for month in nights
    ]


def converted(points: Points, kind: str, system: str) -> Points:
    """The points with their values in a person's unit."""
    values, _unit = shown([value for _when, value in points], kind, system)
    return list(zip((when for when, _value in points), values.tolist(), strict=True))


def _first_readings(line: Series) -> Band | None:
    """The range of a unit's first readings, once there are later ones to compare with it."""
    if len(line.points) <= FIRST:
        return None
    values = [value for _when, value in line.points[:FIRST]]
    return Band(min(values), max(values), _("range of its first three readings"))


def _described(series: list[Series], unit: str, decimals: int) -> str:
    """The picture in words, for those who hear it."""
    sentences = [
        _("%(name)s: %(n)d points, from %(first)s to %(last)s %(unit)s, %(from)s to %(to)s.")
        % {
            "name": line.name,
            "n": len(line.points),
            "first": number(line.points[0][1], decimals),
            "last": number(line.points[-1][1], decimals),
            "unit": unit,
            "from": day_text(line.points[0][0]),
            "to": day_text(line.points[-1][0]),
        }
        for line in series
    ]
    return " ".join(sentences)


def _table(series: list[Series], epochs: list[Epoch], decimals: int) -> list[list[str]]:
    cells: dict[str, list[str]] = defaultdict(lambda: [""] * (len(series) + 1))
    for column, line in enumerate(series):
        for when, value in line.points:
            cells[day_text(when)][column] = number(value, decimals)
    for epoch in epochs:
        cells[day_text(epoch.day)][-1] = epoch.word
    return [[day, *cells[day]] for day in sorted(cells)]


def _name(feature: str) -> str:
    return _("A night's draw") if feature == DRAWN else capfirst(feature_label(feature))


def day_text(when: date) -> str:
    """A day, or the local day of a moment, as it stands in a table."""
    if isinstance(when, datetime):
        when = timezone.localtime(when)
    return date_format(when, "Y-m-d")
