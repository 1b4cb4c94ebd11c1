"""What a commissioning proves as its records stand."""

from datetime import UTC, datetime

import pytest

from installs.engineering.acceptance import STEPS, Verdict
from installs.models import Commissioning, InstallStep, Override
from installs.proving import (
    can_be_let_pass,
    open_points,
    place_of,
    proofs_by_step,
    verdict,
)
from tests.factories import PersonFactory, StepRecordFactory, YardFactory
from tests.installs.proved import MEASURED, proved_commissioning

LATER = datetime(2026, 11, 30, 18, tzinfo=UTC)


@pytest.fixture
def commissioning(db):
    return proved_commissioning()


def measure_again(commissioning, step, **changed):
    return StepRecordFactory(
        commissioning=commissioning,
        step=step,
        measured=MEASURED[step] | changed,
        taken_at=LATER,
    )


def step_of(commissioning, step):
    return next(one for one in proofs_by_step(commissioning) if one.step == step)


def codes(points):
    return [(step.value, proof and proof.code) for step, proof in points]


def test_the_steps_of_the_records_are_those_that_can_be_proved():
    assert tuple(InstallStep.values) == STEPS


def test_ten_steps_come_in_their_order(commissioning):
    assert [one.step for one in proofs_by_step(commissioning)] == list(STEPS)


def test_where_every_step_holds_nothing_is_open(commissioning):
    steps = proofs_by_step(commissioning)
    assert open_points(steps) == []
    assert verdict(steps) is Verdict.PROVED
    assert all(one.is_settled for one in steps)


def test_a_step_not_taken_is_open_and_has_no_verdict(commissioning):
    commissioning.records.filter(step="drain").delete()
    steps = proofs_by_step(commissioning)
    assert codes(open_points(steps)) == [("drain", None)]
    assert verdict(steps) is Verdict.NOT_PROVED
    assert step_of(commissioning, "drain").verdict is None


# Common practice, no source: 550 g on a 550 g nameplate proves, 470 g does not.
@pytest.mark.parametrize(
    ("charge_g", "expected"), [(550, Verdict.PROVED), (470, Verdict.NOT_PROVED)]
)
def test_the_weighed_charge_is_held_against_the_nameplate(commissioning, charge_g, expected):
    measure_again(commissioning, "charge", charge_g=charge_g)
    assert step_of(commissioning, "charge").verdict is expected


# Common practice, no source: 40-50 psi of suction and 150-180 psi of discharge on a hot day.
@pytest.mark.parametrize(("suction_psi", "discharge_psi"), [(40, 150), (45, 165), (50, 180)])
def test_usual_pressures_of_a_hot_day_prove(commissioning, suction_psi, discharge_psi):
    measure_again(
        commissioning,
        "first_run",
        suction_kpa=suction_psi * 6.894757,
        discharge_kpa=discharge_psi * 6.894757,
    )
    assert step_of(commissioning, "first_run").verdict is Verdict.PROVED


def test_the_newest_record_of_a_step_counts(commissioning):
    measure_again(commissioning, "charge", charge_g=470)
    newest = measure_again(commissioning, "charge", charge_g=550)
    assert step_of(commissioning, "charge").record == newest
    assert verdict(proofs_by_step(commissioning)) is Verdict.PROVED


def test_what_was_let_pass_is_not_open_but_stays_to_be_seen(commissioning):
    record = measure_again(commissioning, "supply", fuse_to_battery_cm=60)
    Override.objects.create(
        record=record,
        proof="fuse_to_battery",
        reason="No room nearer",
        person=PersonFactory(),
        at=LATER,
    )
    supply = step_of(commissioning, "supply")
    assert supply.open_proofs == []
    assert supply.overrides["fuse_to_battery"].reason == "No room nearer"
    assert any(proof.verdict is not Verdict.PROVED for proof in supply.proofs)


def test_measured_again_what_was_let_pass_is_open_again(commissioning):
    record = measure_again(commissioning, "supply", fuse_to_battery_cm=60)
    Override.objects.create(
        record=record, proof="fuse_to_battery", reason="No room", person=PersonFactory(), at=LATER
    )
    measure_again(commissioning, "supply", fuse_to_battery_cm=60)
    assert codes(open_points(proofs_by_step(commissioning))) == [("supply", "fuse_to_battery")]


def test_an_override_of_another_proof_lets_nothing_else_pass(commissioning):
    record = measure_again(commissioning, "supply", fuse_to_battery_cm=60, fuse_a=400)
    Override.objects.create(
        record=record, proof="fuse_to_battery", reason="No room", person=PersonFactory(), at=LATER
    )
    assert codes(open_points(proofs_by_step(commissioning))) == [("supply", "fuse")]


def test_a_missing_measurement_and_a_standing_one_cannot_be_let_pass(commissioning):
    measure_again(commissioning, "drain", water_ml=None)
    measure_again(commissioning, "first_run", output=None)
    missing = step_of(commissioning, "drain").open_proofs
    standing = step_of(commissioning, "first_run").open_proofs
    assert [can_be_let_pass(proof) for proof in missing] == [False]
    assert standing
    assert not any(can_be_let_pass(proof) for proof in standing)


def test_a_gauge_reads_against_the_air_of_the_yard(commissioning, settings):
    settings.SHOP_ELEVATION_M = 0
    assert place_of(commissioning).air_kpa == pytest.approx(101.325)
    commissioning.yard = YardFactory(customer=None, name="High yard", elevation_m=1600)
    # ISO 2533: 83.5 kPa at 1,600 m.
    assert place_of(commissioning).air_kpa == pytest.approx(83.5, abs=0.1)


def test_without_a_yard_it_is_the_air_of_the_shop(commissioning, settings):
    settings.SHOP_ELEVATION_M = 1600
    commissioning.yard = None
    assert place_of(commissioning).air_kpa == pytest.approx(83.5, abs=0.1)


def test_a_bank_that_is_not_on_record_is_taken_as_the_most_tender(commissioning):
    commissioning.install.tractor.bank.delete()
    fresh = Commissioning.objects.with_all().get(pk=commissioning.pk)
    assert place_of(fresh).battery_type != "lifepo4"


def test_ten_steps_take_two_queries(commissioning, django_assert_num_queries):
    commissioning = Commissioning.objects.with_all().get(pk=commissioning.pk)
    for _ in range(3):
        measure_again(commissioning, "supply", fuse_to_battery_cm=60)
    with django_assert_num_queries(2):
        proofs_by_step(commissioning)


def test_overrides_and_their_people_take_two_queries_more(commissioning, django_assert_num_queries):
    for code in ("fuse_to_battery", "fuse"):
        record = measure_again(commissioning, "supply", fuse_to_battery_cm=60, fuse_a=400)
        for proof in (code, "positive_from_first"):
            Override.objects.create(
                record=record, proof=proof, reason="Why", person=PersonFactory(), at=LATER
            )
    commissioning = Commissioning.objects.with_all().get(pk=commissioning.pk)
    with django_assert_num_queries(3):
        [one.overrides for one in proofs_by_step(commissioning)]
