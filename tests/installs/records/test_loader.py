"""A shop's records go in, and every row is accounted for."""

import pytest

from installs.models import (
    BatteryBank,
    Customer,
    Install,
    Tractor,
    Unit,
)
from installs.records import taking
from installs.records.book import BookError
from installs.records.loader import load_book
from service.models import Reading
from tests.books import (
    a_fleet,
    a_reading,
    account,
    load_rows,
    reasons,
    write_folder,
    write_workbook,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def load(tmp_path):
    return lambda sheets, **options: load_rows(tmp_path, sheets, **options)


@pytest.fixture
def fleet(load):
    """A fleet that is on record already."""
    load(a_fleet())


def test_a_first_load_takes_every_row(load):
    result = load(a_fleet())
    assert {name: one.new for name, one in result.accounts.items()} == {
        "customers": 1,
        "tractors": 2,
        "unit_models": 1,
        "units": 2,
        "installs": 1,
        "battery_renewals": 0,
        "readings": 0,
        "overnights": 0,
        "refrigerant": 0,
    }
    assert not result.refused


def test_a_second_load_changes_nothing_and_writes_no_history(load):
    load(a_fleet())
    histories = [model.history for model in (Customer, Tractor, BatteryBank, Unit, Install)]
    before = [history.count() for history in histories]
    result = load(a_fleet())
    assert all(one.unchanged == one.read for one in result.accounts.values())
    assert [history.count() for history in histories] == before


def test_what_is_taken_says_in_its_history_which_book_it_came_from(fleet):
    assert Unit.history.get(serial="S-1").history_change_reason.startswith("record book book")


def test_a_check_says_what_would_happen_and_writes_nothing(load):
    assert account(load(a_fleet(), check=True), "units").new == 2
    assert not Unit.objects.exists() and not Unit.history.exists()


def test_a_crash_in_the_middle_leaves_the_old_state(load, monkeypatch):
    monkeypatch.setattr(taking.Taking, "take", crash_at("installs", taking.Taking.take))
    with pytest.raises(RuntimeError):
        load(a_fleet())
    assert not Customer.objects.exists() and not Unit.objects.exists()


def crash_at(sheet, take):
    def crashing(self, rows):
        if self.sheet.name == sheet:
            raise RuntimeError
        return take(self, rows)

    return crashing


def test_a_workbook_and_a_folder_give_the_same_account(tmp_path):
    sheets = a_fleet() | {"readings": [a_reading(), a_reading(taken_at="03/04/2026")]}
    folder = load_book(write_folder(tmp_path / "book", sheets), check=True)
    workbook = load_book(write_workbook(tmp_path / "book.xlsx", sheets), check=True)
    assert workbook.accounts == folder.accounts
    assert workbook.refused == folder.refused


def test_an_unknown_sheet_and_an_extra_column_are_reported_and_not_fatal(load):
    sheets = a_fleet() | {"tyres": [{"serial": "1"}]}
    sheets["customers"][0]["shoe_size"] = 43
    result = load(sheets)
    assert account(result, "customers").new == 1
    assert any("tyres" in note for note in result.notes)
    assert any("shoe_size" in note for note in result.notes)


def test_a_quantity_in_two_columns_refuses_the_sheet(load, fleet):
    result = load({"readings": [a_reading(suction_kpa=310)]})
    assert account(result, "readings").rejected == 1
    assert "suction_psi and suction_kpa" in reasons(result)[0]


def test_a_sheet_without_its_key_is_refused(load):
    result = load({"units": [{"number": "S-1", "model": "K5-12"}]})
    assert account(result, "units").rejected == 1
    assert "no column serial" in reasons(result)[0]


def test_keys_are_matched_whatever_their_case_and_kept_as_first_written(load, fleet):
    result = load({"units": [{"serial": " s-1 ", "model": "k5-12", "lot": "L2"}]})
    assert account(result, "units").changed == 1
    assert Unit.objects.get(lot="L2").serial == "S-1"


def test_a_column_that_the_sheet_lacks_leaves_what_is_on_record(load, fleet):
    load({"units": [{"serial": "S-1", "model": "K5-12"}]})
    assert Unit.objects.get(serial="S-1").lot == "L1"


def test_a_blank_cell_of_a_column_clears_it(load, fleet):
    load({"units": [{"serial": "S-1", "model": "K5-12", "lot": "", "made_on": ""}]})
    unit = Unit.objects.get(serial="S-1")
    assert unit.lot == "" and unit.made_on is None


def test_a_changed_row_keeps_before_and_after_in_history(load, fleet):
    load({"units": [{"serial": "S-1", "model": "K5-12", "lot": "L9"}]})
    lots = Unit.history.filter(serial="S-1").order_by("history_id").values_list("lot", flat=True)
    assert list(lots) == ["L1", "L9"]


def test_the_same_row_twice_counts_as_unchanged(load):
    sheets = a_fleet()
    sheets["units"].append(sheets["units"][0])
    one = account(load(sheets), "units")
    assert (one.new, one.unchanged) == (2, 1)


def test_the_same_key_with_other_values_is_refused_and_the_earlier_row_named(load):
    sheets = a_fleet()
    sheets["units"].append(sheets["units"][0] | {"lot": "L7"})
    result = load(sheets)
    assert account(result, "units").rejected == 1
    assert "row 2" in reasons(result)[0]


def test_a_repeated_key_is_noticed_across_chunks(load, monkeypatch):
    monkeypatch.setattr("installs.records.loader.CHUNK_ROWS", 2)
    sheets = a_fleet()
    first, second = sheets["units"]
    sheets["units"] += [first, second | {"lot": "L7"}, first | {"serial": "S-3"}]
    one = account(load(sheets), "units")
    assert (one.new, one.unchanged, one.rejected) == (3, 1, 1)


def test_a_row_whose_twin_was_refused_stands_on_its_own(load):
    sheets = a_fleet()
    sheets["units"].insert(0, {"serial": "S-1", "model": "NOPE", "lot": "", "made_on": ""})
    one = account(load(sheets), "units")
    assert (one.new, one.rejected) == (2, 1)


def test_all_reasons_of_a_row_are_given_at_once(load):
    sheets = a_fleet()
    sheets["unit_models"].append(
        {"model": "K6", "refrigerant": "R-999", "charge_g": "lots", "system_v": 36}
    )
    [words] = reasons(load(sheets))
    assert "refrigerant:" in words and "charge_g:" in words and "system_v:" in words


def test_blank_rows_are_passed_over_and_rows_keep_their_number(tmp_path):
    book = tmp_path / "units.csv"
    book.write_text("serial,model\nS-1,NOPE\n\n,\nS-2,NOPE\n")
    result = load_book(book)
    assert [one.row for one in result.refused] == [2, 5]


def test_a_row_with_a_stray_comma_is_refused(tmp_path, fleet):
    book = tmp_path / "units.csv"
    book.write_text("serial,model,lot\nS-8,K5-12,L1,2\nS-9,K5-12\n")
    result = load_book(book)
    assert account(result, "units").new == 1
    assert "more cells" in reasons(result)[0]


def test_what_only_the_database_notices_is_refused_and_its_neighbours_are_taken(load, monkeypatch):
    monkeypatch.setattr("installs.records.sheet.refuse_the_impossible", lambda *args: None)
    sheets = a_fleet()
    sheets["unit_models"] += [
        {"model": f"K{n}", "refrigerant": "R-32", "charge_g": n - 2, "system_v": 12}
        for n in range(5)
    ]
    result = load(sheets)
    assert account(result, "unit_models").rejected == 3
    assert all("A charge is above 0 g" in words for words in reasons(result))


def test_memory_of_keys_survives_a_clash_of_their_marks(load, monkeypatch):
    monkeypatch.setattr(
        "pandas.util.hash_pandas_object", lambda frame, index: frame.iloc[:, 0].map(lambda key: 7)
    )
    assert account(load(a_fleet()), "units").new == 2


def test_reads_do_not_grow_with_the_rows(load, fleet, django_assert_max_num_queries):
    rows = [
        a_reading(taken_at=f"2024-06-{day:02}T{hour:02}:00")
        for day in range(1, 31)
        for hour in range(24)
    ]
    with django_assert_max_num_queries(25):
        load({"readings": rows})
    with django_assert_max_num_queries(25):
        load({"readings": rows})
    assert Reading.objects.count() == 720


def test_a_book_with_one_sheet_that_cannot_be_read_leaves_nothing(tmp_path):
    folder = write_folder(tmp_path / "book", a_fleet())
    (folder / "readings.csv").write_bytes("serial,taken_at\nü,1\n".encode("latin-1"))
    with pytest.raises(BookError, match="readings.csv"):
        load_book(folder)
    assert not Customer.objects.exists()
