"""Many ask for the same at once, each over a connection of its own, and one gets it.

On PostgreSQL the database is the test's own. SQLite's, which is kept in memory, is copied to a
file that all the threads open, so that they wait for one another as a shop's processes do.
"""

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from threading import Barrier

import pytest
from django.db import OperationalError, connection, connections

from installs.bookings import Taken, book, slot_of
from installs.models import Booking
from tests.factories import (
    BayFactory,
    CertifiedFactory,
    JobFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
)

# Rows must be committed to be seen by another connection; the database is flushed after each test.
pytestmark = pytest.mark.django_db(transaction=True)

NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)
TUESDAY_8 = datetime(2026, 12, 1, 14, tzinfo=UTC)
ASKING = 50


@pytest.fixture
def shop():
    bay = BayFactory()
    ann, job, model = CertifiedFactory(yard=bay.yard), JobFactory(), UnitModelFactory()
    for n in range(ASKING):
        UnitFactory(model=model, yard=bay.yard, made_on=date(2026, 9, 1 + n % 20))
    slot = slot_of(job, TUESDAY_8, bay, ann)

    def ask(tractor):
        return book(job, tractor, slot, by=None, now=NOW, unit_model=model)

    return ask


def all_at_once(acts: list[Callable], tmp_path, monkeypatch) -> tuple[list, list[Booking]]:
    """What each act returned or raised, and the bookings that are there at the end."""
    if connection.vendor == "sqlite":
        file = tmp_path / "race.sqlite3"
        with sqlite3.connect(file) as copy:
            connection.connection.backup(copy)
        copy.close()
        monkeypatch.setitem(connections.settings["default"], "NAME", str(file))
    barrier = Barrier(len(acts))

    def run(act):
        try:
            barrier.wait(timeout=60)
            return act()
        except Exception as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as threads:
        said = list(threads.map(run, acts))
    barrier = Barrier(1)
    with ThreadPoolExecutor(1) as thread:
        return said, thread.submit(run, lambda: list(Booking.objects.all())).result()


def test_fifty_ask_for_one_slot_and_one_gets_it(shop, tmp_path, monkeypatch):
    tractors = [TractorFactory() for _n in range(ASKING)]
    acts = [lambda tractor=tractor: shop(tractor) for tractor in tractors]
    said, bookings = all_at_once(acts, tmp_path, monkeypatch)
    booked = [one for one in said if isinstance(one, Booking)]
    assert len(booked) == 1
    assert [booking.pk for booking in bookings] == [booked[0].pk]
    refused = [one for one in said if one is not booked[0]]
    assert {type(one) for one in refused} == {Taken}
    assert all(one.what == {"bay", "technician"} for one in refused)
    # The bay's and the technician's one day is gone; each is offered what comes after.
    offered = [slot.begins_at for one in refused for slot in one.slots]
    assert len(offered) >= ASKING - 1
    assert all(begins_at >= booked[0].ends_at for begins_at in offered)


def test_a_double_click_many_times_over_is_one_booking(shop, tmp_path, monkeypatch):
    tractor = TractorFactory()
    said, bookings = all_at_once([lambda: shop(tractor)] * 10, tmp_path, monkeypatch)
    assert len(bookings) == 1
    assert said == bookings * 10


def test_the_database_alone_lets_one_in(shop, tmp_path, monkeypatch):
    """With our own waiting and looking turned off, as for whoever writes rows past the acts."""
    monkeypatch.setattr("installs.bookings._wait_for_our_turn", lambda slot, tractor: None)
    monkeypatch.setattr("installs.bookings._see_that_it_is_free", lambda booking: None)
    tractors = [TractorFactory() for _n in range(10)]
    acts = [lambda tractor=tractor: shop(tractor) for tractor in tractors]
    said, bookings = all_at_once(acts, tmp_path, monkeypatch)
    assert len(bookings) == 1
    # PostgreSQL may end a knot of waiting writers as a deadlock: none of those is booked either.
    assert {type(one) for one in said} - {OperationalError} == {Booking, Taken}
