"""What the screen is told of what was found at the truck, and that it heeds it."""

from datetime import UTC, date, datetime

import pytest

from fixtures.simulator.fleet import simulate
from fixtures.simulator.write import write_fleet
from installs.models import Unit
from installs.records.loader import load_book
from reports.acts import screen_fleet
from reports.frames import fleet_frames, moment_of
from reports.knowledge import nothing_settled
from reports.models import Cause, Finding
from service.models import Movement, Overnight, Reading
from tests.factories import ConcernFactory, VisitFactory

FOUND_ON = date(2025, 9, 2)
WRITTEN = datetime(2025, 9, 4, 15, tzinfo=UTC)


def settled(as_of: date, user=None):
    return fleet_frames(Unit.objects.all(), as_of, user).settled


@pytest.mark.parametrize(
    ("found", "mended", "outcome"),
    [
        (Cause.REFRIGERANT_LEAK, True, "confirmed_mended"),
        (Cause.REFRIGERANT_LEAK, False, "confirmed"),
        (Cause.OVERCHARGE, True, "refuted"),
        ("nothing_wrong", False, "refuted"),
    ],
)
def test_the_screen_is_told_what_was_found(db, tomas, found, mended, outcome):
    concern = ConcernFactory()
    concern.found(tomas, found, FOUND_ON, mended=mended, at=WRITTEN)
    [row] = settled(date(2025, 9, 10)).to_dict("records")
    assert (row["unit"], row["cause"], row["outcome"]) == (concern.unit_id, concern.cause, outcome)
    # A day is the moment of its noon, UTC (reports/knowledge.py).
    assert moment_of(row["t"]) == datetime(2025, 9, 2, 12, tzinfo=UTC)
    assert moment_of(row["since_t"]) == datetime(2025, 2, 1, 12, tzinfo=UTC)
    assert moment_of(row["entered_t"]) == WRITTEN


def test_what_was_found_at_a_visit_was_found_at_its_moment(db, tomas):
    concern = ConcernFactory()
    visit = VisitFactory(
        install=concern.unit.installs.get(), at=datetime(2025, 9, 1, 9, tzinfo=UTC)
    )
    concern.found(tomas, "nothing_wrong", visit=visit, at=WRITTEN)
    assert moment_of(settled(date(2025, 9, 10))["t"].item()) == visit.at


def test_what_was_written_down_later_was_not_known_before(db, tomas):
    ConcernFactory().found(tomas, "nothing_wrong", FOUND_ON, at=WRITTEN)
    assert len(settled(date(2025, 9, 3))) == 0
    assert len(settled(date(2025, 9, 4))) == 1


def test_a_gauge_is_named_and_has_no_unit(db, tomas):
    cause = Cause.DOUBTFUL_INSTRUMENT
    gauge = ConcernFactory(unit=None, customer=None, gauge="G-9", cause=cause)
    gauge.found(tomas, "nothing_wrong", FOUND_ON, at=WRITTEN)
    rows = settled(date(2025, 9, 10))
    assert (rows["gauge"].item(), rows["unit"].isna().item()) == ("G-9", True)


def test_other_steps_tell_the_screen_nothing(db, tomas):
    ConcernFactory().acknowledge(tomas, at=WRITTEN)
    told = settled(date(2025, 9, 10))
    assert len(told) == 0
    assert set(told) == set(nothing_settled())


def test_a_fleet_is_told_of_its_own_only(frida, frank, tomas):
    for person in (frida, frank):
        concern = ConcernFactory(customer=person.customers.get())
        concern.found(tomas, "nothing_wrong", FOUND_ON, at=WRITTEN)
    assert len(settled(date(2025, 9, 10))) == 2
    assert len(settled(date(2025, 9, 10), frida)) == 1


def test_a_refuted_finding_does_not_come_back_on_the_same_evidence(db, tomas, tmp_path):
    write_fleet(simulate(units=60, years=1.8, seed=5, pipe_temperatures=1.0), tmp_path / "book")
    load_book(tmp_path / "book")
    looked = datetime(2026, 11, 3, 15, tzinfo=UTC)
    for model, time in ((Reading, "taken_at"), (Overnight, "began_at"), (Movement, "at")):
        model.objects.filter(**{f"{time}__gte": looked}).delete()

    screen_fleet(date(2026, 11, 2))
    refuted = Finding.objects.latest().exclude(unit=None).worst_first()[0]
    others = Finding.objects.latest().exclude(pk=refuted.pk).count()
    refuted.concern.found(tomas, "nothing_wrong", looked.date(), at=looked)
    screen_fleet(date(2026, 11, 5))

    said = Finding.objects.latest()
    assert said.count() >= others - 1
    assert not said.filter(unit=refuted.unit, cause=refuted.cause).exists()
