"""The unit card, read back from its PDF as text and, for the code, as a picture."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse
from pypdf import PdfReader

from fleetcool.models import UnitSystem
from installs.models import Cover, Customer, Expansion, Install, Terms
from reports.exports.pdf import write_unit_card
from reports.knowledge import years
from reports.models import Cause
from service.models import MovementKind
from tests.factories import (
    BatteryBankFactory,
    FindingFactory,
    InstallFactory,
    MovementFactory,
    ReadingFactory,
    ScreenRunFactory,
    TechnicianFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
)

TODAY = date(2025, 9, 3)


@pytest.fixture
def install(db, frida):
    """Frida's truck 77 with unit K-7 in it, commissioned, topped up once, and found to leak."""
    tractor = TractorFactory(customer=Customer.objects.get(code="FRI"), truck_number="77")
    BatteryBankFactory(tractor=tractor)
    unit = UnitFactory(serial="K-7", model=UnitModelFactory(expansion=Expansion.ORIFICE))
    made = InstallFactory(unit=unit, tractor=tractor, installed_by=TechnicianFactory(name="Ines"))
    MovementFactory(install=made)
    MovementFactory(
        install=made,
        at=datetime(2025, 6, 2, 15, tzinfo=UTC),
        movement=MovementKind.ADDED,
        mass_g=85.0486,
    )
    ReadingFactory(install=made)
    ReadingFactory(install=made, taken_at=datetime(2025, 6, 2, 15, tzinfo=UTC), suction_kpa=262)
    FindingFactory(install=made)
    return made


def card(install: Install, user) -> PdfReader:
    file = BytesIO()
    write_unit_card(file, install.unit, user, printed_on=TODAY)
    return PdfReader(file)


def text(install: Install, user) -> str:
    """The words of the card, with every run of space as one."""
    return " ".join(card(install, user).pages[0].extract_text().split())


def test_the_card_is_one_page_with_a_title_and_a_language(install, olga):
    pdf = card(install, olga)
    assert len(pdf.pages) == 1
    assert pdf.metadata.title == "Unit card K-7"
    assert pdf.trailer["/Root"]["/Lang"] == "en"


def test_the_code_leads_to_the_units_own_page(install, olga, settings):
    settings.SITE_URL = "https://cooling.example"
    file = BytesIO()
    write_unit_card(file, install.unit, olga, printed_on=TODAY)
    picture = pypdfium2.PdfDocument(file.getvalue())[0].render(scale=3).to_numpy()
    (code,) = zxingcpp.read_barcodes(picture)
    assert code.text == "https://cooling.example" + reverse("unit", args=["K-7"])


def test_the_card_names_the_unit_its_truck_and_its_bank(install, olga):
    words = text(install, olga)
    for fact in (
        "K-7",
        "R-134a, safety class A1",
        "fixed orifice",
        "Frida's fleet",
        "77",
        install.tractor.vin,
        "Installed on 2024-03-04",
        "Installed by Ines",
        "4 × 105 Ah absorbed glass mat (AGM)",
    ):
        assert fact in words


def test_quantities_are_in_the_persons_units(install, olga):
    olga.unit_system = UnitSystem.US
    # 520 g = 18.3 oz, 262 kPa = 38.0 psi, 30 °C = 86 °F: defined conversions, NIST SP 811.
    for fact in ("18.3 oz", "38.0", "86.0", "Added in service: 3.0 oz", "suction, psi"):
        assert fact in text(install, olga)
    olga.unit_system = UnitSystem.SI
    for fact in ("520 g", "262", "30.0", "Added in service: 85 g", "suction, kPa"):
        assert fact in text(install, olga)


def test_paper_is_letter_with_us_units_and_a4_without(install, olga):
    olga.unit_system = UnitSystem.US
    assert card(install, olga).pages[0].mediabox.width == 612
    olga.unit_system = UnitSystem.SI
    assert card(install, olga).pages[0].mediabox.width == pytest.approx(595.28, abs=0.01)


def test_a_finding_stands_with_its_reason_its_remedy_and_its_caution(install, olga):
    words = text(install, olga)
    assert "Findings of the screening of 2025-09-01" in words
    assert "Refrigerant leak: 97 %, nearly sure" in words
    assert "evaporating depression rose" in words
    assert "Do not just top it up." in words
    assert "Caution: Refrigerant is under pressure" in words


def test_the_card_pictures_the_finding_and_its_forecast(install, olga):
    first_t, last_t = years(
        [datetime(2024, 6, 4, 15, tzinfo=UTC), datetime(2025, 6, 2, 15, tzinfo=UTC)]
    )
    depression = {
        "feature": "evaporating_depression_k",
        "points": [[first_t, 17.0, 1.0], [last_t, 23.0, 0.2]],
        "bands": [[first_t, last_t, 15.0, 19.0]],
    }
    path = [[last_t, 1.0], [last_t + 0.2, 0.9]]
    install.unit.findings.update(picture={"features": [depression], "path": path})
    words = text(install, olga)
    for word in (
        "Evaporating depression, °F",
        "expected: 90 % of readings while sound",
        "given little weight, as a slip",
        "topped up 3.0 oz",
        "Charge by this finding, %",
        "80 % of the nameplate charge",
        "forecast 2025-11-20; 90 %: 2025-10-02 to 2026-02-01",
    ):
        assert word in words
    assert "Lift and depression" not in words
    assert len(card(install, olga).pages) == 1


def test_a_card_without_a_picture_of_its_finding_shows_lift_and_depression(install, olga):
    assert "Lift and depression, °F" in text(install, olga)


def test_a_refrigerant_that_burns_is_the_first_caution(olga):
    unit = UnitFactory(model=UnitModelFactory(refrigerant="R-1234yf"))
    words = text(InstallFactory(unit=unit), olga)
    # ANSI/ASHRAE Standard 34 classes R-1234yf as A2L.
    assert words.index("R-1234yf burns (class A2L)") < words.index("Refrigerant is under pressure")


def test_a_refrigerant_that_does_not_burn_raises_no_such_caution(install, olga):
    assert "burns (class" not in text(install, olga)


def test_local_codes_come_before_the_page(install, olga):
    assert "Local codes, the maker's instructions and licensed practice" in text(install, olga)


def test_cover_ends_by_part_group_from_the_install(install, olga):
    terms = Terms.objects.create(name="Standard", given_from=date(2024, 1, 1))
    Cover.objects.create(terms=terms, part_group="compressor", months=36, run_hours=3000)
    Cover.objects.create(terms=terms, part_group="hoses", months=12)
    words = text(install, olga)
    assert "compressor 2027-03-04 3000" in words
    assert "hoses and fittings 2025-03-04, ended –" in words


def test_long_lists_are_cut_and_say_how_many_are_left(install, olga):
    run = ScreenRunFactory(as_of=date(2025, 9, 2), finished_at=datetime(2025, 9, 2, tzinfo=UTC))
    for cause in (Cause.REFRIGERANT_LEAK, Cause.RESTRICTION, Cause.OVERCHARGE):
        FindingFactory(run=run, install=install, cause=cause)
    for day in range(9):
        at = datetime(2025, 7, 1, 15, tzinfo=UTC) + timedelta(days=day)
        ReadingFactory(install=install, taken_at=at)
        MovementFactory(install=install, at=at, movement=MovementKind.ADDED, mass_g=9)
    pdf = card(install, olga)
    words = pdf.pages[0].extract_text()
    assert len(pdf.pages) == 1
    assert "and 1 more" in words  # of three findings
    assert "and 8 more" in words  # of eleven movements
    assert "and 6 more" in words  # of eleven readings


def test_a_card_full_of_long_names_is_still_one_page(install, olga):
    install.customer.name = "Very long name of a fleet " * 7
    install.customer.save()
    evidence = install.unit.findings.get().evidence * 25
    install.unit.findings.update(evidence=evidence)
    assert len(card(install, olga).pages) == 1


def test_a_unit_in_no_truck_and_never_read_still_has_a_card(olga):
    unit = UnitFactory(serial="NEW-1")
    file = BytesIO()
    write_unit_card(file, unit, olga, printed_on=TODAY)
    words = PdfReader(file).pages[0].extract_text()
    assert "NEW-1" in words
    assert "no truck on record" in words
    assert "Not screened yet" in words


def test_no_finding_is_not_called_a_clean_bill(olga):
    ScreenRunFactory()
    words = text(InstallFactory(), olga)
    assert "The screening of 2025-09-01 found nothing, which does not prove it sound" in words


def test_a_letter_that_the_face_lacks_loses_its_mark_only(olga):
    install = InstallFactory(tractor__customer__name="Ñandú Łódź Haulage")
    assert "Ñandú Łódz Haulage" in text(install, olga)


def test_the_same_records_give_the_same_bytes(install, olga):
    first, second = BytesIO(), BytesIO()
    for file in (first, second):
        write_unit_card(file, install.unit, olga, printed_on=TODAY)
    assert first.getvalue() == second.getvalue()


def test_a_fleet_reads_of_a_unit_that_moved_its_own_time_only(install, frank, frida):
    Install.objects.filter(pk=install.pk).update(removed_on=date(2025, 8, 1))
    stranger = TractorFactory(customer=Customer.objects.get(code="FRA"), truck_number="F-91")
    later = InstallFactory(unit=install.unit, tractor=stranger, installed_on=date(2025, 8, 1))
    MovementFactory(
        install=later, at=datetime(2025, 8, 2, tzinfo=UTC), movement=MovementKind.RECOVERED
    )
    of_frida, of_frank = text(install, frida), text(install, frank)
    assert "no truck on record" in of_frida
    assert not {"F-91", "Frank's fleet", "recovered"} & set(of_frida.split())
    assert "F-91" in of_frank
    assert "Added in service: 0.0 oz" in of_frank
    for secret in ("Frida's fleet", install.tractor.vin, "Refrigerant leak"):
        assert secret not in of_frank


def test_a_fleet_does_not_read_the_technicians_names(install, frida):
    assert "Ines" not in text(install, frida)
