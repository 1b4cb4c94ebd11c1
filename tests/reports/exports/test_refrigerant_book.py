"""The workbook of the refrigerant book, read back as an inspector's program would."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pytest
from python_calamine import CalamineWorkbook

from reports.exports.refrigerant_book import write_refrigerant_book
from service import book
from service.models import Holds, MovementKind
from tests.factories import CertifiedFactory, InstallFactory, MovementFactory, TractorFactory
from tests.service.refrigerant import by, in_book

pytestmark = pytest.mark.django_db
FIRST, LAST = date(2024, 1, 1), date(2024, 12, 31)
JUNE = datetime(2024, 6, 1, 17, tzinfo=UTC)


@pytest.fixture
def write(olga):
    olga.unit_system = "si"
    olga.save()

    def read(first=FIRST, last=LAST) -> dict[str, list[dict]]:
        file = BytesIO()
        write_refrigerant_book(file, olga, first, last)
        file.seek(0)
        workbook = CalamineWorkbook.from_filelike(file)
        sheets = {}
        for name in workbook.sheet_names:
            header, *rows = workbook.get_sheet_by_name(name).to_python()
            sheets[name] = [dict(zip(header, row, strict=True)) for row in rows]
        return sheets

    return read


def test_a_movement_stands_with_its_mass_technician_certificate_unit_and_truck(write):
    technician = CertifiedFactory(name="T. Ash", certification_number="T-77")
    install = InstallFactory(unit__serial="S-1", tractor=TractorFactory(truck_number="K-9"))
    hand = book.By(JUNE, JUNE, technician)
    book.move(install.unit, MovementKind.CHARGED, 520.4, in_book(code="C-7"), hand)
    (row,) = write()["Movements"]
    assert row["When"] == datetime(2024, 6, 1, 12)
    assert (row["Into the unit, g"], row["Cylinder"], row["Unit serial"]) == (520.4, "C-7", "S-1")
    assert (row["Technician"], row["Certificate"]) == ("T. Ash", "US EPA section 609 T-77")
    assert (row["Truck number"], row["Counted"]) == ("K-9", "yes")
    assert row["CO2e, kg (AR4)"] == pytest.approx(0.5204 * 1430)
    # 40 CFR 82.42: three years, from memory.
    assert row["Keep until"] == date(2027, 6, 1)


def test_the_sheets_are_those_an_inspector_asks_for(write):
    expected = ["About", "Cylinders", "Movements", "Entries", "Corrected movements"]
    assert list(write()) == [*expected, "Balance", "Leak rates"]


def test_the_balance_adds_up_in_the_sheet(write):
    new, used = in_book(10_000, code="C-7"), in_book(0, Holds.RECOVERED, code="R-7")
    unit = InstallFactory().unit
    book.move(unit, MovementKind.RECOVERED, 380, used, by(JUNE))
    book.move(unit, MovementKind.CHARGED, 520.3, new, by(JUNE))
    book.dispose(used, 300, "Reclaimer, 1 Mill Lane", "W-1", by())
    rows = {row["Cylinder"]: row for row in write()["Balance"]}
    assert rows["C-7"]["Held after, g"] == pytest.approx(9_479.7)
    assert rows["all cylinders"]["Held after, g"] == pytest.approx(9_559.7)
    for row in rows.values():
        flows = ("Held before", "Put into the book", "Bought", "Recovered", "Differences")
        came = sum(row[f"{name}, g"] for name in (*flows, "From other cylinders"))
        gone = ("Charged", "Added", "Sent away", "To other cylinders")
        left = came - sum(row[f"{name}, g"] for name in gone)
        assert left == pytest.approx(row["Held after, g"]) and row["Left over, g"] == 0


def test_a_movement_of_no_cylinder_in_the_book_is_listed_and_not_counted(write):
    MovementFactory(at=JUNE)
    assert [row["Counted"] for row in write()["Movements"]] == ["no"]


def test_other_years_are_left_out(write):
    MovementFactory(at=JUNE)
    assert write(date(2025, 1, 1), date(2025, 12, 31))["Movements"] == []


def test_a_corrected_entry_is_shown_and_marked(write):
    cylinder = in_book(100)
    book.correct_entry(cylinder.entries.get(), 90, "the tare was wrong", by())
    counted = [(row["Mass, g"], row["Counted"]) for row in write()["Entries"]]
    assert counted == [(100, "no, it was corrected"), (90, "yes")]


def test_about_says_what_the_figures_are_and_are_not(write):
    about = repr(write()["About"])
    for words in ("far larger charges", "40 CFR 82.152", "AR4", "Not legal advice"):
        assert words in about


def test_leak_rates_are_those_of_the_last_day(write):
    install = InstallFactory(unit__model__charge_g=500)
    MovementFactory(install=install, at=datetime(2024, 3, 4, 17, tzinfo=UTC), mass_g=500)
    at = datetime(2024, 7, 2, 17, tzinfo=UTC)
    MovementFactory(install=install, at=at, movement=MovementKind.ADDED, mass_g=50)
    (row,) = write()["Leak rates"]
    # Check cases A5 and R2 of 40 CFR 82.152.
    assert row["Annualizing, a year"] == pytest.approx(0.3042, abs=1e-4)
    assert row["Rolling, a year"] == pytest.approx(0.10)


def test_a_corrected_and_a_struck_out_movement_show_all_that_they_said(write):
    cylinder, install = in_book(), InstallFactory()
    movement = book.move(install.unit, MovementKind.CHARGED, 520, cylinder, by(JUNE))
    book.correct(movement, 530, cylinder, by(JUNE), "misread the scale")
    book.strike_out(movement, "told twice", by(JUNE))
    today = date.today()
    rows = write(today - timedelta(days=2), today + timedelta(days=2))["Corrected movements"]
    said = [(row["What"], row["Mass, g"], row["Why"]) for row in rows]
    assert said == [
        ("first written", 520, ""),
        ("corrected", 530, "misread the scale"),
        ("struck out", 530, "told twice"),
    ]
