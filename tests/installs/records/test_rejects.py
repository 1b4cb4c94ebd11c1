"""Rejected rows come back in a workbook, and load once they are mended."""

from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from installs.records.loader import load_book
from installs.records.rejects import write_rejects
from service.models import Overnight, Reading
from tests.books import a_fleet, a_reading, load_rows, write_workbook

pytestmark = pytest.mark.django_db


@pytest.fixture
def load(tmp_path):
    load_rows(tmp_path, a_fleet())
    return lambda sheets: load_rows(tmp_path, sheets, keep_cells=True)


@pytest.fixture
def file(tmp_path):
    return tmp_path / "rejects.xlsx"


def rows_of(file, sheet):
    return [[cell.value for cell in row] for row in load_workbook(file)[sheet]]


def mend(file, sheet, column, value):
    """Write a value under a header in every row of the rejects."""
    workbook = load_workbook(file)
    headers = [cell.value for cell in workbook[sheet][1]]
    for row in range(2, workbook[sheet].max_row + 1):
        workbook[sheet].cell(row, headers.index(column) + 1).value = value
    workbook.save(file)


def test_a_rejected_row_comes_back_as_it_was_with_its_reason_and_number(load, file):
    write_rejects(load({"readings": [a_reading(), a_reading(serial="S-77")]}), file)
    header, row = rows_of(file, "readings")
    assert header == ["reason", "row", *a_reading()]
    assert row[:2] == ["serial: no unit “S-77” on record; add it under units", 3]
    assert row[2:] == [str(cell) for cell in a_reading(serial="S-77").values()]


def test_a_mended_row_is_taken_as_new(load, file):
    write_rejects(load({"readings": [a_reading(serial="S-77")]}), file)
    mend(file, "readings", "serial", "S-1")
    mended = load_book(file)
    assert mended.accounts["readings"].new == 1 and not mended.notes


def test_there_is_a_sheet_for_each_sheet_with_rejects_and_no_other(load, file):
    unit = {"serial": "S-8", "model": "NOPE"}
    write_rejects(load({"units": [unit], "readings": [a_reading(), a_reading(kind="")]}), file)
    assert load_workbook(file).sheetnames == ["units", "readings"]


def test_where_nothing_was_rejected_the_workbook_says_so_and_loads(load, file):
    write_rejects(load({"readings": [a_reading()]}), file)
    assert rows_of(file, "rejects") == [["nothing was rejected"]]


@pytest.mark.parametrize("text", ["=1+1", "+S", "-S", "@S"])
def test_text_that_looks_like_a_formula_stays_text(load, file, text):
    write_rejects(load({"readings": [a_reading(serial=text)]}), file)
    cell = load_workbook(file)["readings"]["C2"]
    assert (cell.value, cell.data_type) == (text, "s")


def test_a_control_character_does_not_break_the_workbook(load, file):
    write_rejects(load({"readings": [a_reading(serial="S\x07-1")]}), file)
    assert rows_of(file, "readings")[1][2] == "S-1"


def test_rejects_of_a_workbook_keep_their_dates_numbers_and_midnights(load, tmp_path, file):
    nights = [
        {"serial": "S-77", "began_at": began_at, "run_h": 9.5}
        for began_at in (datetime(2024, 6, 4, 22, 30), datetime(2024, 6, 5))
    ]
    book = write_workbook(tmp_path / "book.xlsx", {"overnights": nights})
    write_rejects(load_book(book, keep_cells=True), file)
    assert rows_of(file, "overnights")[1][2:] == ["S-77", datetime(2024, 6, 4, 22, 30), 9.5]
    mend(file, "overnights", "serial", "S-1")
    load_book(file)
    assert list(Overnight.objects.by_time().values_list("began_at", flat=True)) == [
        datetime(2024, 6, 5, 3, 30, tzinfo=UTC),
        datetime(2024, 6, 5, 5, 0, tzinfo=UTC),
    ]


def test_a_sheet_that_was_refused_whole_comes_back_whole(load, file):
    write_rejects(load({"readings": [a_reading(suction_kpa=310)]}), file)
    assert "same quantity" in rows_of(file, "readings")[1][0]


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.booleans(), min_size=1, max_size=10))
def test_good_rows_and_mended_ones_together_are_the_whole_book(load, file, good):
    Reading.objects.all().delete()
    rows = [
        a_reading(serial="S-1" if fine else "S-77", taken_at=f"2024-06-{day:02}T09:30")
        for day, fine in enumerate(good, start=1)
    ]
    write_rejects(load({"readings": rows}), file)
    if not all(good):
        mend(file, "readings", "serial", "S-1")
    load_book(file)
    assert Reading.objects.count() == len(rows)
