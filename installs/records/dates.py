"""Dates and times in the forms that spreadsheets really hold them.

Real dates, the day numbers that a spreadsheet shows when a cell lost its format, ISO 8601 text,
and other text where the order of day and month leaves no doubt.

- A time with no zone is the shop's own. In the hour that the clock repeats in autumn it is read
  as the first; in the hour that it skips in spring, as a clock that was not yet put forward. Text
  with a zone (`2024-11-03T01:30-06:00`) says it exactly.
- A date with no time is noon at the shop: the day is then right in every zone nearby.
- A whole day number beside day numbers with a time is that day's midnight.
"""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from django.utils.timezone import get_default_timezone
from django.utils.translation import gettext as _
from numpy.typing import NDArray

__all__ = ["local_days", "moments", "noon"]

NOON = np.timedelta64(12, "h")
EARLIEST, LATEST = np.datetime64("1980-01-01", "us"), np.datetime64("2101-01-01", "us")
# The days that a spreadsheet counts from, so that 1 March 1900 and later come out right.
DAY_ZERO = datetime(1899, 12, 30)
FIRST_SERIAL, LAST_SERIAL = 29_221, 73_415

# The shapes that a program writes; a column is as a rule all of one, and read in one go.
ISO_SHAPES = [
    (re.compile(pattern + zone), form + directive)
    for pattern, form in (
        (r"\d{4}-\d\d-\d\d", "%Y-%m-%d"),
        (r"\d{4}-\d\d-\d\dT\d\d:\d\d", "%Y-%m-%dT%H:%M"),
        (r"\d{4}-\d\d-\d\d \d\d:\d\d", "%Y-%m-%d %H:%M"),
        (r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", "%Y-%m-%dT%H:%M:%S"),
        (r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d", "%Y-%m-%d %H:%M:%S"),
        (r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{1,6}", "%Y-%m-%dT%H:%M:%S.%f"),
        (r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d\.\d{1,6}", "%Y-%m-%d %H:%M:%S.%f"),
    )
    for zone, directive in (("", ""), (r"(Z|[+-]\d\d:?\d\d)", "%z"))
    if directive == "" or "%H" in form
]
MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
YEAR_LAST = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})")
DAY_MONTH = re.compile(r"(\d{1,2})[ \-]([a-z]{3,9})\.?,?[ \-](\d{4})", re.I)
MONTH_DAY = re.compile(r"([a-z]{3,9})\.? (\d{1,2}),? (\d{4})", re.I)
COMPACT = re.compile(r"(\d{4})(\d\d)(\d\d)")
CLOCK = re.compile(
    r"(\d{1,2}):(\d\d)(?::(\d\d)(?:\.(\d{1,6})\d*)?)? ?([ap]m)?(?: ?(z|utc|[+-]\d\d(?::?\d\d)?))?",
    re.I,
)


def moments(
    cells: NDArray, zone: ZoneInfo, refuse: Callable[[NDArray, Callable[[int], str]], None]
) -> NDArray:
    """Return cells as UTC moments, datetime64[us]; NaT where blank or refused."""
    local = np.full(len(cells), "NaT", dtype="datetime64[us]")
    utc = local.copy()
    is_text = np.fromiter((type(cell) is str for cell in cells), bool, len(cells))
    written = cells != ""
    odd = _read_text(cells, np.flatnonzero(is_text & written), local, utc)
    odd = [*odd, *_read_cells(cells, np.flatnonzero(~is_text), local)]

    reasons: dict[int, str] = {}
    for place in odd:
        try:
            moment = _moment(cells[place])
        except ValueError as error:
            reasons[place] = str(error)
            continue
        if moment is not None and moment.tzinfo:
            utc[place] = moment.astimezone(UTC).replace(tzinfo=None)
        elif moment is not None:
            local[place] = moment
    known = ~np.isnat(local)
    utc[known] = _to_utc(local[known], zone)
    wild = (utc < EARLIEST) | (utc >= LATEST)
    reasons |= {
        place: _("%(value)s lies outside the years 1980 to 2100") % {"value": cells[place]}
        for place in np.flatnonzero(wild).tolist()
    }
    if reasons:
        refuse(np.array(sorted(reasons)), reasons.__getitem__)
    return utc


def local_days(utc: NDArray, zone: ZoneInfo) -> NDArray:
    """Return the days, datetime64[D], that moments in UTC fall on at the shop."""
    there = pd.Series(utc).dt.tz_localize("UTC").dt.tz_convert(zone).dt.tz_localize(None)
    return there.to_numpy().astype("datetime64[D]")


def noon(days: NDArray) -> NDArray:
    """Return noon at the shop of each day, in UTC."""
    return _to_utc(days.astype("datetime64[us]") + NOON, get_default_timezone())


def _to_utc(local: NDArray, zone: ZoneInfo) -> NDArray:
    there = pd.Series(local).dt.tz_localize(
        zone, ambiguous=np.ones(len(local), dtype=bool), nonexistent=pd.Timedelta("1h")
    )
    return there.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy()


def _read_text(cells: NDArray, places: NDArray, local: NDArray, utc: NDArray) -> list[int]:
    """Read ISO text, a shape at a time; return the places of all other text."""
    odd = []
    while len(places):
        first = cells[places[0]]
        shape, form = next((pair for pair in ISO_SHAPES if pair[0].fullmatch(first)), (None, None))
        if form is None:
            odd.append(int(places[0]))
            places = places[1:]
            continue
        texts = pd.Series(cells[places], dtype=object)
        zoned = form.endswith("%z")
        found = pd.to_datetime(texts, format=form, errors="coerce", utc=zoned)
        values = (found.dt.tz_localize(None) if zoned else found).to_numpy("datetime64[us]")
        read = ~np.isnat(values)
        target = utc if zoned else local
        target[places[read]] = values[read] + (NOON if form == "%Y-%m-%d" else np.timedelta64(0))
        places = places[~read]
        impossible = np.fromiter((bool(shape.fullmatch(cells[p])) for p in places), bool)
        odd.extend(places[impossible].tolist())
        places = places[~impossible]
    return odd


def _read_cells(cells: NDArray, places: NDArray, local: NDArray) -> list[int]:
    """Read a workbook's own dates and day numbers; return the places of anything else."""
    odd = []
    numbers = [place for place in places.tolist() if type(cells[place]) in (int, float)]
    any_time = any(not float(cells[place]).is_integer() for place in numbers)
    for place in places.tolist():
        cell = cells[place]
        if isinstance(cell, datetime):
            local[place] = _rounded(cell, timedelta(milliseconds=1))
        elif isinstance(cell, date):
            local[place] = datetime.combine(cell, time(12))
        elif type(cell) in (int, float) and FIRST_SERIAL <= cell < LAST_SERIAL:
            local[place] = _from_serial(cell, midnight=any_time)
        else:
            odd.append(place)
    return odd


def _moment(cell) -> datetime | None:
    """Read one cell; None where it is blank. Raises ValueError with words for the reader."""
    if type(cell) in (int, float) and float(cell).is_integer():
        cell = str(int(cell))
    if type(cell) is not str:
        raise ValueError(_("%(value)s is not a date") % {"value": cell})
    text = " ".join(cell.split())
    if not text:
        return None
    if re.fullmatch(r"\d{5}(\.\d+)?", text) and FIRST_SERIAL <= float(text) < LAST_SERIAL:
        return _from_serial(float(text), midnight=False)
    split = re.fullmatch(r"(.*?\d)(?:,? |T)(\d{1,2}:.*)", text)
    day = _day(split[1] if split else text, text)
    return _at(day, split[2], text) if split else datetime.combine(day, time(12))


def _day(words: str, text: str) -> date:
    if found := YEAR_FIRST.fullmatch(words) or COMPACT.fullmatch(words):
        return _date(*map(int, found.groups()), text)
    if found := YEAR_LAST.fullmatch(words):
        first, second, year = map(int, found.groups())
        if first <= 12 and second <= 12 and first != second:
            raise ValueError(
                _("%(value)s may be either of two days; write %(one)s or %(other)s")
                % {
                    "value": text,
                    "one": f"{year:04}-{first:02}-{second:02}",
                    "other": f"{year:04}-{second:02}-{first:02}",
                }
            )
        return _date(year, min(first, second), max(first, second), text)
    if found := DAY_MONTH.fullmatch(words):
        return _date(int(found[3]), _month(found[2], text), int(found[1]), text)
    if found := MONTH_DAY.fullmatch(words):
        return _date(int(found[3]), _month(found[1], text), int(found[2]), text)
    raise _no_date(text)


def _month(name: str, text: str) -> int:
    if name[:3].lower() not in MONTHS:
        raise _no_date(text)
    return MONTHS.index(name[:3].lower()) + 1


def _date(year: int, month: int, day: int, text: str) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise ValueError(_("there is no such day as %(value)s") % {"value": text}) from None


def _at(day: date, clock: str, text: str) -> datetime:
    found = CLOCK.fullmatch(clock)
    if not found:
        raise _no_date(text)
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    if found[5]:
        if not 1 <= hour <= 12:
            raise ValueError(_("there is no such time as %(value)s") % {"value": text})
        hour = hour % 12 + (12 if found[5].lower() == "pm" else 0)
    try:
        moment = datetime.combine(
            day, time(hour, minute, second, int((found[4] or "0").ljust(6, "0")))
        )
    except ValueError:
        raise ValueError(_("there is no such time as %(value)s") % {"value": text}) from None
    return moment.replace(tzinfo=_offset(found[6])) if found[6] else moment


def _offset(zone: str) -> timezone:
    if zone.lower() in ("z", "utc"):
        return UTC
    minutes = int(zone[1:3]) * 60 + int(zone[3:].replace(":", "") or 0)
    return timezone(timedelta(minutes=-minutes if zone[0] == "-" else minutes))


def _from_serial(number: float, midnight: bool) -> datetime:
    if float(number).is_integer() and not midnight:
        return DAY_ZERO + timedelta(days=number, hours=12)
    return _rounded(DAY_ZERO + timedelta(days=number), timedelta(seconds=1))


def _rounded(moment: datetime, step: timedelta) -> datetime:
    """Take off the noise that a spreadsheet's counting in fractions of a day leaves."""
    since = moment - DAY_ZERO
    return DAY_ZERO + round(since / step) * step


def _no_date(text: str) -> ValueError:
    return ValueError(
        _("%(value)s is not a date that can be read for certain; write it as 2026-04-03 09:30")
        % {"value": text}
    )
