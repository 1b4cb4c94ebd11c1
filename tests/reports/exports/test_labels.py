"""Sheets of labels, read back from their PDF as text and, for the codes, as a picture."""

from io import BytesIO
from time import process_time

import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse
from pypdf import PdfReader

from fleetcool.models import UnitSystem
from reports.exports.labels import A4_GRID, LETTER_GRID, PER_SHEET, write_labels
from tests.factories import UnitFactory, UnitModelFactory

SITE = "https://cooling.example"
SCALE = 3


@pytest.fixture(autouse=True)
def site(settings):
    settings.SITE_URL = SITE


@pytest.fixture
def model(db):
    return UnitModelFactory(name="M5-12", refrigerant="R-134a")


def units(count: int, model, named: str = "K-{:04d}") -> list:
    return [UnitFactory.build(serial=named.format(n), model=model) for n in range(count)]


def labels(wanted, user, **how) -> bytes:
    file = BytesIO()
    write_labels(file, wanted, user, **how)
    return file.getvalue()


def pages(pdf: bytes) -> list:
    return PdfReader(BytesIO(pdf)).pages


def text(pdf: bytes, page: int = 0) -> str:
    return " ".join(pages(pdf)[page].extract_text().split())


def codes(pdf: bytes, page: int = 0) -> dict[str, tuple[float, float]]:
    """The addresses read from a page, each with the middle of its code, points from the top left."""
    picture = pypdfium2.PdfDocument(pdf)[page].render(scale=SCALE).to_numpy()
    read = {}
    for code in zxingcpp.read_barcodes(picture):
        near, far = code.position.top_left, code.position.bottom_right
        read[code.text] = ((near.x + far.x) / 2 / SCALE, (near.y + far.y) / 2 / SCALE)
    return read


def place_of(middle: tuple[float, float], grid) -> int:
    column, row = (middle[0] - grid.left) // grid.width, (middle[1] - grid.top) // grid.height
    return int(row * 3 + column)


def address(unit) -> str:
    return SITE + reverse("unit", args=[unit.serial])


@pytest.mark.parametrize(
    ("system", "grid"), [(UnitSystem.US, LETTER_GRID), (UnitSystem.SI, A4_GRID)]
)
def test_every_code_of_a_full_sheet_leads_to_its_unit_from_that_units_place(
    olga, model, system, grid
):
    olga.unit_system = system
    wanted = units(PER_SHEET, model)
    read = codes(labels(wanted, olga))
    assert {there: place_of(middle, grid) for there, middle in read.items()} == {
        address(unit): place for place, unit in enumerate(wanted)
    }


@pytest.mark.parametrize("serial", ["A/7 b", "ÑÑ-Ł7", "W" * 60, "Ø" * 60, "4"])
def test_a_code_is_read_whatever_the_serial(olga, model, serial):
    (unit,) = units(1, model, serial)
    assert list(codes(labels([unit], olga))) == [address(unit)]


@pytest.mark.parametrize(
    ("count", "skip", "sheets"), [(24, 0, 1), (25, 0, 2), (24, 1, 2), (1, 23, 1)]
)
def test_a_sheet_holds_twenty_four_places(olga, model, count, skip, sheets):
    assert len(pages(labels(units(count, model), olga, skip=skip))) == sheets


def test_used_places_are_left_free_on_the_first_sheet_only(olga, model):
    wanted = units(25, model)
    pdf = labels(wanted, olga, skip=5)
    first, second = codes(pdf, 0), codes(pdf, 1)
    assert sorted(place_of(middle, LETTER_GRID) for middle in first.values()) == [*range(5, 24)]
    assert sorted(place_of(middle, LETTER_GRID) for middle in second.values()) == [*range(6)]
    assert {*first, *second} == {address(unit) for unit in wanted}


@pytest.mark.parametrize("skip", [-1, 24])
def test_more_than_a_sheet_cannot_be_left_free(olga, model, skip):
    with pytest.raises(ValueError, match="0 to 23"):
        labels(units(1, model), olga, skip=skip)


def test_a_label_names_serial_model_refrigerant_and_class(olga, model):
    said = text(labels(units(1, model, "K-7"), olga))
    for fact in ("K-7", "M5-12", "R-134a, class A1"):
        assert fact in said


# ANSI/ASHRAE Standard 34: R-134a is A1, R-1234yf and R-32 are A2L, R-290 is A3.
@pytest.mark.parametrize(
    ("refrigerant", "burns"), [("R-134a", False), ("R-1234yf", True), ("R-290", True)]
)
def test_a_refrigerant_that_burns_is_said_to(olga, refrigerant, burns):
    model = UnitModelFactory.build(refrigerant=refrigerant)
    assert ("BURNS" in text(labels(units(1, model), olga))) is burns


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("serial", ["W" * 17, "W" * 60, "Long serial of many words " * 2])
def test_long_names_stay_inside_their_label(olga, system, serial):
    """Nothing is dark right of the only label, nor below it."""
    olga.unit_system = system
    grid = LETTER_GRID if system == UnitSystem.US else A4_GRID
    model = UnitModelFactory.build(name="W" * 60, refrigerant="R-1234yf")
    pdf = labels(units(1, model, serial), olga)
    picture = pypdfium2.PdfDocument(pdf)[0].render(scale=SCALE).to_numpy().min(axis=2)
    right = round((grid.left + grid.width + 1) * SCALE)
    low = round((grid.top + grid.height + 1) * SCALE)
    assert picture[:low, :right].min() < 100
    assert picture[:, right:].min() == picture[low:].min() == 255


def test_a_long_serial_is_whole_on_the_label(olga, model):
    serial = "".join(f"{n:02d}-" for n in range(20))
    assert serial in text(labels(units(1, model, serial), olga)).replace(" ", "")


def test_a_thousand_labels_are_made_while_someone_waits(olga, model):
    """Ten seconds of the processor; it took 3.8 s when written, so a slip of the order is seen."""
    wanted = units(1_000, model)
    begun = process_time()
    pdf = labels(wanted, olga)
    assert process_time() - begun < 10
    assert len(pages(pdf)) == 42
    assert len(pdf) < 5_000_000


def test_the_same_units_give_the_same_bytes(olga, model):
    wanted = units(3, model)
    assert labels(wanted, olga) == labels(wanted, olga)
