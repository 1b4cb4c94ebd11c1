"""The packet of a claim, read back from its PDF as words and pictures."""

import hashlib
from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp
from django.core.files.base import ContentFile
from PIL import Image
from pypdf import PdfReader

from installs.models import PartGroup, Terms
from reports.exports.claim_packet import write_claim_packet
from service.claiming import approve, submit
from service.models import Claim, VisitPhoto
from tests.factories import CustomerFactory, ScreenRunFactory
from tests.fleets import fleet_of

TODAY = date(2026, 11, 25)
NOW = datetime(2024, 6, 10, 15, tzinfo=UTC)


@pytest.fixture
def claim(db, settings, tmp_path) -> Claim:
    settings.MEDIA_ROOT = tmp_path
    terms = Terms.objects.create(name="Shop terms", given_from=date(2020, 1, 1))
    for group in PartGroup:
        terms.covers.create(part_group=group, months=36)
    fleet = fleet_of(CustomerFactory(name="Quill"), ScreenRunFactory(), truck="T-1", serial="K-7")
    Claim.objects.update(terms=terms)
    return Claim.objects.with_all().get(pk=fleet.claim.pk)


def photograph(claim: Claim, number: int, side: int = 1600) -> None:
    out = BytesIO()
    Image.effect_noise((side, side), 90 + number).save(out, "JPEG", quality=82)
    sha256 = hashlib.sha256(out.getvalue()).hexdigest()
    file = ContentFile(out.getvalue(), name=f"{number}.jpg")
    VisitPhoto.objects.create(visit=claim.visit, file=file, sha256=sha256)


def written(claim: Claim, user) -> bytes:
    file = BytesIO()
    claim = Claim.objects.with_all().get(pk=claim.pk)
    write_claim_packet(file, claim, user, printed_on=TODAY)
    return file.getvalue()


def text(claim: Claim, user) -> str:
    pages = PdfReader(BytesIO(written(claim, user))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_one_file_has_claim_certificate_readings_movements_and_steps(claim, clara, osman):
    submit(claim, claim.logged_by, NOW)
    approve(claim, osman, NOW, why="a clear case, though photos are missing")
    words = text(claim, clara)
    for word in (
        f"Warranty claim {claim.number}",
        "K-7",
        "liquid hose",
        "80.00 USD",
        "Within its months",
        "C-0000",
        "of the day",
        "Charged by weight",
        "a clear case, though photos are missing",
        "The rules as they stood on 2024-06-10",
        "Caution: R-290 burns",
    ):
        assert word in words, word


def test_its_code_opens_the_claims_page(claim, clara):
    page = pypdfium2.PdfDocument(written(claim, clara))[0].render(scale=3).to_pil()
    read = zxingcpp.read_barcodes(page)
    assert read[0].text.endswith(claim.get_absolute_url())


def pictures(pdf: bytes) -> list:
    pages = PdfReader(BytesIO(pdf)).pages
    return [image for page in pages for image in page.images]


def test_a_dozen_photos_are_drawn_into_it_and_no_more(claim, clara):
    for number in range(13):
        photograph(claim, number, side=60)
    assert len(pictures(written(claim, clara))) == 12


def test_a_large_photo_is_drawn_small(claim, clara):
    photograph(claim, 1, side=1600)
    pdf = written(claim, clara)
    assert pictures(pdf)[0].image.size == (1000, 1000)
    # Noise is the worst that a picture can be: a dozen of it fit into a mail of 10 MB.
    assert len(pdf) < 750_000


def test_a_photo_whose_file_is_gone_is_said_to_be(claim, clara):
    photograph(claim, 1, side=40)
    photo = VisitPhoto.objects.get()
    photo.file.storage.delete(photo.file.name)
    assert "The file of this photo is gone" in text(claim, clara)


def test_the_same_claim_gives_the_same_bytes(claim, clara):
    assert written(claim, clara) == written(claim, clara)


def test_amounts_in_it_are_those_of_the_claim(claim, clara):
    claim.lines.create(
        kind="labour",
        part_group="labour",
        name="fit the hose",
        quantity=Decimal("1.5"),
        unit_price=Decimal("90.00"),
        entered_by=clara,
    )
    # 2 × 40.00 + 1.5 × 90.00, by hand.
    assert "Asked 215.00 USD" in text(claim, clara)
