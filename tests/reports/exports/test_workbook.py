"""The fleet workbook, read back by another program's reader and compared with the records."""

from datetime import UTC, date, datetime
from io import BytesIO
from itertools import chain

import openpyxl
import pytest
from django.utils import timezone
from python_calamine import CalamineWorkbook

from fleetcool.models import UnitSystem
from installs.models import Customer, Install, Tractor, Unit
from reports.exports.workbook import write_fleet_workbook
from reports.models import Cause, Finding
from reports.wording import why
from service.models import Movement, MovementKind, Output, Reading, ReadingKind
from tests.factories import (
    BatteryBankFactory,
    BatteryRenewalFactory,
    ConcernFactory,
    CustomerFactory,
    FindingFactory,
    InstallFactory,
    MovementFactory,
    ReadingFactory,
    ScreenRunFactory,
    TractorFactory,
    VisitFactory,
)

SHEETS = [
    "This week",
    "To measure",
    "Trucks",
    "Units",
    "Visits",
    "Refrigerant",
    "Reading notes",
]
WEEK_HEADER = 4


@pytest.fixture
def fleet(frida, frank):
    """Frida's truck with a leaking unit and Frank's with a worn bank, in one screening."""
    run = ScreenRunFactory()
    for code, cause in (("FRI", Cause.REFRIGERANT_LEAK), ("FRA", Cause.BATTERY_WEAR)):
        tractor = TractorFactory(customer=Customer.objects.get(code=code))
        bank = BatteryBankFactory(tractor=tractor)
        BatteryRenewalFactory(bank=bank)
        install = InstallFactory(tractor=tractor)
        ReadingFactory(install=install, kind=ReadingKind.COMMISSIONING, output=Output.LOW)
        ReadingFactory(
            install=install,
            taken_at=datetime(2025, 7, 9, 2, 30, tzinfo=UTC),
            visit=VisitFactory(install=install, complaint="warm at 3 a.m."),
            supply_air_c=11.0,
        )
        MovementFactory(install=install)
        MovementFactory(
            install=install,
            at=datetime(2025, 7, 9, 3, tzinfo=UTC),
            movement=MovementKind.ADDED,
            mass_g=85.0486,
        )
        FindingFactory(run=run, install=install, cause=cause)
    return frida


def written(user, **options) -> CalamineWorkbook:
    file = BytesIO()
    write_fleet_workbook(file, user, **options)
    file.seek(0)
    return CalamineWorkbook.from_filelike(file)


def laid_out(user) -> openpyxl.Workbook:
    file = BytesIO()
    write_fleet_workbook(file, user)
    file.seek(0)
    return openpyxl.load_workbook(file)


def table(book: CalamineWorkbook, sheet: str) -> list[dict]:
    """The rows of a sheet by header; an empty cell is ''."""
    lines = book.get_sheet_by_name(sheet).to_python()
    header, *rows = lines[WEEK_HEADER:] if sheet == "This week" else lines
    return [dict(zip(header, row, strict=True)) for row in rows]


def shop(moment: datetime) -> datetime:
    return moment.astimezone(timezone.get_default_timezone()).replace(tzinfo=None)


def words(book: CalamineWorkbook) -> set[str]:
    lines = chain.from_iterable(book.get_sheet_by_name(s).to_python() for s in SHEETS[:-1])
    return {str(cell) for cell in chain.from_iterable(lines)}


def test_the_sheets_stand_in_order(fleet):
    assert written(fleet).sheet_names == SHEETS


def test_the_writer_accounts_for_every_row(fleet):
    account = write_fleet_workbook(BytesIO(), fleet)
    assert list(account) == SHEETS
    assert [account[sheet] for sheet in SHEETS[:6]] == [1, 0, 1, 1, 2, 2]


def test_this_week_says_of_each_finding_what_the_page_says(fleet):
    finding = Finding.objects.get(customer__code="FRI")
    assert table(written(fleet), "This week") == [
        {
            "Customer": "Frida's fleet",
            "Truck number": finding.tractor.truck_number,
            "VIN": finding.tractor.vin,
            "Unit serial": finding.unit.serial,
            "Gauge": "",
            "Cause": "Refrigerant leak",
            "Probability, %": 0.97,
            "State": "new",
            "Since": date(2025, 2, 1),
            "Why": why(finding, UnitSystem.US),
            "What to do": Cause.REFRIGERANT_LEAK.action,
            "Caution": Cause.REFRIGERANT_LEAK.caution,
            "Forecast": "charge below 80 %",
            "Forecast day": date(2025, 11, 20),
            "Earliest day": date(2025, 10, 2),
            "Latest day": date(2026, 2, 1),
        }
    ]


def test_this_week_says_how_each_finding_stands(fleet):
    finding = Finding.objects.get(customer__code="FRI")
    finding.concern = ConcernFactory(unit=finding.unit, customer=finding.customer)
    finding.save()
    at = datetime(2025, 9, 2, 15, tzinfo=UTC)
    finding.concern.put_off(fleet, "On the coast run", date(2025, 10, 3), at=at)
    [row] = table(written(fleet), "This week")
    assert row["State"] == "put off until 3 October 2025"


def test_this_week_says_for_whom_as_of_when_and_how_many_may_be_false(fleet):
    above = [line[0] for line in written(fleet).get_sheet_by_name("This week").to_python()[:4]]
    assert above[0] == "Trucks to bring in this week, worst first"
    assert above[1] == "For: Frida's fleet"
    assert "As of 2025-09-01" in above[2]
    assert "Units screened: 1." in above[2]
    assert above[2].endswith("expected to be false: 0.0.")
    assert "Local codes and licensed practice come first" in above[3]


def test_this_week_puts_the_soonest_forecast_on_top(olga):
    run = ScreenRunFactory()
    later = FindingFactory(run=run, forecast_on=date(2026, 1, 5))
    sooner = FindingFactory(run=run, probability=0.6)
    serials = [row["Unit serial"] for row in table(written(olga), "This week")]
    assert serials == [sooner.unit.serial, later.unit.serial]


def test_a_doubtful_gauge_names_the_units_it_was_used_on(olga):
    FindingFactory(
        unit=None,
        tractor=None,
        customer=None,
        gauge="G-7",
        touched=["S-1", "S-2"],
        cause=Cause.DOUBTFUL_INSTRUMENT,
        evidence=[],
    )
    (row,) = table(written(olga), "This week")
    assert (row["Gauge"], row["Unit serial"], row["VIN"]) == ("G-7", "S-1, S-2", "")


def test_before_any_screening_this_week_says_so(olga):
    lines = written(olga).get_sheet_by_name("This week").to_python()
    assert lines[2][0] == "No screening has been run yet."
    assert lines[WEEK_HEADER][0] == "Customer"


def test_trucks_show_the_bank_and_the_unit_in_it_now(fleet):
    tractor = Tractor.objects.get(customer__code="FRI")
    assert table(written(fleet), "Trucks") == [
        {
            "Customer": "Frida's fleet",
            "Truck number": tractor.truck_number,
            "VIN": tractor.vin,
            "Model year": 2024,
            "System, V": 12,
            "Battery type": "absorbed glass mat (AGM)",
            "Batteries": 4,
            "One battery at 20 h, Ah": 105,
            "Batteries installed on": date(2024, 3, 1),
            "Last renewal": shop(tractor.bank.renewals.get().at),
            "Unit in it now": Install.objects.get(tractor=tractor).unit.serial,
            "Last visit": datetime(2025, 7, 8, 21, 30),  # Chicago is five hours behind in July
            "Open findings": 1,
        }
    ]


def test_a_truck_with_no_bank_and_no_unit_still_stands_in_the_list(olga):
    tractor = TractorFactory()
    (row,) = table(written(olga), "Trucks")
    assert row["VIN"] == tractor.vin
    assert row["Batteries"] == row["Unit in it now"] == row["Last visit"] == ""
    assert row["Open findings"] == 0


def test_units_show_what_was_added_in_service_without_the_weighed_charge(fleet):
    install = Install.objects.get(customer__code="FRI")
    (row,) = table(written(fleet), "Units")
    assert row["Unit serial"] == install.unit.serial
    assert row["Truck now"] == install.tractor.truck_number
    assert row["Installed on"] == install.installed_on
    assert row["Added in service, oz"] == pytest.approx(3.0)  # 1 oz = 28.3495 g, NIST SP 811
    assert row["Open findings"] == 1


def test_visits_hold_every_measured_value_as_it_was_taken(fleet):
    fleet.unit_system = UnitSystem.SI
    rows = table(written(fleet), "Visits")
    readings = Reading.objects.filter(customer__code="FRI").order_by("-taken_at")
    assert len(rows) == 2
    for row, reading in zip(rows, readings, strict=True):
        assert row == {
            "Taken at": shop(reading.taken_at),
            "Customer": "Frida's fleet",
            "Truck number": reading.tractor.truck_number,
            "Unit serial": reading.unit.serial,
            "Kind": reading.get_kind_display(),
            "Output (empty: standing)": reading.get_output_display(),
            "Ambient, °C": reading.ambient_c,
            "Return air, °C": reading.return_air_c,
            "Supply air, °C": reading.supply_air_c or "",
            "Suction, gauge, kPa": reading.suction_kpa,
            "Discharge, gauge, kPa": reading.discharge_kpa,
            "Suction line, °C": "",
            "Liquid line, °C": "",
            "Rest voltage, V": reading.rest_v,
            "Rested, h": reading.rest_h,
            "Battery, °C": reading.battery_c,
            "Voltage under load, V": reading.load_v,
            "Load, A": reading.load_a,
            "Gauge set": "G1",
            "Complaint": "warm at 3 a.m." if reading.visit else "",
            "Found": "",
            "Done": "",
        }


def test_us_readers_get_psi_fahrenheit_and_ounces(fleet):
    row = table(written(fleet), "Visits")[0]
    # Defined conversions, NIST SP 811: 1 psi = 6.894757 kPa; °F = 1.8 °C + 32.
    assert row["Suction, gauge, psi"] == pytest.approx(310 / 6.894757, abs=1e-3)
    assert row["Ambient, °F"] == pytest.approx(86.0)
    assert table(written(fleet), "Units")[0]["Nameplate charge, oz"] == pytest.approx(
        18.342, abs=1e-3
    )


def test_what_a_logger_sent_is_not_a_visit(olga):
    ReadingFactory(kind=ReadingKind.LOGGER)
    assert table(written(olga), "Visits") == []


def test_refrigerant_tells_what_went_in_from_what_came_out(olga):
    olga.unit_system = UnitSystem.SI
    install = InstallFactory()
    MovementFactory(install=install, mass_g=520)
    MovementFactory(
        install=install,
        at=datetime(2025, 7, 9, 3, tzinfo=UTC),
        movement=MovementKind.RECOVERED,
        mass_g=431,
    )
    recovered, charged = table(written(olga), "Refrigerant")
    assert (recovered["Into the unit, g"], recovered["Out of the unit, g"]) == ("", 431)
    assert (charged["Into the unit, g"], charged["Out of the unit, g"]) == (520, "")
    assert charged["Movement"] == "charged by weight"


def test_reading_notes_explain_lift_probability_and_standing_pressure(fleet):
    notes = dict(written(fleet).get_sheet_by_name("Reading notes").to_python()[1:])
    assert next(iter(notes)) == "Safety first"
    assert "local codes" in notes["Safety first"]
    assert "less the ambient temperature" in notes["Condensing lift"]
    assert "nothing of how much" in notes["Standing pressure is not charge"]
    assert "by chance" in notes["Expected false findings"]


def test_a_fleet_manager_gets_no_word_of_another_fleet(fleet):
    stranger = Install.objects.get(customer__code="FRA")
    found = words(written(fleet))
    for secret in (stranger.unit.serial, stranger.tractor.vin, "Frank's fleet"):
        assert not any(secret in word for word in found)


def test_a_unit_that_moved_on_shows_a_fleet_its_own_time_only(fleet):
    Install.objects.filter(customer__code="FRI").update(removed_on=date(2025, 8, 1))
    unit = Unit.objects.get(installs__customer__code="FRI")
    stranger = TractorFactory(customer=Customer.objects.get(code="FRA"))
    install = InstallFactory(unit=unit, tractor=stranger, installed_on=date(2025, 8, 1))
    at = datetime(2025, 8, 9, tzinfo=UTC)
    ReadingFactory(install=install, taken_at=at)
    MovementFactory(install=install, at=at, movement=MovementKind.ADDED, mass_g=99)

    book = written(fleet)
    (row,) = table(book, "Units")
    assert (row["Customer now"], row["VIN"]) == ("", "")
    assert row["Last reading"] == datetime(2025, 7, 8, 21, 30)
    assert row["Added in service, oz"] == pytest.approx(3.0)
    assert len(table(book, "Visits")) == 2


def test_the_office_may_take_one_customer_alone(fleet, olga):
    book = written(olga, customer=Customer.objects.get(code="FRA"))
    assert {row["Customer"] for row in table(book, "Trucks")} == {"Frank's fleet"}
    assert [len(table(book, sheet)) for sheet in SHEETS[:6]] == [1, 0, 1, 1, 2, 2]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1+1", "\r=1+1", "#N/A"])
def test_text_never_becomes_a_formula(olga, text):
    TractorFactory(truck_number=text, customer=CustomerFactory(name=text))
    sheet = laid_out(olga)["Trucks"]
    for cell in sheet[2][:2]:
        assert cell.data_type == "s"
        assert cell.value == text.replace("\r", "\n")
        assert cell.number_format == "@"


def test_control_characters_are_left_out(olga):
    TractorFactory(truck_number="1\x0101\x1f\ufffe7\x0b")
    assert table(written(olga), "Trucks")[0]["Truck number"] == "1017"


def test_every_table_has_a_frozen_header_filters_and_print_set_up(fleet):
    book = laid_out(fleet)
    for sheet in book.worksheets[:5]:
        header = WEEK_HEADER + 1 if sheet.title == "This week" else 1
        assert sheet.freeze_panes == f"C{header + 1}"
        assert sheet.auto_filter.ref == f"A{header}:{sheet.dimensions.split(':')[1]}"
        assert sheet.print_title_rows == f"${header}:${header}"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.page_setup.fitToHeight == 0
        assert sheet.oddFooter.right.text == "Page &P of &N"
        assert sheet.column_dimensions["A"].width >= 10


def test_numbers_and_dates_have_formats_of_their_own(fleet):
    sheet = laid_out(fleet)["Visits"]
    formats = {cell.value: sheet.cell(2, cell.column).number_format for cell in sheet[1]}
    assert formats["Taken at"] == "yyyy-mm-dd hh:mm"
    assert formats["Suction, gauge, psi"] == "#,##0.0"
    assert formats["Rest voltage, V"] == "#,##0.00"
    assert laid_out(fleet)["This week"].cell(6, 7).number_format == "0.0%"


def test_the_number_of_queries_does_not_grow_with_the_fleet(olga, django_assert_num_queries):
    run = ScreenRunFactory()

    def more():
        for _ in range(3):
            install = InstallFactory()
            ReadingFactory(install=install)
            MovementFactory(install=install)
            FindingFactory(run=run, install=install)

    more()
    with django_assert_num_queries(9):
        write_fleet_workbook(BytesIO(), olga)
    more()
    with django_assert_num_queries(9):
        write_fleet_workbook(BytesIO(), olga)
    assert Movement.objects.count() == 6
