"""A visit is logged whole and once, and never over somebody else's."""

import uuid
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from service.book import By
from service.models import (
    Movement,
    MovementKind,
    Reading,
    Settled,
    Visit,
    VisitPart,
    VisitPhoto,
)
from service.visiting import Moved, Told, air_of, log_visit, settle
from tests.factories import (
    CertifiedFactory,
    CylinderFactory,
    InstallFactory,
    ReadingFactory,
    TechnicianFactory,
    TractorFactory,
    UnitFactory,
    VisitFactory,
    YardFactory,
)

NOON = datetime(2026, 6, 30, 17, tzinfo=UTC)
READ = {"output": "high", "ambient_c": 30.0, "suction_kpa": 310.0, "gauge": "G1"}
FOUND = Told(words={"found": "a rubbed hose"})


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def install(db):
    return InstallFactory()


@pytest.fixture
def by(tomas):
    return By(NOON, NOON, CertifiedFactory(person=tomas), tomas)


def photo(colour="red") -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return SimpleUploadedFile("photo.jpg", out.getvalue())


def everything() -> Told:
    return Told(
        words={"complaint": "warm", "found": "a leak", "done": "renewed", "result": "mended"},
        reading=READ,
        parts=[{"part_group": "hoses", "name": "hose", "serial_out": "A", "serial_in": "B"}],
        moved=Moved(MovementKind.ADDED, 100.0, CylinderFactory()),
        photos=[photo(), photo("blue")],
    )


def counts() -> list[int]:
    return [model.objects.count() for model in (Visit, Reading, VisitPart, Movement, VisitPhoto)]


def test_a_visit_is_kept_with_all_that_was_told(install, by):
    visit = log_visit(install.unit, everything(), by, uuid.uuid4(), NOON)
    assert counts() == [1, 1, 1, 1, 2]
    assert (visit.tractor, visit.customer) == (install.tractor, install.customer)
    assert (visit.technician, visit.entered_by) == (by.technician, by.person)
    reading = visit.reading_set.get()
    assert (reading.taken_at, reading.kind, reading.suction_kpa) == (NOON, "visit", 310.0)
    movement = visit.movement_set.get()
    assert (movement.at, movement.mass_g, movement.moved_by) == (NOON, 100.0, by.technician)


def test_ten_replays_make_one_visit(install, by):
    sent_id = uuid.uuid4()
    logged = {log_visit(install.unit, everything(), by, sent_id, NOON).pk for _ in range(10)}
    assert len(logged) == 1
    assert counts() == [1, 1, 1, 1, 2]


def test_an_id_of_another_unit_is_refused(install, by):
    sent_id = uuid.uuid4()
    log_visit(install.unit, FOUND, by, sent_id, NOON)
    with pytest.raises(ValidationError, match="another unit"):
        log_visit(UnitFactory(), FOUND, by, sent_id, NOON)


def test_what_cannot_be_kept_leaves_nothing_behind(install, by):
    told = everything()
    other = CylinderFactory(refrigerant="R-32")
    wrong = Told(told.words, told.reading, told.parts, Moved("added", 50.0, other), told.photos)
    with pytest.raises(ValidationError, match="never mix"):
        log_visit(install.unit, wrong, by, uuid.uuid4(), NOON)
    assert counts() == [0, 0, 0, 0, 0]


def test_refrigerant_is_moved_by_the_certified_only(install, tomas):
    by = By(NOON, NOON, TechnicianFactory(person=tomas), tomas)
    with pytest.raises(ValidationError, match="certificate"):
        log_visit(install.unit, everything(), by, uuid.uuid4(), NOON)
    assert counts() == [0, 0, 0, 0, 0]


def test_what_is_no_photo_is_refused_whole(install, by):
    told = Told(words={"found": "x"}, photos=[SimpleUploadedFile("a.jpg", b"no picture")])
    with pytest.raises(ValidationError, match="not a photo"):
        log_visit(install.unit, told, by, uuid.uuid4(), NOON)
    assert counts() == [0, 0, 0, 0, 0]


def test_the_same_photo_twice_is_kept_once(install, by):
    log_visit(install.unit, Told(photos=[photo(), photo()]), by, uuid.uuid4(), NOON)
    assert VisitPhoto.objects.count() == 1


def test_a_visit_stands_with_whose_truck_it_was_then(install, by):
    install.removed_on = NOON.date() + timedelta(days=5)
    install.save()
    InstallFactory(unit=install.unit, installed_on=install.removed_on)
    visit = log_visit(install.unit, FOUND, by, uuid.uuid4(), NOON)
    assert visit.customer == install.customer


def test_gauges_read_against_the_air_of_the_yard(install, settings):
    assert air_of(TractorFactory(yard=YardFactory(elevation_m=0))) == pytest.approx(101.325)
    # ISO 2533: 83.4 kPa at 1,609 m.
    assert air_of(TractorFactory(yard=YardFactory(elevation_m=1609))) == pytest.approx(83.4, 0.001)
    settings.SHOP_ELEVATION_M = 1609
    assert air_of(None) == pytest.approx(83.4, 0.001)


def test_two_visits_of_one_moment_both_stand(install, by):
    ReadingFactory(install=install, taken_at=NOON)
    first = log_visit(install.unit, FOUND, by, uuid.uuid4(), NOON)
    second = log_visit(install.unit, everything(), by, uuid.uuid4(), NOON)
    assert NOON > first.at > second.at > NOON - timedelta(seconds=1)


def test_a_visit_cannot_lie_in_the_future(install, by):
    late = By(NOON + timedelta(hours=1), NOON, by.technician, by.person)
    with pytest.raises(ValidationError, match="still to come"):
        log_visit(install.unit, FOUND, late, uuid.uuid4(), NOON)


def test_what_others_logged_since_the_page_was_made_is_kept_beside(install, by, olga):
    seen_at = NOON - timedelta(hours=5)
    before = VisitFactory(install=install, at=seen_at - timedelta(days=1))
    theirs = VisitFactory(install=install, at=NOON - timedelta(hours=2), entered_by=olga)
    elsewhere = VisitFactory(at=NOON - timedelta(hours=2))
    log_visit(
        install.unit,
        FOUND,
        By(NOON - timedelta(hours=3), NOON, None, by.person),
        uuid.uuid4(),
        seen_at,
    )
    visit = log_visit(install.unit, FOUND, by, uuid.uuid4(), seen_at)
    # Neither what the page showed, nor another unit's, nor the person's own.
    assert list(visit.meanwhile.all()) == [theirs]
    assert before not in visit.meanwhile.all()
    assert elsewhere not in visit.meanwhile.all()


def conflict(install, by) -> Visit:
    VisitFactory(install=install, at=NOON - timedelta(hours=2))
    told = Told(words={"found": "x"}, reading=READ)
    return log_visit(install.unit, told, by, uuid.uuid4(), NOON - timedelta(hours=5))


def test_both_may_stand(install, by, olga):
    visit = settle(conflict(install, by), Settled.BOTH_STAND, olga, NOON)
    assert (visit.settled_by, visit.is_doubled) == (olga, False)
    assert Reading.objects.counted().count() == 1


def test_the_same_visit_logged_twice_counts_once_and_nothing_is_deleted(install, by, olga):
    visit = conflict(install, by)
    settle(visit, Settled.SAME, olga, NOON)
    assert Visit.objects.count() == 2
    assert Reading.objects.count() == 1
    assert Reading.objects.counted().count() == 0


def test_a_withdrawn_reading_is_known_until_it_was_withdrawn(install, by, olga):
    visit = conflict(install, by)
    tomorrow = NOON + timedelta(days=1)
    settle(visit, Settled.SAME, olga, tomorrow)
    assert Reading.objects.known_at(tomorrow).count() == 1
    assert Reading.objects.known_at(tomorrow + timedelta(seconds=1)).count() == 0


def test_said_again_the_newest_word_counts(install, by, olga):
    visit = conflict(install, by)
    settle(visit, Settled.SAME, olga, NOON)
    settle(visit, Settled.BOTH_STAND, olga, NOON)
    assert Reading.objects.counted().count() == 1


def test_a_visit_without_another_beside_it_has_nothing_to_settle(install, by, olga):
    visit = log_visit(install.unit, FOUND, by, uuid.uuid4(), NOON)
    with pytest.raises(ValidationError, match="Nobody else"):
        settle(visit, Settled.SAME, olga, NOON)
