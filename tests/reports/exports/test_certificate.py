"""The certificate on paper, read back from its PDF as text and, for the code, as a picture."""

from datetime import UTC, date, datetime
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from fleetcool.models import UnitSystem
from installs.certificates import issue, withdraw
from installs.models import Certificate, Cover, Override, Terms
from reports.exports.certificate import write_certificate
from tests.factories import CustomerFactory, StepRecordFactory, UnitModelFactory
from tests.installs.proved import MEASURED, proved_commissioning

NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)
TODAY = date(2026, 12, 3)
STROKES = [[[0.1, 0.2], [0.3, 0.1], [0.5, 0.25]], [[0.6, 0.1]]]


def give(customer=None, strokes=(), **unit) -> Certificate:
    commissioning = proved_commissioning(customer, serial="K-7", **unit)
    return issue(commissioning, commissioning.technician, "Dana Driver", list(strokes), NOON)


def let_pass(commissioning, step: str, proof: str, person, why: str, **changed) -> None:
    record = StepRecordFactory(
        commissioning=commissioning,
        step=step,
        measured=MEASURED[step] | changed,
        taken_at=NOON,
    )
    Override.objects.create(record=record, proof=proof, reason=why, person=person, at=NOON)


def written(certificate: Certificate, user) -> bytes:
    file = BytesIO()
    write_certificate(file, certificate, user, printed_on=TODAY)
    return file.getvalue()


def texts(certificate: Certificate, user) -> list[str]:
    """The words of each page, with every run of space as one."""
    pages = PdfReader(BytesIO(written(certificate, user))).pages
    return [" ".join(page.extract_text().split()) for page in pages]


@pytest.fixture
def terms(db):
    made = Terms.objects.create(name="Standard", given_from=date(2024, 1, 1))
    Cover.objects.create(terms=made, part_group="compressor", months=36, run_hours=3000)
    return made


def test_it_is_two_pages_with_a_title_a_language_and_numbers(olga):
    pdf = PdfReader(BytesIO(written(give(), olga)))
    assert len(pdf.pages) == 2
    assert pdf.metadata.title.startswith("Certificate C-")
    assert pdf.trailer["/Root"]["/Lang"] == "en"
    assert "Page 1 of 2" in pdf.pages[0].extract_text()
    assert "Page 2 of 2" in pdf.pages[1].extract_text()


def test_the_code_leads_to_the_public_page(olga, settings):
    settings.SITE_URL = "https://cooling.example"
    certificate = give()
    picture = pypdfium2.PdfDocument(written(certificate, olga))[0].render(scale=3).to_numpy()
    (code,) = zxingcpp.read_barcodes(picture)
    assert code.text == f"https://cooling.example/c/{certificate.token}/"


def test_it_says_what_was_installed_where_and_by_whom(olga, terms):
    certificate = give()
    words = texts(certificate, olga)[0]
    for fact in (
        "Serial K-7",
        "R-134a, safety class A1",
        certificate.commissioning.install.tractor.vin,
        certificate.commissioning.install.customer.name,
        "4 × 105 Ah absorbed glass mat (AGM)",
        "Installed on 2026-11-30",
        "Technician Ines Instala",
        "US EPA section 609, T-",
        "From cylinder CYL-9",
        "Handed over to Dana Driver 2026-11-30",
    ):
        assert fact in words
    # 36 months from 30 November 2026.
    assert "Compressor 36 2029-11-30 3000" in words


def test_every_proof_stands_with_its_number_its_limit_and_its_verdict(olga):
    words = texts(give(), olga)[1]
    for line in (
        "Evacuation: Ines Instala, 2026-11-30",
        "Lowest vacuum 310 micron 500 micron or less Proved",
        "Vibration pads fitted yes yes Proved",
        "Cutoff voltage 11.20 V 11.20 V to 12.20 V Proved",
    ):
        assert line in words


def test_it_is_in_the_readers_units_and_on_the_readers_paper(olga):
    certificate = give()
    # 550 g are 19.4 oz, 310 kPa are 45.0 psi: defined conversions, NIST SP 811.
    olga.unit_system = UnitSystem.US
    assert "Charged by weight 19.4 oz" in texts(certificate, olga)[0]
    assert "Set-point 68.0 °F" in texts(certificate, olga)[0]
    olga.unit_system = UnitSystem.SI
    assert "Charged by weight 550 g" in texts(certificate, olga)[0]
    assert "Set-point 20.0 °C" in texts(certificate, olga)[0]
    width = PdfReader(BytesIO(written(certificate, olga))).pages[0].mediabox.width
    assert width == pytest.approx(595.28, abs=0.01)  # A4, ISO 216


def test_what_changes_afterwards_does_not_change_it(olga, terms):
    certificate = give()
    before = written(certificate, olga)
    install = certificate.commissioning.install
    model, unit, tractor = install.unit.model, install.unit, install.tractor
    model.refrigerant, model.charge_g, model.cutoff_v = "R-290", 300, 10.9
    model.save()
    unit.lot = "changed"
    unit.save()
    tractor.truck_number, tractor.customer = "changed", CustomerFactory()
    tractor.save()
    tractor.bank.delete()
    install.customer.name = "changed"
    install.customer.save()
    certificate.technician.name = "changed"
    certificate.technician.save()
    terms.covers.update(months=1)
    certificate.commissioning.records.update(measured={})
    assert written(Certificate.objects.get(), olga) == before


def test_what_was_let_pass_is_in_plain_sight_on_both_pages(olga, osman):
    commissioning = proved_commissioning()
    why = "Weighed on the small scale, to be charged anew on Monday"
    let_pass(commissioning, "charge", "charge", osman, why, charge_g=520)
    certificate = issue(commissioning, commissioning.technician, "Dana Driver", [], NOON)
    first, second = texts(certificate, olga)
    assert "These proofs did not hold and were let pass" in first
    assert f"look again. Let pass by osman on 2026-11-30: {why}" in first
    assert "Look again. Less than the nameplate asks for." in second
    assert "Let pass by osman" in second


def test_where_all_was_proved_nothing_is_said_of_letting_pass(olga):
    assert "let pass" not in " ".join(texts(give(), olga)).lower()


def test_a_withdrawn_one_says_so_across_each_page(olga, osman):
    certificate = give()
    assert "Withdrawn" not in " ".join(texts(certificate, olga))
    withdraw(certificate, osman, "Wrong serial on the plate", NOON)
    certificate.refresh_from_db()
    first, second = texts(certificate, olga)
    assert "Withdrawn on 2026-11-30: Wrong serial on the plate" in first
    assert "Withdrawn" in second


def test_a_drawn_signature_is_vectors(olga):
    typed, drawn = give(), None
    Certificate.objects.update(signature=STROKES)
    drawn = Certificate.objects.get()

    def strokes(certificate) -> int:
        page = pypdfium2.PdfDocument(written(certificate, olga))[0]
        return sum(1 for _ in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH]))

    assert strokes(drawn) == strokes(typed) + len(STROKES)


def test_a_driver_reads_how_to_come_through_a_night(olga):
    words = texts(give(), olga)[0]
    for line in (
        "Charge first",
        "Begin the night at 68.0 °F or warmer",
        "High output is for a running engine",
        "falls to 11.20 V",
        "a voltage under load, not of a resting battery",
        # Survival floor of an AGM bank of 12 V: `installs.engineering.battery`.
        "Under 10.50 V these batteries are ruined",
        "Keep the drain, the air intake",
        "Call the shop",
    ):
        assert line in words


def test_a_refrigerant_that_burns_is_the_first_caution(olga):
    model = UnitModelFactory(refrigerant="R-1234yf", charge_g=550)
    commissioning = proved_commissioning(model=model)
    commissioning.records.filter(step="first_run").update(
        # R-1234yf condenses and evaporates near R-134a at these pressures: `saturation`.
        measured=MEASURED["first_run"] | {"suction_kpa": 330, "discharge_kpa": 1150}
    )
    certificate = issue(commissioning, commissioning.technician, "Dana Driver", [], NOON)
    words = texts(certificate, olga)[0]
    # ANSI/ASHRAE Standard 34 classes R-1234yf as A2L.
    assert words.index("R-1234yf burns (class A2L)") < words.index("Refrigerant is under pressure")


def test_without_terms_it_sends_people_to_the_shop(olga):
    assert "Ask the shop which terms hold" in texts(give(), olga)[0]


def test_long_names_and_long_reasons_still_fit_two_pages(olga, osman):
    commissioning = proved_commissioning(CustomerFactory(name="Very long name of a fleet " * 7))
    for step, proof, changed in (
        ("charge", "charge", {"charge_g": 520}),
        ("supply", "fuse_to_battery", {"fuse_to_battery_cm": 60}),
        ("mounting", "firm", {"firm": False}),
    ):
        let_pass(commissioning, step, proof, osman, "Seen and answered for. " * 13, **changed)
    certificate = issue(commissioning, commissioning.technician, "D" * 100, STROKES, NOON)
    assert len(texts(certificate, olga)) == 2


def test_the_same_certificate_gives_the_same_bytes(olga):
    certificate = give(strokes=STROKES)
    assert written(certificate, olga) == written(certificate, olga)
