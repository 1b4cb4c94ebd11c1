"""Which times are offered, and which are refused with which mend."""

from datetime import UTC, date, datetime, timedelta

import pytest

from installs.bookings import call_off
from installs.models import Credential, DayOff, Skill
from tests.factories import (
    BayFactory,
    BookingFactory,
    CertifiedFactory,
    TechnicianFactory,
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


def test_the_first_slot_is_the_first_half_hour_that_is_free(shop):
    first = shop.find(count=2)
    assert [slot.begins_at for slot in first] == [at(30, 8, month=11), at(30, 8, 30, month=11)]
    assert (first[0].bay, first[0].technician) == (shop.bay, shop.ann)


def test_a_list_may_show_a_few_slots_of_each_day(shop):
    slots = shop.find(count=3, most_a_day=1)
    assert [slot.begins_at for slot in slots] == [at(30, 8, month=11), at(1, 8), at(2, 8)]


def test_such_a_list_shows_each_beginning_once(shop):
    CertifiedFactory(name="Bob", yard=shop.yard)
    slots = shop.find(count=3, most_a_day=3)
    assert [slot.begins_at.minute for slot in slots] == [0, 30, 0]
    assert {slot.technician for slot in slots} == {shop.ann}


def test_one_technician_may_be_asked_for(shop):
    bob = CertifiedFactory(name="Bob", yard=shop.yard)
    assert {slot.technician for slot in shop.find(count=9, technician=bob)} == {bob}


def test_slots_are_found_in_the_same_number_of_queries_however_many_there_are(
    shop, django_assert_num_queries
):
    for n in range(6):
        technician = CertifiedFactory(name=f"T{n}", yard=shop.yard)
        DayOff.objects.create(
            technician=technician, first_day=date(2026, 12, 1), last_day=date(2026, 12, 2)
        )
        BookingFactory(
            bay=BayFactory(yard=shop.yard, name=f"More {n}"),
            technician=technician,
            job=shop.job,
            unit=None,
            unit_model=shop.model,
        )
    # A free unit, skills, technicians, schemes, bays, hours, bookings, days off.
    with django_assert_num_queries(8):
        shop.find(count=40)


def test_a_booking_takes_its_bay_its_technician_and_its_truck(shop):
    shop.book()
    other = CertifiedFactory(name="Bob", yard=shop.yard)
    # The one bay is taken, whoever is free.
    assert [slot.begins_at for slot in shop.find(from_=at(1, 7), count=1)] == [at(2, 8)]
    BayFactory(yard=shop.yard, name="Bay 2")
    elsewhere = shop.find(from_=at(1, 7), count=1, tractor=TractorFactory())
    assert [(slot.begins_at, slot.technician) for slot in elsewhere] == [(at(1, 8), other)]
    # The truck itself is in Bay 1 until 14 o'clock.
    assert shop.find(from_=at(1, 7), count=1)[0].begins_at == at(2, 8)


def test_a_booking_that_was_called_off_is_in_nobodys_way(shop):
    booking = shop.book()
    call_off(booking, by=None, why="no truck", now=NOW)
    assert shop.find(from_=at(1, 7), count=1)[0].begins_at == at(1, 8)


def test_no_slot_is_offered_on_a_public_holiday(shop):
    before = datetime(2026, 11, 25, 22, tzinfo=UTC)
    assert shop.find(from_=before, count=1)[0].begins_at == at(27, 8, month=11)


def test_no_slot_is_offered_on_a_day_off(shop):
    DayOff.objects.create(
        technician=shop.ann, first_day=date(2026, 11, 30), last_day=date(2026, 12, 1)
    )
    assert shop.find(count=1)[0].begins_at == at(2, 8)


def test_a_job_that_opens_the_circuit_is_offered_to_the_last_day_of_the_certificate(shop):
    shop.ann.certified_until = date(2026, 12, 1)
    shop.ann.save()
    days = {slot.begins_at.date() for slot in shop.find(count=40)}
    assert days == {date(2026, 11, 30), date(2026, 12, 1)}
    shop.job.opens_the_circuit = False
    assert len({slot.begins_at.date() for slot in shop.find(count=40)}) > 2


@pytest.mark.parametrize(
    ("scheme", "offered"), [("", False), ("Some other paper", False), ("State card A", True)]
)
def test_a_certificate_counts_where_it_is_accepted(shop, scheme, offered):
    Credential.objects.create(scheme="State Card A", authority="the state")
    shop.ann.certification_scheme = scheme
    shop.ann.certification_number = "7" if scheme else ""
    shop.ann.save()
    assert bool(shop.find(count=1)) is offered


def test_only_those_with_every_skill_are_offered(shop):
    wiring, roof = Skill.objects.create(name="wiring"), Skill.objects.create(name="roof")
    shop.job.skills.set([wiring, roof])
    shop.ann.skills.set([wiring])
    assert shop.find() == []
    shop.ann.skills.add(roof)
    assert shop.find() != []


def test_a_unit_that_lies_elsewhere_is_named_with_its_yard(shop):
    model = UnitModelFactory(name="Cab-9")
    south = YardFactory(customer=None, name="South yard")
    UnitFactory(model=model, yard=south)
    text = refusal(shop.find, unit_model=model, field="unit_model")
    assert "No Cab-9 is free in Shop yard" in text
    assert "South yard (1)" in text


def test_without_a_unit_anywhere_one_is_to_be_received(shop):
    text = refusal(shop.find, unit_model=UnitModelFactory(), field="unit_model")
    assert "receive one first" in text


def test_a_unit_that_is_held_is_not_free(shop):
    for day in (1, 2):
        shop.book(shop.slot(at(day, 8)), tractor=TractorFactory())
    assert "No Cab-12 is free" in refusal(shop.find, field="unit_model")


def test_a_job_that_puts_no_unit_in_asks_for_no_stock(shop):
    shop.job.puts_a_unit_in = False
    assert shop.find(unit_model=None)


def test_a_unit_of_another_voltage_is_refused(shop):
    shop.tractor.system_v = 24
    assert "The truck has 24 V" in refusal(shop.find, field="unit_model")
    assert "The truck has 24 V" in refusal(shop.book, field="unit_model")


def test_a_technician_without_shifts_is_never_offered(shop):
    TechnicianFactory(
        name="Zed", certification_scheme="US EPA section 609", certification_number="1"
    )
    assert {slot.technician for slot in shop.find(count=40)} == {shop.ann}


def test_an_offer_is_never_in_the_past(shop):
    late = at(30, 9, 10, month=11)
    first = shop.find(from_=late, count=1)[0]
    assert first.begins_at - late == timedelta(minutes=20)


def test_the_past_is_refused(shop):
    text = refusal(shop.book, shop.slot(at(30, 5, month=11)), field="begins_at")
    assert "has passed" in text


def test_a_time_outside_working_hours_is_refused(shop):
    text = refusal(shop.book, shop.slot(at(1, 12)), field="begins_at")
    assert "Ann does not work in Shop yard at that time" in text


def test_a_day_off_is_refused(shop):
    DayOff.objects.create(
        technician=shop.ann, first_day=date(2026, 12, 1), last_day=date(2026, 12, 1)
    )
    assert "does not work" in refusal(shop.book, field="begins_at")


def test_a_public_holiday_is_refused_by_name(shop):
    text = refusal(shop.book, shop.slot(at(25, 8)), field="begins_at")
    assert "Christmas Day" in text


def test_a_technician_without_the_skill_is_refused(shop):
    shop.job.skills.add(Skill.objects.create(name="wiring"))
    assert "lacks a skill that this job needs (wiring)" in refusal(shop.book, field="technician")


def test_a_technician_whose_certificate_has_run_out_by_then_is_refused(shop):
    shop.ann.certified_until = date(2026, 11, 30)
    shop.ann.save()
    text = refusal(shop.book, field="technician")
    assert "no refrigerant certificate on record that is valid on 2026-12-01" in text


def test_a_technician_who_works_in_another_yard_is_refused(shop):
    elsewhere = BayFactory(yard=YardFactory(customer=None, name="South yard"))
    text = refusal(shop.book, shop.slot(bay=elsewhere), field="begins_at")
    assert "does not work in South yard" in text


def test_a_bay_in_a_customers_yard_is_refused(shop):
    bay = BayFactory(yard=YardFactory())
    assert "customer's yard" in refusal(shop.book, shop.slot(bay=bay), field="bay")
