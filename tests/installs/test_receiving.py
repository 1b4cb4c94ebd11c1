"""Units received: by their serials, and by a sheet."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from installs.models import StockMove, Unit
from installs.receiving import MOST_SCANS, receive, receive_sheet
from installs.records.book import BookError
from tests.books import write_folder, write_workbook
from tests.factories import InstallFactory, UnitFactory, UnitModelFactory, YardFactory

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 25, 18, tzinfo=UTC)


@pytest.fixture
def yard():
    return YardFactory(customer=None, name="Shop yard")


@pytest.fixture
def south():
    return YardFactory(customer=None, name="South yard")


@pytest.fixture
def model():
    return UnitModelFactory(name="M5-12")


@pytest.fixture
def take(yard, model, olga):
    def receiving(*serials, at=yard):
        return receive(serials, model, at, "L7", date(2026, 9, 1), olga, AT)

    return receiving


def words(receipt) -> list[tuple[int, str, str]]:
    return [(scan.line, scan.serial, scan.reason) for scan in receipt.refused]


class TestByScan:
    def test_new_serials_come_into_the_yard(self, take, yard, model, olga):
        receipt = take("K-1", "K-2")
        units = list(Unit.objects.all())
        assert receipt.received == units
        assert {(unit.model, unit.lot, unit.yard) for unit in units} == {(model, "L7", yard)}
        assert {move.kind for move in StockMove.objects.all()} == {"received"}
        assert units[0].history.get().history_user == olga

    def test_blank_lines_are_passed_over_but_keep_their_number(self, take):
        receipt = take("K-1", "", "  ", "K-1")
        assert len(receipt.received) == 1
        assert words(receipt) == [(4, "K-1", "scanned twice, first on line 1; delete one")]

    def test_case_does_not_make_another_serial(self, take):
        assert len(take("k-1", "K-1").refused) == 1

    def test_received_twice_changes_nothing(self, take):
        take("K-1")
        receipt = take("k-1")
        assert (len(receipt.received), len(receipt.unchanged)) == (0, 1)
        assert StockMove.objects.count() == 1

    def test_one_in_a_truck_is_refused_and_the_truck_is_named(self, take, model):
        InstallFactory(unit=UnitFactory(serial="K-1", model=model), tractor__truck_number="T-9")
        receipt = take("K-1", "K-2")
        assert words(receipt)[0][:2] == (1, "K-1")
        assert "truck T-9" in words(receipt)[0][2]
        assert [unit.serial for unit in receipt.received] == ["K-2"]

    def test_one_in_another_yard_is_refused_and_the_yard_is_named(self, take, south):
        take("K-1")
        assert "Shop yard; move it" in words(take("K-1", at=south))[0][2]

    def test_a_scrapped_one_is_refused(self, take, model):
        UnitFactory(serial="K-1", model=model, left_stock="scrapped")
        assert "scrapped" in words(take("K-1"))[0][2]

    def test_one_of_another_model_is_refused_and_the_model_is_named(self, take):
        UnitFactory(serial="K-1", model=UnitModelFactory(name="K9-24"))
        assert "K9-24" in words(take("K-1"))[0][2]

    def test_one_back_from_the_maker_is_received_again(self, take, model, yard):
        unit = UnitFactory(serial="K-1", model=model, lot="L1", left_stock="returned")
        assert take("K-1").received == [unit]
        unit.refresh_from_db()
        assert (unit.left_stock, unit.yard, unit.lot) == ("", yard, "L1")

    def test_one_on_record_that_lies_nowhere_is_received(self, take, model, yard):
        unit = UnitFactory(serial="K-1", model=model)
        take("K-1")
        unit.refresh_from_db()
        assert unit.yard == yard

    def test_a_serial_that_is_too_long_is_refused_on_its_line(self, take):
        receipt = take("K" * 61, "K-2")
        assert [(line, serial) for line, serial, _ in words(receipt)] == [(1, "K" * 61)]
        assert len(receipt.received) == 1

    def test_letters_beyond_ascii_are_received_once(self, take):
        take("É-1")
        assert len(take("É-1").unchanged) == 1

    def test_a_customers_yard_holds_no_stock(self, take):
        with pytest.raises(ValidationError, match="the shop's own"):
            take("K-1", at=YardFactory())

    def test_more_lines_than_a_person_scans_are_refused(self, take):
        with pytest.raises(ValidationError, match="At most"):
            take(*map(str, range(MOST_SCANS + 1)))

    def test_a_large_delivery_costs_as_many_queries_as_a_small_one(
        self, take, django_assert_max_num_queries
    ):
        with django_assert_max_num_queries(20):
            take(*(f"K-{number}" for number in range(400)))


class TestBySheet:
    @pytest.fixture
    def units(self, model):
        return [
            {"serial": "S-1", "model": "M5-12", "lot": "L1", "made_on": "2026-09-01"},
            {"serial": "S-2", "model": "M5-12", "lot": "L1", "made_on": "2026-09-01"},
        ]

    def test_new_units_come_into_the_yard(self, tmp_path, units, yard):
        path = write_workbook(tmp_path / "units.xlsx", {"Units": units})
        load, taken = receive_sheet(path, yard, None, AT)
        assert load.accounts["units"].new == 2
        assert [unit.serial for unit in taken] == ["S-1", "S-2"]
        assert Unit.objects.filter(yard=yard).count() == StockMove.objects.count() == 2

    def test_one_csv_file_is_a_sheet_too(self, tmp_path, units, yard):
        path = write_folder(tmp_path / "book", {"units": units}) / "units.csv"
        assert len(receive_sheet(path, yard, None, AT)[1]) == 2

    def test_a_unit_in_a_truck_stays_there(self, tmp_path, units, yard):
        InstallFactory(unit=UnitFactory(serial="S-1"))
        path = write_workbook(tmp_path / "units.xlsx", {"units": units})
        _load, taken = receive_sheet(path, yard, None, AT)
        assert [unit.serial for unit in taken] == ["S-2"]

    def test_a_rejected_row_takes_nothing_with_it(self, tmp_path, units, yard):
        units[1]["model"] = "K99"
        path = write_workbook(tmp_path / "units.xlsx", {"units": units})
        load, taken = receive_sheet(path, yard, None, AT)
        assert [unit.serial for unit in taken] == ["S-1"]
        assert "K99" in load.refused[0].words

    def test_a_whole_record_book_is_no_sheet_of_units(self, tmp_path, units, yard):
        customers = [{"customer": "ALD", "name": "Alder Creek"}]
        path = write_workbook(tmp_path / "units.xlsx", {"units": units, "customers": customers})
        with pytest.raises(BookError, match="customers"):
            receive_sheet(path, yard, None, AT)
        assert not Unit.objects.exists()

    def test_given_twice_it_changes_nothing(self, tmp_path, units, yard):
        path = write_workbook(tmp_path / "units.xlsx", {"units": units})
        receive_sheet(path, yard, None, AT)
        load, taken = receive_sheet(path, yard, None, AT)
        assert (load.accounts["units"].unchanged, taken) == (2, [])

    def test_a_workbook_that_swells_is_refused(self, tmp_path, units, yard, monkeypatch):
        monkeypatch.setattr("installs.receiving.MOST_BYTES", 100)
        path = write_workbook(tmp_path / "units.xlsx", {"units": units})
        with pytest.raises(BookError, match="too large"):
            receive_sheet(path, yard, None, AT)
