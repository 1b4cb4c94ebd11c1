"""The job packet, read back from its PDF as text and, for the code, as a picture."""

from datetime import UTC, date, datetime
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from fleetcool.models import UnitSystem
from installs.models import Booking, FitCheck, InstallStep, SheetLine
from installs.step_words import step_cautions, step_how
from reports.exports.job_packet import write_job_packet
from service.measures import MEASURES
from tests.factories import (
    BatteryBankFactory,
    BookingFactory,
    TechnicianFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)

TODAY = date(2026, 11, 25)


@pytest.fixture
def booking(db) -> Booking:
    """Truck 77 with unit K-7 held for it."""
    tractor = TractorFactory(truck_number="77", customer__name="North Valley Haulage")
    BatteryBankFactory(tractor=tractor)
    unit = UnitFactory(serial="K-7", model=UnitModelFactory(charge_g=550, name="K5-12"))
    return BookingFactory(tractor=tractor, unit=unit, technician__name="Ines Instala")


def written(booking: Booking, user) -> bytes:
    file = BytesIO()
    write_job_packet(file, Booking.objects.with_all().get(pk=booking.pk), user, printed_on=TODAY)
    return file.getvalue()


def pages(booking: Booking, user) -> list[str]:
    """The words of each page, with every run of space as one."""
    pdf = PdfReader(BytesIO(written(booking, user)))
    return [" ".join(page.extract_text().split()) for page in pdf.pages]


def text(booking: Booking, user) -> str:
    return " ".join(pages(booking, user))


def test_it_has_a_title_a_language_and_its_number_on_every_page(booking, olga):
    pdf = PdfReader(BytesIO(written(booking, olga)))
    assert pdf.metadata.title == "Job packet, truck 77"
    assert pdf.trailer["/Root"]["/Lang"] == "en"
    for number, page in enumerate(pages(booking, olga), start=1):
        assert f"Page {number} of {len(pdf.pages)}" in page
        assert "Printed on 2026-11-25" in page
    assert "Job packet, truck 77" in pages(booking, olga)[1]


@pytest.mark.parametrize("system", UnitSystem.values)
@pytest.mark.parametrize("refrigerant", ["R-134a", "R-290"])
def test_it_is_two_to_four_pages(booking, olga, system, refrigerant):
    olga.unit_system = system
    model = booking.unit.model
    model.refrigerant = refrigerant
    model.save()
    for position in range(8):
        SheetLine.objects.create(
            model=model, part="torque", what=f"Bolt {position}", value="22", position=position
        )
    assert 2 <= len(pages(booking, olga)) <= 4


def test_the_code_leads_to_the_bookings_page(booking, olga, settings):
    settings.SITE_URL = "https://cooling.example"
    picture = pypdfium2.PdfDocument(written(booking, olga))[0].render(scale=3).to_numpy()
    (code,) = zxingcpp.read_barcodes(picture)
    assert code.text == "https://cooling.example" + booking.get_absolute_url()


def test_it_names_truck_unit_bank_and_who_works_when_and_where(booking, olga):
    words = pages(booking, olga)[0]
    for fact in (
        "North Valley Haulage",
        "Truck number 77",
        booking.tractor.vin,
        "Serial K-7",
        "Model K5-12",
        "R-134a, safety class A1",
        # 550 g are 19.4 oz: the definition of the avoirdupois ounce.
        "550 g, 19.4 oz",
        "Draw, high output 58.0 A",
        "Cutoff 11.20 V",
        "4 × 105 Ah absorbed glass mat (AGM)",
        # 14 to 20 h UTC by the shop's clock.
        "2026-11-30 08:00 to 14:00",
        "Ines Instala",
        "US EPA section 609",
        "through the floor",
        "Side of mounting left",
    ):
        assert fact in words


def test_every_step_stands_in_order_with_its_cautions_and_how(booking, olga):
    words = text(booking, olga)
    places = [words.index(f"{n}. {step.label}") for n, step in enumerate(InstallStep, start=1)]
    assert places == sorted(places)
    for step in InstallStep:
        for line in [*step_cautions(step, "R-134a"), *step_how(step)]:
            assert " ".join(line.split()) in words


def test_cautions_come_before_the_instructions(booking, olga):
    words = text(booking, olga)
    for number, step in enumerate(InstallStep, start=1):
        begin = words.index(f"{number}. {step.label}")
        caution = words.index(step_cautions(step, "R-134a")[0], begin)
        assert begin < caution < words.index(f"{number}.1 ", begin)


def test_there_is_room_for_every_measure_of_every_step(booking, olga):
    words = text(booking, olga)
    for groups in MEASURES.values():
        for group in groups:
            for measure in group.measures:
                assert str(measure.label) in words


def test_blanks_name_the_persons_units(booking, olga):
    olga.unit_system = UnitSystem.US
    us = text(booking, olga)
    olga.unit_system = UnitSystem.SI
    si = text(booking, olga)
    assert "Suction pressure psi" in us
    assert "Charged by weight oz" in us
    assert "Suction pressure kPa" in si
    assert "Charged by weight g" in si
    assert "Lowest vacuum micron" in us
    assert "Lowest vacuum micron" in si


def test_what_burns_comes_first_on_the_first_page_and_at_its_steps(booking, olga):
    booking.unit.model.refrigerant = "R-290"
    booking.unit.model.save()
    words = text(booking, olga)
    # ANSI/ASHRAE Standard 34 classes R-290 as A3.
    assert words.index("R-290 burns (class A3)") < words.index("Refrigerant is under pressure")
    # Pressure test, evacuation, charge, battery supply, first run.
    assert words.count("This refrigerant burns") == 5


def test_what_does_not_burn_raises_no_such_caution(booking, olga):
    assert "burns (class" not in text(booking, olga)
    assert "This refrigerant burns" not in text(booking, olga)


def test_the_makers_sheet_is_printed_where_it_was_entered(booking, olga):
    missing = "The maker's sheet was not entered; read it before drilling."
    assert missing in text(booking, olga)
    SheetLine.objects.create(
        model=booking.unit.model, part="hole", what="Pass-through in the floor", value="64 mm"
    )
    words = text(booking, olga)
    assert "Hole Pass-through in the floor 64 mm" in words
    assert missing not in words


def test_the_last_kept_fit_check_of_the_model_is_told(booking, olga):
    assert "Fit check none was kept" in text(booking, olga)
    for day, model, verdict in (
        (18, booking.unit.model, "does_not_carry"),
        (20, booking.unit.model, "marginal"),
        (22, UnitModelFactory(), "carries"),
    ):
        FitCheck.objects.create(
            tractor=booking.tractor,
            unit_model=model,
            asked="",
            verdict=verdict,
            hours_low=6.1,
            hours=7.9,
            hours_high=9.6,
            made_at=datetime(2026, 11, day, 18, tzinfo=UTC),
        )
    words = text(booking, olga)
    assert "marginal: 7.9 h, 6.1 h to 9.6 h; checked on 2026-11-20" in words
    assert "does not carry" not in words


def test_a_unit_not_chosen_yet_is_said_to_be_unknown(olga):
    booking = BookingFactory(unit=None, unit_model=None, pass_through="", mounting_side="")
    words = text(booking, olga)
    assert "Serial to be held" in words
    assert "The unit is not chosen yet: before any work read the refrigerant" in words
    assert words.count("Read the refrigerant on the unit's plate first: it may burn.") == 4
    assert "Hoses go not said: ask the customer" in words


def test_a_technician_without_a_certificate_is_told_to_leave_refrigerant(booking, olga):
    booking.technician = TechnicianFactory(name="Uli")
    booking.save()
    assert "none that counts this day: leave the refrigerant steps" in text(booking, olga)


def test_long_names_still_make_a_packet(booking, olga):
    booking.customer.name = "Very long name of a fleet " * 7
    booking.customer.save()
    booking.note = "Driver waits. " * 60
    booking.save()
    assert len(pages(booking, olga)) <= 5


def test_the_same_booking_gives_the_same_bytes(booking, olga):
    assert written(booking, olga) == written(booking, olga)


def test_it_asks_few_questions_of_the_database(booking, olga, django_assert_max_num_queries):
    YardFactory(customer=None, name="Another")
    with django_assert_max_num_queries(6):
        written(booking, olga)
