"""Proving an install: begun once, each step written once, and what each step adds to the records."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from installs.certificates import withdraw
from installs.models import (
    BookingState,
    Certificate,
    Commissioning,
    Credential,
    Install,
    Override,
    StepRecord,
    StockMove,
)
from service.commissioned import begin, begin_for_install, finish, let_pass, save_step
from service.models import Cylinder, Movement, Reading
from tests.factories import (
    BatteryBankFactory,
    BookingFactory,
    CertifiedFactory,
    CylinderFactory,
    InstallFactory,
    TechnicianFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)
from tests.installs.proved import MEASURED, proved_commissioning

MORNING = datetime(2026, 11, 30, 15, tzinfo=UTC)
NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)
EVENING = datetime(2026, 11, 30, 22, tzinfo=UTC)


@pytest.fixture
def booking(tina):
    booking = BookingFactory(technician=tina)
    BatteryBankFactory(tractor=booking.tractor)
    return booking


@pytest.fixture
def begun(booking, tomas):
    return begin(booking, tomas, MORNING)


def save(commissioning, step, technician=None, at=NOON, sent_id=None, **changed):
    technician = technician or commissioning.technician
    measured = MEASURED[step] | changed
    return save_step(commissioning, step, measured, technician, sent_id or uuid4(), at)


def words(refused) -> str:
    return " ".join(refused.value.messages)


# Beginning


def test_beginning_puts_the_held_unit_into_the_truck(booking, tomas, tina):
    commissioning = begin(booking, tomas, MORNING)
    install = commissioning.install
    assert (install.unit, install.tractor) == (booking.unit, booking.tractor)
    assert (install.installed_on, install.installed_by) == (date(2026, 11, 30), tina)
    assert install.customer == booking.customer
    assert commissioning.yard == booking.bay.yard
    booking.unit.refresh_from_db()
    assert booking.unit.yard is None
    assert StockMove.objects.get(unit=booking.unit).kind == "installed"


def test_begun_twice_it_is_the_same_commissioning(booking, tomas):
    first = begin(booking, tomas, MORNING)
    assert begin(booking, tomas, NOON) == first
    assert Commissioning.objects.count() == 1
    assert Install.objects.count() == 1


def test_a_unit_that_stands_in_this_truck_already_is_not_put_in_again(booking, tomas):
    install = InstallFactory(unit=booking.unit, tractor=booking.tractor)
    assert begin(booking, tomas, MORNING).install == install


def test_a_booking_without_a_unit_is_refused(booking, tomas):
    booking.unit = None
    booking.save()
    with pytest.raises(ValidationError, match="hold one by its serial"):
        begin(booking, tomas, MORNING)


def test_a_booking_that_was_called_off_is_refused(booking, tomas):
    booking.state = BookingState.CALLED_OFF
    booking.save()
    with pytest.raises(ValidationError, match="called off"):
        begin(booking, tomas, MORNING)


def test_a_unit_in_another_truck_is_refused(booking, tomas):
    InstallFactory(unit=booking.unit)
    with pytest.raises(ValidationError, match="stands in"):
        begin(booking, tomas, MORNING)
    assert not Commissioning.objects.exists()


def test_a_truck_that_carries_another_unit_is_refused(booking, tomas):
    InstallFactory(tractor=booking.tractor)
    with pytest.raises(ValidationError, match="carries"):
        begin(booking, tomas, MORNING)


def test_a_unit_of_24_v_is_not_put_into_a_truck_of_12_v(tina, tomas):
    booking = BookingFactory(technician=tina, unit__model=UnitModelFactory(system_v=24))
    with pytest.raises(ValidationError, match="24 V"):
        begin(booking, tomas, MORNING)
    assert not Install.objects.exists()


def test_an_install_on_record_is_begun_once(tina):
    yard = YardFactory(name="High yard", elevation_m=1600)
    install = InstallFactory(tractor=TractorFactory(yard=yard))
    first = begin_for_install(install, tina, MORNING)
    assert begin_for_install(install, tina, NOON) == first
    assert first.yard == yard


def test_an_install_that_has_ended_is_not_begun(tina):
    install = InstallFactory(removed_on=date(2025, 1, 1))
    with pytest.raises(ValidationError, match="taken out"):
        begin_for_install(install, tina, MORNING)


# Steps


def test_measuring_again_adds_a_record_and_keeps_the_first(begun):
    save(begun, "mounting", firm=False)
    save(begun, "mounting")
    firm = [record.measured["firm"] for record in begun.records.filter(step="mounting")]
    assert firm == [False, True]


def test_the_same_form_sent_twice_is_written_once(begun):
    sent = uuid4()
    first = save(begun, "mounting", sent_id=sent)
    assert save(begun, "mounting", sent_id=sent, at=EVENING, firm=False) == first
    assert StepRecord.objects.count() == 1


def test_a_form_that_arrives_again_after_the_certificate_is_no_error(db):
    commissioning, sent = proved_commissioning(), uuid4()
    first = save(commissioning, "mounting", sent_id=sent)
    finish(commissioning, commissioning.technician, "Dana Driver", [], EVENING)
    assert save(commissioning, "mounting", sent_id=sent, at=EVENING) == first


def test_a_step_of_the_supply_remembers_how_many_batteries_there_were(begun):
    assert save(begun, "supply").measured["battery_count"] == 4


def test_who_is_no_technician_signs_nothing(begun):
    with pytest.raises(ValidationError, match="not tied to a technician"):
        save_step(begun, "mounting", MEASURED["mounting"], None, uuid4(), NOON)


@pytest.mark.parametrize("step", ["pressure_test", "evacuation", "charge", "first_run"])
def test_without_a_refrigerant_certificate_no_refrigerant_step_is_signed(begun, step):
    helper = TechnicianFactory(name="Hal Helper")
    with pytest.raises(ValidationError) as refused:
        save(begun, step, helper)
    assert "No refrigerant certificate is on record for Hal Helper" in words(refused)
    assert "Tina Tecnica" in words(refused)
    assert "Local codes come first" in words(refused)
    assert not StepRecord.objects.exists()
    assert not Movement.objects.exists()
    assert not Reading.objects.exists()


@pytest.mark.parametrize("step", ["mounting", "hoses", "supply", "drain", "sealing", "settings"])
def test_without_one_the_other_steps_are_signed(begun, step):
    assert save(begun, step, TechnicianFactory()).pk


def test_a_certificate_that_ended_yesterday_signs_no_refrigerant_step(begun):
    late = CertifiedFactory(certified_until=date(2026, 11, 29))
    with pytest.raises(ValidationError, match="ended on 2026-11-29"):
        save(begun, "charge", late)


def test_a_certificate_is_valid_on_its_last_day_by_the_shops_clock(begun):
    last_day = CertifiedFactory(certified_until=date(2026, 11, 30))
    # 23:30 on 30 November in the shop's zone is the day after by UTC.
    CylinderFactory(code="CYL-9")
    assert save(begun, "charge", last_day, at=datetime(2026, 12, 1, 5, 30, tzinfo=UTC))


def test_a_certificate_of_another_rule_counts_once_the_shop_has_recorded_it(begun):
    other = CertifiedFactory(certification_scheme="US EPA section 608 type II")
    with pytest.raises(ValidationError, match="not one that is accepted here"):
        save(begun, "charge", other)
    Credential.objects.create(scheme="US EPA section 608 Type II", authority="State code 12")
    assert save(begun, "charge", other)


# What steps add to the life of the unit


def test_the_charge_becomes_a_movement(begun, tina):
    CylinderFactory(code="CYL-9")
    save(begun, "charge")
    movement = Movement.objects.get()
    assert (movement.movement, movement.mass_g) == ("charged", 550)
    assert movement.cylinder.code == "CYL-9"
    assert (movement.moved_by, movement.at) == (tina, NOON)
    assert (movement.unit, movement.tractor) == (begun.install.unit, begun.install.tractor)
    assert movement.customer == begun.install.customer


def test_charged_again_the_movement_is_corrected_and_keeps_what_it_was(begun):
    save(begun, "charge", charge_g=470)
    save(begun, "charge", charge_g=550, at=EVENING)
    movement = Movement.objects.get()
    assert (movement.mass_g, movement.at) == (550, NOON)
    assert [row.mass_g for row in movement.history.order_by("history_id")] == [470, 550]


def test_a_step_saved_before_anything_was_weighed_moves_nothing(begun):
    save(begun, "charge", charge_g=None)
    assert not Movement.objects.exists()
    save(begun, "charge", at=EVENING)
    assert Movement.objects.get().at == EVENING


def test_what_the_book_of_refrigerant_refuses_is_not_saved(begun):
    # More than twice the nameplate charge of 520 g is a slip of the pen.
    with pytest.raises(ValidationError, match="nameplate charge"):
        save(begun, "charge", charge_g=1100)
    assert not StepRecord.objects.exists()


def test_a_charge_keeps_the_certificate_it_was_made_under(begun, tina):
    save(begun, "charge")
    assert Movement.objects.get().certified_by.startswith("US EPA section 609")


def test_a_cylinder_that_was_not_on_record_is_put_there(begun):
    save(begun, "charge", cylinder="NEW-1")
    assert Cylinder.objects.get().refrigerant == begun.install.unit.model.refrigerant


def test_the_first_run_becomes_the_units_first_reading(begun, tina):
    begun.yard.elevation_m = 1600
    begun.yard.save()
    save(begun, "first_run", gauge="G-4")
    reading = Reading.objects.get()
    assert (reading.kind, reading.output, reading.gauge) == ("commissioning", "high", "G-4")
    assert (reading.suction_kpa, reading.discharge_kpa, reading.ambient_c) == (310, 1138, 35)
    assert (reading.rest_v, reading.load_v, reading.load_a) == (12.7, 12.3, 58)
    assert (reading.taken_by, reading.taken_at) == (tina, NOON)
    # ISO 2533: 83.5 kPa at 1,600 m.
    assert reading.air_kpa == pytest.approx(83.5, abs=0.1)


def test_run_again_the_reading_is_corrected_in_place(begun):
    save(begun, "first_run", suction_kpa=200)
    save(begun, "first_run", at=EVENING)
    reading = Reading.objects.get()
    assert (reading.suction_kpa, reading.taken_at) == (310, NOON)
    assert [row.suction_kpa for row in reading.history.order_by("history_id")] == [200, 310]


def test_with_the_engine_running_the_load_is_not_the_banks(begun):
    save(begun, "first_run", engine_running=True)
    reading = Reading.objects.get()
    assert (reading.load_v, reading.load_a) == (None, None)


def test_a_reading_without_an_output_is_kept_as_standing(begun):
    save(begun, "first_run", output="")
    assert not Reading.objects.get().is_running


def test_a_first_run_without_a_number_is_no_reading(begun):
    record = save_step(
        begun, "first_run", {"engine_running": False}, begun.technician, uuid4(), NOON
    )
    assert record.pk
    assert not Reading.objects.exists()


def test_other_steps_add_nothing(begun):
    for step in ("mounting", "pressure_test", "evacuation", "settings"):
        save(begun, step)
    assert not Movement.objects.exists()
    assert not Reading.objects.exists()


# Letting pass


def test_an_owner_lets_a_measured_proof_pass_by_name(begun, osman):
    record = save(begun, "supply", fuse_to_battery_cm=60)
    let_pass(record, "fuse_to_battery", osman, "No room  nearer the bank", NOON)
    override = Override.objects.get()
    assert (override.person, override.reason) == (osman, "No room nearer the bank")


def test_pressed_twice_it_is_let_pass_once(begun, osman):
    record = save(begun, "supply", fuse_to_battery_cm=60)
    for _ in range(2):
        let_pass(record, "fuse_to_battery", osman, "No room nearer the bank", NOON)
    assert Override.objects.count() == 1


def test_a_technician_answers_for_what_is_to_be_looked_at_again(begun, tomas):
    # A cold day: the pressures can prove nothing, and the weighing and the pipes stand for them.
    record = save(begun, "first_run", ambient_c=5)
    let_pass(record, "condensing_lift", tomas, "Five degrees outside, weighed to the gram", NOON)
    assert Override.objects.get().person == tomas


def test_for_what_is_not_proved_only_the_owner_answers(begun, tomas, osman):
    record = save(begun, "charge", charge_g=470)
    with pytest.raises(ValidationError, match="only the shop owner"):
        let_pass(record, "charge", tomas, "The cylinder was empty", NOON)
    let_pass(record, "charge", osman, "The maker asks for less on short hoses", NOON)
    assert Override.objects.get().person == osman


def test_nobody_else_lets_anything_pass(begun, olga, clara, frida):
    record = save(begun, "supply", fuse_to_battery_cm=60)
    for person in (olga, clara, frida):
        with pytest.raises(PermissionDenied):
            let_pass(record, "fuse_to_battery", person, "No room nearer the bank", NOON)


@pytest.mark.parametrize("reason", ["", "   ", "ok", "becausebecause"])
def test_a_word_is_no_reason(begun, osman, reason):
    record = save(begun, "supply", fuse_to_battery_cm=60)
    with pytest.raises(ValidationError, match="few words"):
        let_pass(record, "fuse_to_battery", osman, reason, NOON)


@pytest.mark.parametrize("proof", ["water", "ran_out_outside", "no_such_proof", "charge"])
def test_what_was_not_measured_or_holds_cannot_be_let_pass(begun, osman, proof):
    record = save(begun, "drain", water_ml=None)
    with pytest.raises(ValidationError, match="cannot be let pass"):
        let_pass(record, proof, osman, "It rained all day", NOON)


def test_an_old_record_cannot_be_let_pass(begun, osman):
    record = save(begun, "supply", fuse_to_battery_cm=60)
    save(begun, "supply", fuse_to_battery_cm=70, at=EVENING)
    with pytest.raises(ValidationError, match="measured again"):
        let_pass(record, "fuse_to_battery", osman, "No room nearer the bank", EVENING)


# Handing over


def test_handing_over_gives_the_certificate_and_closes_the_booking(begun, tina):
    for step in MEASURED:
        save(begun, step, charge_g=520)
    certificate = finish(begun, tina, "Dana Driver", [[[0.1, 0.1], [0.5, 0.2]]], EVENING)
    assert certificate.commissioning == begun
    begun.booking.refresh_from_db()
    assert begun.booking.state == BookingState.DONE


def test_what_is_open_bars_the_certificate_and_leaves_the_booking_open(begun, tina):
    save(begun, "mounting")
    with pytest.raises(ValidationError):
        finish(begun, tina, "Dana Driver", [], EVENING)
    begun.booking.refresh_from_db()
    assert begun.booking.is_open
    assert not Certificate.objects.exists()


def test_once_the_certificate_is_given_nothing_is_measured_or_let_pass(osman):
    commissioning = proved_commissioning()
    record = save(commissioning, "supply", fuse_to_battery_cm=60)
    save(commissioning, "supply", at=NOON + timedelta(minutes=1))
    finish(commissioning, commissioning.technician, "Dana Driver", [], EVENING)
    with pytest.raises(ValidationError, match="certificate of this install is given"):
        save(commissioning, "mounting", at=EVENING)
    with pytest.raises(ValidationError, match="certificate of this install is given"):
        let_pass(record, "fuse_to_battery", osman, "No room nearer", EVENING)


def test_after_a_withdrawn_certificate_the_install_is_proved_anew(osman):
    first = proved_commissioning()
    certificate = finish(first, first.technician, "Dana Driver", [], EVENING)
    assert begin_for_install(first.install, first.technician, EVENING) == first
    withdraw(certificate, osman, "The scale was found wrong", EVENING)
    second = begin_for_install(first.install, first.technician, EVENING)
    assert second != first
    assert second.yard == first.yard
    assert save(second, "mounting", at=EVENING)


def test_a_unit_taken_out_of_the_truck_is_proved_no_more(begun):
    begun.install.removed_on = date(2026, 11, 30)
    begun.install.save()
    with pytest.raises(ValidationError, match="taken out"):
        save(begun, "mounting")


def test_a_unit_of_an_install_on_record_needs_no_booking(tina):
    install = InstallFactory(unit=UnitFactory())
    commissioning = begin_for_install(install, tina, MORNING)
    assert commissioning.booking is None
    assert save(commissioning, "mounting")
