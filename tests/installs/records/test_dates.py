"""Dates in the forms that spreadsheets hold them; the shop is in Chicago."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from installs.records.dates import local_days, moments

CHICAGO = ZoneInfo("America/Chicago")
UTC_ZONE = ZoneInfo("UTC")


def read(*cells, zone=CHICAGO):
    """Return the moments of a column of cells, and the reasons by position."""
    column = np.empty(len(cells), dtype=object)
    column[:] = cells
    bad = {}

    def refuse(places, words):
        bad.update({place: words(place) for place in places.tolist()})

    found = [
        moment and moment.replace(tzinfo=UTC) for moment in moments(column, zone, refuse).tolist()
    ]
    return found, bad


def moment_of(cell, zone=CHICAGO):
    found, bad = read(cell, zone=zone)
    assert not bad
    return found[0]


def reason_of(cell):
    return read(cell)[1][0]


MARCH_4 = datetime(2024, 3, 4, 9, 5, tzinfo=CHICAGO)


@pytest.mark.parametrize(
    "cell",
    [
        "2024-03-04T09:05",
        "2024-03-04 09:05",
        "2024-03-04 9:05",
        "2024-03-04T09:05:00",
        "2024-03-04 09:05:00.000",
        "  2024-03-04   09:05 ",
        "2024-03-04T15:05Z",
        "2024-03-04T15:05:00+00:00",
        "2024-03-04T09:05-06:00",
        "2024-03-04 20:35 +0530",
        "2024/03/04 09:05",
        "4 Mar 2024 09:05",
        "04-Mar-2024 9:05 AM",
        "March 4, 2024 9:05 am",
        "20240304 09:05",
        datetime(2024, 3, 4, 9, 5),
        datetime(2024, 3, 4, 9, 4, 59, 999_700),
        45355.378472222219,
        "45355.378472222219",
    ],
)
def test_many_forms_say_five_past_nine_on_the_fourth_of_march(cell):
    assert moment_of(cell) == MARCH_4


@pytest.mark.parametrize(
    "cell", ["2024-03-04", "20240304", "4 March 2024", date(2024, 3, 4), 45355.0, 20240304.0]
)
def test_a_day_without_a_time_is_noon_at_the_shop(cell):
    assert moment_of(cell) == datetime(2024, 3, 4, 12, tzinfo=CHICAGO)


def test_midnight_that_is_written_out_stays_midnight():
    assert moment_of("2024-03-04T00:00") == datetime(2024, 3, 4, tzinfo=CHICAGO)


def test_a_whole_day_number_beside_numbers_with_a_time_is_midnight():
    found, _ = read(45355.0, 45355.5)
    assert found[0] == datetime(2024, 3, 4, tzinfo=CHICAGO)


@pytest.mark.parametrize("cell", ["13/04/2026", "04/13/2026", "13.04.2026"])
def test_a_day_that_cannot_be_a_month_leaves_no_doubt(cell):
    assert moment_of(cell) == datetime(2026, 4, 13, 12, tzinfo=CHICAGO)


def test_the_third_of_the_third_is_the_same_either_way():
    assert moment_of("03/03/2026 10:00") == datetime(2026, 3, 3, 10, tzinfo=CHICAGO)


def test_a_doubtful_order_of_day_and_month_is_refused_with_both_ways_to_say_it():
    reason = reason_of("03/04/2026")
    assert "2026-03-04" in reason and "2026-04-03" in reason


@pytest.mark.parametrize(
    "cell",
    [
        "yesterday",
        "2024-02-30",
        "2024-02-30T10:00",
        "2024-03-04T25:00",
        "2024-03-04 13:00 pm",
        "4 Brumaire 2024",
        "03/04/26",
        "2024",
        "2024-03",
        "12345",
        True,
        timedelta(hours=3),
        1.5,
    ],
)
def test_what_is_no_date_is_refused(cell):
    assert reason_of(cell)


@pytest.mark.parametrize(
    "cell", ["1979-12-31", "2101-06-01", "1900-01-01", "9999-12-31", "0001-01-01"]
)
def test_a_year_that_no_truck_was_on_the_road_is_refused(cell):
    assert "1980" in reason_of(cell)


def test_a_day_to_come_is_taken():
    assert moment_of("2099-05-01")


def test_blank_cells_are_no_date_and_no_fault():
    assert read("", "2024-03-04", " ")[0][::2] == [None, None]


def test_the_hour_that_comes_twice_in_autumn_is_the_first_of_the_two():
    assert moment_of("2024-11-03T01:30") == datetime(2024, 11, 3, 6, 30, tzinfo=UTC)


def test_the_second_of_the_two_is_said_with_its_zone():
    assert moment_of("2024-11-03T01:30-06:00") == datetime(2024, 11, 3, 7, 30, tzinfo=UTC)


def test_the_hour_that_spring_skips_is_read_as_a_clock_not_yet_put_forward():
    assert moment_of("2024-03-10T02:30") == datetime(2024, 3, 10, 8, 30, tzinfo=UTC)


def test_a_column_of_mixed_forms_is_read_cell_by_cell():
    cells = ["2024-03-04T09:05", "odd", 45355.378472222219, "03/04/2026", "2024-03-04 09:05:00", ""]
    found, bad = read(*cells)
    assert [moment == MARCH_4 for moment in found] == [True, False, True, False, True, False]
    assert set(bad) == {1, 3}


@given(st.datetimes(datetime(1980, 1, 2), datetime(2100, 12, 30)), st.sampled_from(["T", " "]))
def test_iso_text_is_read_as_python_reads_it(moment, between):
    expected = moment.replace(tzinfo=CHICAGO).astimezone(UTC)
    assert moment_of(moment.isoformat(between)) == expected


zones = st.timezones().filter(lambda zone: zone.key != "localtime")


@given(st.datetimes(datetime(1980, 1, 3), datetime(2100, 12, 29), timezones=zones))
def test_text_with_a_zone_does_not_depend_on_the_shop(moment):
    assume(moment.utcoffset().total_seconds() % 60 == 0)
    assert moment_of(moment.isoformat()) == moment.astimezone(UTC)


@given(st.integers(0, 44_000), st.integers(0, 86_399))
def test_a_spreadsheets_day_number_gives_back_the_second(days, seconds):
    local = datetime(1980, 1, 1) + timedelta(days=days, seconds=seconds)
    since = local - datetime(1899, 12, 30)
    serial = since.days + since.seconds / 86_400
    assert read(serial, 45355.5, zone=UTC_ZONE)[0][0] == local.replace(tzinfo=UTC)


def test_the_day_of_a_late_evening_is_the_shops_own():
    utc = np.array(["2024-03-05T03:00"], dtype="datetime64[us]")
    assert local_days(utc, CHICAGO).tolist() == [date(2024, 3, 4)]
