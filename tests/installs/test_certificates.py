"""Giving a certificate: only where all is proved or let pass by name, and once."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from installs.certificates import issue, withdraw
from installs.models import Certificate, Commissioning, Cover, Override, Terms
from tests.factories import InstallFactory, StepRecordFactory, TechnicianFactory
from tests.installs.proved import MEASURED, proved_commissioning

NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)


@pytest.fixture
def commissioning(db):
    return proved_commissioning()


def give(commissioning: Commissioning, received_by: str = "Dana Driver", strokes=()) -> Certificate:
    return issue(commissioning, commissioning.technician, received_by, list(strokes), NOON)


def refusal(commissioning: Commissioning, **details) -> list[str]:
    with pytest.raises(ValidationError) as refused:
        give(commissioning, **details)
    assert not Certificate.objects.exists()
    return refused.value.messages


def measure_again(commissioning: Commissioning, step: str, **changed):
    return StepRecordFactory(
        commissioning=commissioning,
        step=step,
        measured=MEASURED[step] | changed,
        taken_at=NOON,
    )


def test_what_is_proved_gets_its_certificate(commissioning):
    certificate = give(commissioning)
    assert certificate.received_by == "Dana Driver"
    assert certificate.issued_at == NOON
    assert certificate.is_valid


def test_a_step_not_done_is_named(commissioning):
    commissioning.records.filter(step="drain").delete()
    assert refusal(commissioning) == ["Drain: not done yet."]


def test_each_proof_that_does_not_hold_is_named(commissioning):
    measure_again(commissioning, "mounting", firm=False)
    # Common practice, no source: 470 g weighed on a 550 g nameplate does not prove.
    measure_again(commissioning, "charge", charge_g=470)
    assert refusal(commissioning) == [
        "Mounting: Sits firm, nothing moves: not proved.",
        "Charge by weight: Charge by weight: not proved.",
    ]


def test_nobody_takes_a_truck_without_a_name(commissioning):
    assert refusal(commissioning, received_by="  ") == [
        "Type the name of the person who takes the truck."
    ]


def test_a_proof_let_pass_is_on_the_certificate_with_who_and_why(commissioning, osman):
    record = measure_again(commissioning, "supply", fuse_to_battery_cm=60)
    Override.objects.create(
        record=record, proof="fuse_to_battery", reason="Sheathed all the way", person=osman, at=NOON
    )
    (supply,) = [one for one in give(commissioning).says["steps"] if one["step"] == "supply"]
    (proof,) = [one for one in supply["proofs"] if one["code"] == "fuse_to_battery"]
    assert proof["verdict"] == "look_again"
    assert proof["measured"] == 60
    assert proof["override"] == {
        "person": "osman",
        "reason": "Sheathed all the way",
        "at": NOON.isoformat(),
    }


def test_measured_again_a_proof_that_was_let_pass_is_open_again(commissioning, osman):
    record = measure_again(commissioning, "supply", fuse_to_battery_cm=60)
    Override.objects.create(
        record=record, proof="fuse_to_battery", reason="Sheathed all the way", person=osman, at=NOON
    )
    measure_again(commissioning, "supply", fuse_to_battery_cm=70)
    assert refusal(commissioning) == ["Battery supply: Cable from battery to fuse: look again."]


def test_a_refrigerant_step_signed_without_a_certificate_bars_it(commissioning):
    stranger = TechnicianFactory(name="Uli")
    commissioning.records.filter(step="evacuation").update(technician=stranger)
    assert refusal(commissioning) == [
        "Evacuation: Uli had no accepted refrigerant certificate that day."
    ]


def test_a_unit_taken_out_again_gets_none(commissioning):
    commissioning.install.removed_on = date(2026, 11, 30)
    commissioning.install.save()
    assert refusal(commissioning) == ["The unit has been taken out of this truck."]


def test_asked_for_twice_there_is_one(commissioning):
    assert give(commissioning) == give(commissioning)
    assert Certificate.objects.count() == 1


def test_it_says_what_was_measured_in_internal_units_and_codes(commissioning):
    says = give(commissioning).says
    assert says["serial"] == commissioning.install.unit.serial
    assert says["installed_on"] == "2026-11-30"
    assert says["nameplate"]["charge_g"] == 550
    assert (says["charge_g"], says["cylinder"]) == (550, "CYL-9")
    assert (says["cutoff_v"], says["set_point_c"]) == (11.2, 20)
    assert len(says["steps"]) == 10
    assert {one["technician"]["name"] for one in says["steps"]} == {commissioning.technician.name}
    assert says["technician"]["scheme"] == "US EPA section 609"


def test_terms_run_from_the_units_first_install(commissioning):
    install = commissioning.install
    InstallFactory(
        unit=install.unit,
        tractor=install.tractor,
        installed_on=date(2025, 1, 31),
        removed_on=date(2026, 1, 1),
    )
    terms = Terms.objects.create(name="Standard", given_from=date(2024, 1, 1))
    Cover.objects.create(terms=terms, part_group="compressor", months=37, run_hours=3000)
    told = give(commissioning).says["terms"]
    assert told["counted_from"] == "2025-01-31"
    # 31 January and 37 months: the last day of February.
    assert told["rows"] == [
        {
            "part_group": "compressor",
            "counts_from": "install",
            "months": 37,
            "run_hours": 3000,
            "ends_on": "2028-02-29",
        }
    ]


def test_terms_begun_in_another_customers_truck_are_not_told(commissioning):
    InstallFactory(
        unit=commissioning.install.unit,
        installed_on=date(2025, 1, 31),
        removed_on=date(2026, 1, 1),
    )
    Terms.objects.create(name="Standard", given_from=date(2024, 1, 1))
    assert give(commissioning).says["terms"] is None


def test_a_signature_is_kept_as_strokes(commissioning):
    strokes = [[[0.1, 0.2], [0.35, 0.2499999]], []]
    assert give(commissioning, strokes=strokes).signature == [[[0.1, 0.2], [0.35, 0.25]]]


@pytest.mark.parametrize(
    "strokes",
    [
        [[[0.5, 1.2]]],
        [[[0.5]]],
        [[["a", 0]]],
        [[[float("nan"), 0]]],
        [5],
        [[[0, 0]]] * 201,
        [[[0, 0]] * 5001],
    ],
)
def test_what_is_no_signature_is_refused(commissioning, strokes):
    (words,) = refusal(commissioning, strokes=strokes)
    assert "Clear it and sign again" in words


def test_withdrawing_needs_a_reason(commissioning, osman):
    certificate = give(commissioning)
    with pytest.raises(ValidationError, match="Say in a few words why"):
        withdraw(certificate, osman, " bad ", NOON)
    certificate.refresh_from_db()
    assert certificate.withdrawn_at is None


def test_a_certificate_is_withdrawn_once_and_by_name(commissioning, osman, olga):
    certificate = give(commissioning)
    withdraw(certificate, osman, "Wrong serial on the plate", NOON)
    with pytest.raises(ValidationError, match="withdrawn already"):
        withdraw(certificate, olga, "And once again so", NOON)
    certificate.refresh_from_db()
    assert certificate.withdrawn_by == osman
    assert not certificate.is_valid


def test_a_withdrawn_one_is_not_given_again(commissioning, osman):
    withdraw(give(commissioning), osman, "Wrong serial on the plate", NOON)
    with pytest.raises(ValidationError, match="begin a new commissioning"):
        give(commissioning)
