"""A record book as it lies on disk."""

from datetime import date, datetime

import pytest
from openpyxl import Workbook

from installs.records.book import BookError, open_book


def cells_of(path, sheet, rows=None):
    return [chunk.cells.to_dict("list") for chunk in open_book(path).chunks(sheet, rows)]


def save(path, *rows, title="Unit models"):
    workbook = Workbook()
    workbook.active.title = title
    for row in rows:
        workbook.active.append(row)
    workbook.save(path)
    return path


def test_a_sheets_name_may_have_capitals_and_spaces(tmp_path):
    assert open_book(save(tmp_path / "b.xlsx", ["model"])).sheets == ["unit_models"]


def test_two_sheets_of_one_name_are_refused(tmp_path):
    workbook = Workbook()
    workbook.active.title = "Unit models"
    workbook.create_sheet("unit_models")
    workbook.save(tmp_path / "b.xlsx")
    with pytest.raises(BookError, match="both “unit_models”"):
        open_book(tmp_path / "b.xlsx")


def test_a_folders_sheets_are_its_csv_files(tmp_path):
    for name in ("units.csv", "Readings.CSV", "notes.txt"):
        (tmp_path / name).write_text("serial\n")
    assert sorted(open_book(tmp_path).sheets) == ["readings", "units"]


def test_one_csv_file_is_a_book_of_one_sheet(tmp_path):
    (tmp_path / "units.csv").write_text("serial\nS-1\n")
    assert cells_of(tmp_path / "units.csv", "units") == [{"serial": ["S-1"]}]


def test_a_file_that_begins_with_a_byte_order_mark_is_read(tmp_path):
    (tmp_path / "units.csv").write_text("serial\nS-1\n", encoding="utf-8-sig")
    assert cells_of(tmp_path, "units") == [{"serial": ["S-1"]}]


def test_short_rows_are_filled_with_blanks(tmp_path):
    (tmp_path / "units.csv").write_text("serial,lot\nS-1\n")
    assert cells_of(tmp_path, "units") == [{"serial": ["S-1"], "lot": [""]}]


def test_columns_without_a_header_are_passed_over(tmp_path):
    (tmp_path / "units.csv").write_text("serial,,lot\nS-1,x,L1\n")
    assert cells_of(tmp_path, "units") == [{"serial": ["S-1"], "lot": ["L1"]}]


def test_a_sheet_with_a_header_alone_is_one_empty_chunk(tmp_path):
    (tmp_path / "units.csv").write_text("serial,lot\n")
    assert cells_of(tmp_path, "units") == [{"serial": [], "lot": []}]


def test_a_blank_sheet_has_nothing(tmp_path):
    (tmp_path / "units.csv").write_text("\n")
    assert cells_of(tmp_path, "units") == []


def test_a_long_sheet_comes_in_chunks(tmp_path):
    (tmp_path / "units.csv").write_text("serial\n1\n2\n3\n")
    chunks = list(open_book(tmp_path).chunks("units", 2))
    assert [chunk.cells.index.tolist() for chunk in chunks] == [[2, 3], [4]]


def test_a_workbook_whose_table_begins_lower_down_keeps_its_row_numbers(tmp_path):
    path = save(tmp_path / "b.xlsx", [], [None, "model"], [None, "K5"])
    [chunk] = open_book(path).chunks("unit_models", None)
    assert chunk.cells["model"].to_dict() == {3: "K5"}


def test_a_midnight_beside_times_is_a_midnight_and_a_day_alone_a_day(tmp_path):
    rows = [[datetime(2024, 3, 4), date(2024, 3, 4)], [datetime(2024, 3, 4, 9), date(2024, 3, 5)]]
    path = save(tmp_path / "b.xlsx", ["at", "made_on"], *rows)
    [cells] = cells_of(path, "unit_models")
    assert cells["at"][0] == datetime(2024, 3, 4) and type(cells["made_on"][0]) is date


@pytest.mark.parametrize("name", ["nowhere.xlsx", "nowhere.csv", "nowhere", "readme.txt"])
def test_what_cannot_be_read_is_said_by_name(tmp_path, name):
    (tmp_path / "readme.txt").write_text("no workbook")
    with pytest.raises(BookError, match=name):
        open_book(tmp_path / name)


def test_an_empty_folder_is_no_book(tmp_path):
    with pytest.raises(BookError, match="no CSV files"):
        open_book(tmp_path)


def test_a_file_in_another_encoding_is_refused_with_the_mend(tmp_path):
    (tmp_path / "units.csv").write_bytes("serial\nü\n".encode("latin-1"))
    with pytest.raises(BookError, match="CSV UTF-8"):
        cells_of(tmp_path, "units")
