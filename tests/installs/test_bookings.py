"""Booking, moving, calling off and holding: what is done, and what is refused."""

from datetime import time

import pytest
from django.core.exceptions import ValidationError

from installs.bookings import Taken, amend, call_off, finish, hold, move, release
from installs.models import Booking, BookingState, Shift
from tests.factories import (
    BayFactory,
    CertifiedFactory,
    InstallFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)
from tests.installs.bookable import NOW, Shop, at, refusal

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    return Shop()


def test_a_booking_holds_the_oldest_unit(shop, olga):
    booking = shop.book(by=olga, pass_through="floor", note="Blue cab")
    booking.refresh_from_db()
    assert (booking.unit.serial, booking.unit_model) == ("U-1", shop.model)
    assert (booking.begins_at, booking.ends_at) == (at(1, 8), at(1, 14))
    assert (booking.customer, booking.booked_by) == (shop.tractor.customer, olga)
    assert (booking.pass_through, booking.note, booking.sequence) == ("floor", "Blue cab", 0)
    assert booking.history.get().history_user == olga


def test_a_serial_may_be_asked_for(shop):
    assert shop.book(serial="u-2").unit.serial == "U-2"


def test_the_same_asked_twice_is_one_booking(shop):
    assert shop.book() == shop.book()
    assert Booking.objects.count() == 1


@pytest.mark.parametrize("what", ["bay", "technician", "tractor"])
def test_who_comes_second_hears_what_was_taken_and_is_offered_what_is_next(shop, what):
    shop.book()
    bay = shop.bay if what == "bay" else BayFactory(yard=shop.yard, name="Bay 2")
    ann = shop.ann if what == "technician" else CertifiedFactory(name="Bob", yard=shop.yard)
    tractor = shop.tractor if what == "tractor" else TractorFactory()
    with pytest.raises(Taken) as taken:
        shop.book(shop.slot(at(1, 9), bay, ann), tractor=tractor)
    assert taken.value.what == {what}
    assert taken.value.slots
    next_one = taken.value.slots[0]
    again = shop.book(next_one, tractor=tractor)
    assert again.begins_at == next_one.begins_at
    assert Booking.objects.count() == 2


@pytest.mark.parametrize("what", ["bay", "technician", "tractor"])
def test_what_only_the_database_knows_to_be_taken_is_said_too(shop, what, monkeypatch):
    """As where rows are written past the acts: the constraint itself is asked, not our look before."""
    shop.book()
    monkeypatch.setattr("installs.bookings._see_that_it_is_free", lambda booking: None)
    bay = shop.bay if what == "bay" else BayFactory(yard=shop.yard, name="Bay 2")
    ann = shop.ann if what == "technician" else CertifiedFactory(name="Bob", yard=shop.yard)
    tractor = shop.tractor if what == "tractor" else TractorFactory()
    with pytest.raises(Taken) as taken:
        shop.book(shop.slot(at(1, 9), bay, ann), tractor=tractor)
    assert taken.value.what == {what}
    assert Booking.objects.count() == 1


def test_a_unit_that_only_the_database_knows_to_be_held_is_said_too(shop, monkeypatch):
    held = shop.book().unit
    other = shop.book(shop.slot(at(2, 8)), tractor=TractorFactory())
    monkeypatch.setattr("installs.bookings._unit_by_serial", lambda booking, serial: held)
    text = refusal(hold, other, "U-1", by=None, field="serial")
    assert "just held for another booking" in text
    assert other.unit.serial == "U-2"


def test_the_last_unit_goes_to_one():
    shop = Shop(units=1)
    shop.book()
    text = refusal(shop.book, shop.slot(at(2, 8)), tractor=TractorFactory(), field="unit_model")
    assert "No Cab-12 is free" in text
    assert Booking.objects.count() == 1


# Moving, calling off, finishing


def test_a_moved_booking_keeps_its_unit_and_counts_its_change(shop, olga):
    booking = shop.book()
    move(booking, shop.slot(at(2, 9)), by=olga, now=NOW)
    booking.refresh_from_db()
    assert (booking.begins_at, booking.ends_at) == (at(2, 9), at(2, 15))
    assert (booking.unit.serial, booking.sequence) == ("U-1", 1)
    assert booking.history.first().history_user == olga


def test_a_booking_is_not_in_its_own_way(shop):
    booking = shop.book()
    slots = shop.find(from_=at(1, 7), count=2, moved=booking)
    assert [slot.begins_at for slot in slots] == [at(1, 8), at(1, 8, 30)]
    move(booking, slots[1], by=None, now=NOW)
    assert booking.begins_at == at(1, 8, 30)


def test_a_move_onto_another_booking_changes_nothing_and_offers_others(shop):
    booking = shop.book()
    other = shop.book(shop.slot(at(2, 8)), tractor=TractorFactory())
    with pytest.raises(Taken) as taken:
        move(booking, shop.slot(at(2, 9)), by=None, now=NOW)
    assert taken.value.what == {"bay", "technician"}
    assert other.begins_at not in [slot.begins_at for slot in taken.value.slots]
    assert (booking.begins_at, booking.sequence) == (at(1, 8), 0)


def test_a_booking_with_a_unit_does_not_move_to_another_yard(shop):
    booking = shop.book()
    bay = BayFactory(yard=YardFactory(customer=None, name="South yard"))
    Shift.objects.create(
        technician=shop.ann, yard=bay.yard, weekday=5, begins=time(8), ends=time(17)
    )
    saturday = shop.slot(at(5, 8), bay=bay)
    assert "lies in another yard" in refusal(move, booking, saturday, by=None, now=NOW, field="bay")
    release(booking, by=None)
    move(booking, saturday, by=None, now=NOW)
    assert booking.bay == bay


def test_a_booking_that_is_called_off_lets_its_unit_go(shop, olga):
    booking = shop.book()
    call_off(booking, by=olga, why="truck sold", now=NOW)
    booking.refresh_from_db()
    assert (booking.state, booking.sequence) == (BookingState.CALLED_OFF, 1)
    assert booking.called_off_why == "truck sold"
    assert shop.book(tractor=TractorFactory()).unit == booking.unit


@pytest.mark.parametrize("act", [call_off, move, finish, hold, release])
def test_nothing_is_done_to_what_was_called_off(shop, act):
    booking = shop.book()
    call_off(Booking.objects.get(), by=None, why="truck sold", now=NOW)
    more = {
        call_off: {"why": "again", "now": NOW},
        move: {"slot": shop.slot(at(2, 8)), "now": NOW},
        finish: {"now": NOW},
        hold: {"serial": "U-2"},
        release: {},
    }[act]
    with pytest.raises(ValidationError, match="called off already"):
        act(booking, by=None, **more)
    assert Booking.objects.get().sequence == 1


def test_what_is_done_still_took_its_time(shop):
    booking = shop.book()
    finish(booking, by=None, now=at(1, 14))
    assert booking.state == BookingState.DONE
    with pytest.raises(Taken):
        shop.book(tractor=TractorFactory())


def test_what_has_not_begun_is_not_done(shop):
    with pytest.raises(ValidationError, match="has not begun"):
        finish(shop.book(), by=None, now=at(1, 7))


def test_what_is_noted_is_changed_and_another_address_is_not_told_yet(shop, olga):
    booking = shop.book(contact_email="old@fleet.example")
    Booking.objects.update(mailed_sequence=0)
    amend(booking, by=olga, note="Blue cab", contact_email="old@fleet.example")
    booking.refresh_from_db()
    assert (booking.note, booking.mailed_sequence, booking.sequence) == ("Blue cab", 0, 0)
    amend(booking, by=olga, contact_email="new@fleet.example")
    booking.refresh_from_db()
    assert (booking.contact_email, booking.mailed_sequence) == ("new@fleet.example", None)


# Holding


def test_another_unit_is_held_in_place_of_the_first(shop):
    booking = shop.book()
    hold(booking, " u-2 ", by=None)
    booking.refresh_from_db()
    assert booking.unit.serial == "U-2"
    release(booking, by=None)
    assert booking.unit is None


def test_to_hold_what_is_held_already_changes_nothing(shop):
    booking = shop.book()
    hold(booking, "U-1", by=None)
    assert booking.history.count() == 1


def test_a_booking_of_no_model_takes_the_model_of_the_unit(shop):
    shop.job.puts_a_unit_in = False
    booking = shop.book(unit_model=None)
    assert booking.unit is None
    hold(booking, "U-1", by=None)
    assert booking.unit_model == shop.model


def test_a_unit_is_held_only_where_it_is_free_and_fits(shop):
    booking = shop.book()
    other = shop.book(shop.slot(at(2, 8)), tractor=TractorFactory())
    UnitFactory(serial="AWAY", model=shop.model, yard=YardFactory(customer=None, name="South yard"))
    UnitFactory(serial="OTHER", yard=shop.yard)
    UnitFactory(serial="GONE", model=shop.model, yard=shop.yard, left_stock="scrapped")
    InstallFactory(unit=UnitFactory(serial="IN", model=shop.model))
    words = {
        "NONE": "is on record",
        other.unit.serial: "is not free",
        "GONE": "is not free",
        "IN": "is not free",
        "AWAY": "lies in South yard",
        "OTHER": "and a Cab-12 is booked",
    }
    for serial, word in words.items():
        assert word in refusal(hold, booking, serial, by=None, field="serial")
    booking.refresh_from_db()
    assert booking.unit.serial == "U-1"


def test_a_24_v_unit_is_not_held_for_a_12_v_truck(shop):
    shop.job.puts_a_unit_in = False
    booking = shop.book(unit_model=None)
    UnitFactory(serial="V24", model=UnitModelFactory(system_v=24), yard=shop.yard)
    text = refusal(hold, booking, "V24", by=None, field="serial")
    assert "The truck has 12 V and unit V24 needs 24 V" in text
