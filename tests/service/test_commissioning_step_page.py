"""The commissioning on the phone: one step, measured and signed."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from fleetcool.models import UnitSystem
from installs.models import StepRecord
from service.measures import MEASURES
from service.models import Cylinder, Movement
from tests.factories import (
    BookingFactory,
    CylinderFactory,
    StepRecordFactory,
    TechnicianFactory,
)
from tests.installs.proved import MEASURED
from tests.service.pages import newest, page, send, text

NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)


@pytest.mark.parametrize("step", MEASURES)
def test_every_step_shows_its_cautions_before_its_form(technician, commissioning, step):
    body = text(technician.get(page(commissioning, step)))
    assert -1 < body.find("Caution:") < body.find("Sign and save this step")


def test_no_answer_is_ticked_beforehand(technician, commissioning):
    commissioning.records.all().delete()
    for step in MEASURES:
        assert "checked>" not in text(technician.get(page(commissioning, step)))


def test_an_unknown_step_is_not_found(technician, commissioning):
    assert technician.get(page(commissioning, "paint")).status_code == 404


def test_what_was_answered_is_kept_and_shown(technician, commissioning):
    response = send(technician, commissioning, "mounting", pads_fitted="yes", torqued="no")
    assert response.url == page(commissioning, "mounting") + "#proofs"
    assert newest(commissioning, "mounting") == {
        "pads_fitted": True,
        "torqued": False,
        "firm": None,
    }
    body = text(technician.get(page(commissioning, "mounting")))
    assert "Next step: Hoses" in body
    assert "Put it right and look again" in body


# NIST SP 811, table B.9: 1 psi is 6.894757 kPa; by definition of the ounce 19.4 oz are 549.98 g.
def test_a_us_technician_types_psi_and_fahrenheit(technician, commissioning):
    send(
        technician,
        commissioning,
        "first_run",
        suction_kpa="45",
        discharge_kpa="165",
        ambient_c="95",
        output="high",
    )
    measured = newest(commissioning, "first_run")
    assert measured["suction_kpa"] == pytest.approx(310.264, abs=0.01)
    assert measured["ambient_c"] == pytest.approx(35)
    form = technician.get(page(commissioning, "first_run")).context["form"]
    assert [form[key].value() for key in ("suction_kpa", "discharge_kpa", "ambient_c")] == [
        "45",
        "165",
        "95",
    ]


def test_another_types_kpa_and_celsius(technician, tomas, commissioning):
    tomas.unit_system = UnitSystem.SI
    tomas.save()
    send(technician, commissioning, "first_run", suction_kpa="310", ambient_c="35,5")
    measured = newest(commissioning, "first_run")
    assert (measured["suction_kpa"], measured["ambient_c"]) == (310, 35.5)


def test_the_charge_is_weighed_in_ounces_from_a_named_cylinder(technician, commissioning):
    CylinderFactory(code="CYL-9")
    send(technician, commissioning, "charge", charge_g="19.4", cylinder="CYL-9")
    assert Movement.objects.get().mass_g == pytest.approx(549.98, abs=0.01)
    assert "Proved" in text(technician.get(page(commissioning, "charge")))


def test_a_charge_without_a_cylinder_is_not_saved_and_nothing_is_lost(technician, commissioning):
    before = StepRecord.objects.count()
    response = send(technician, commissioning, "charge", charge_g="19.4")
    assert response.status_code == 200
    assert "Say which cylinder" in text(response)
    assert response.context["form"]["charge_g"].value() == "19.4"
    assert StepRecord.objects.count() == before


def test_only_cylinders_of_the_units_refrigerant_are_offered_and_none_of_recovered_gas(
    technician, commissioning
):
    CylinderFactory(code="GOOD")
    CylinderFactory(code="WRONG", refrigerant="R-290")
    CylinderFactory(code="USED", holds="recovered")
    body = text(technician.get(page(commissioning, "charge")))
    assert "GOOD" in body
    assert "WRONG" not in body
    assert "USED" not in body


def test_a_cylinder_known_to_hold_something_else_is_refused(technician, commissioning):
    CylinderFactory(code="WRONG", refrigerant="R-290")
    response = send(technician, commissioning, "charge", charge_g="19.4", new_cylinder="wrong")
    assert "never put it in" in text(response)


def test_a_cylinder_that_is_not_listed_is_put_on_record(technician, commissioning):
    send(technician, commissioning, "charge", charge_g="19.4", new_cylinder="CYL-NEW")
    assert Cylinder.objects.get().code == "CYL-NEW"


@pytest.mark.parametrize(
    ("begun", "ended", "minutes"), [("10:05", "10:40", 35), ("23:50", "00:25", 35)]
)
def test_the_minutes_on_the_pump_are_counted_from_the_clock(
    technician, commissioning, begun, ended, minutes
):
    send(technician, commissioning, "evacuation", pump_from=begun, pump_to=ended)
    assert newest(commissioning, "evacuation")["minutes"] == minutes
    form = technician.get(page(commissioning, "evacuation")).context["form"]
    assert form["pump_from"].value() == begun


def test_inches_of_mercury_are_no_micron(technician, commissioning):
    response = send(technician, commissioning, "evacuation", lowest_micron="29.8")
    assert "inches of mercury" in text(response)
    # A deep vacuum of 29 micron is a whole number on the gauge.
    assert send(technician, commissioning, "evacuation", lowest_micron="29").status_code == 302


@pytest.mark.parametrize("typed", ["12 psi", "nan", "inf", "-500", "1e9"])
def test_what_is_no_pressure_is_named_beside_its_field(technician, commissioning, typed):
    response = send(technician, commissioning, "first_run", suction_kpa=typed)
    assert response.context["form"].errors["suction_kpa"]
    assert response.context["form"]["suction_kpa"].value() == typed


def test_an_empty_form_signs_nothing(technician, commissioning):
    before = StepRecord.objects.count()
    assert "Nothing is measured yet" in text(send(technician, commissioning, "mounting"))
    assert StepRecord.objects.count() == before


def test_a_single_battery_is_not_asked_for_first_and_last(technician, commissioning):
    bank = commissioning.install.tractor.bank
    bank.battery_count = 1
    bank.save()
    form = technician.get(page(commissioning, "supply")).context["form"]
    assert "positive_from_first" not in form.fields
    send(technician, commissioning, "supply", fuse_a="80", fuse_to_battery_cm="30")
    assert "One battery only" in text(technician.get(page(commissioning, "supply")))


def test_the_pressures_to_expect_follow_the_air_of_the_day(technician, commissioning):
    commissioning.records.filter(step="first_run").delete()
    assert "Save outside air and return air first" in text(
        technician.get(page(commissioning, "first_run"))
    )
    send(technician, commissioning, "first_run", ambient_c="95", return_air_c="84")
    body = text(technician.get(page(commissioning, "first_run")))
    assert "In outside air of 95.0 °F a discharge of" in body


def test_the_sheet_of_the_maker_and_the_customers_choice_stand_at_the_mounting(
    technician, commissioning
):
    mounting = page(commissioning, "mounting")
    assert "The maker&#x27;s sheet was not entered" in text(technician.get(mounting))
    model = commissioning.install.unit.model
    model.sheet_lines.create(part="torque", what="M8 bolt", value="22 N·m")
    model.sheet_lines.create(part="setting", what="Anti-freeze", value="2 °C")
    commissioning.booking = BookingFactory(mounting_side="rear", pass_through="wall")
    commissioning.save()
    lines = technician.get(mounting).context["to_know"]
    assert lines == ["The customer chose: rear wall.", "M8 bolt: 22 N·m"]
    hoses = technician.get(page(commissioning, "hoses")).context["to_know"]
    assert hoses == ["The customer chose: through the wall.", "M8 bolt: 22 N·m"]


def test_the_frost_point_at_the_vacuum_stands_at_the_evacuation(technician, commissioning):
    # IAPWS R14-08: at 500 micron ice gives off water above -24.5 °C, -12.1 °F.
    [line] = technician.get(page(commissioning, "evacuation")).context["to_know"]
    assert "At 500 micron" in line and "−12.1" in line


def test_the_fuse_on_the_makers_sheet_stands_where_it_is_put_in(technician, commissioning):
    model = commissioning.install.unit.model
    model.sheet_lines.create(part="setting", what="Supply fuse", value="80 A")
    assert "Supply fuse: 80 A" in text(technician.get(page(commissioning, "supply")))


def test_a_step_takes_so_many_queries_however_often_it_was_measured(
    technician, commissioning, django_assert_max_num_queries
):
    for _ in range(5):
        StepRecordFactory(
            commissioning=commissioning, step="charge", measured=MEASURED["charge"], taken_at=NOON
        )
    CylinderFactory.create_batch(5)
    with django_assert_max_num_queries(14):
        technician.get(page(commissioning, "charge"))


def test_a_step_before_its_turn_says_what_is_not_proved(technician, commissioning):
    commissioning.records.filter(step="evacuation").delete()
    assert "Not proved before this step:" in text(technician.get(page(commissioning, "charge")))
    assert "Not proved before this step:" not in text(technician.get(page(commissioning, "hoses")))


def test_a_form_sent_twice_is_written_once(technician, commissioning):
    before = StepRecord.objects.count()
    sent = uuid4()
    for _ in range(2):
        response = technician.post(
            page(commissioning, "mounting"), {"sent_id": sent, "firm": "yes"}
        )
        assert response.status_code == 302
    assert StepRecord.objects.count() == before + 1


def test_the_page_tells_the_phone_what_has_arrived(technician, commissioning):
    sent = uuid4()
    technician.post(page(commissioning, "mounting"), {"sent_id": sent, "firm": "yes"})
    assert str(sent) in technician.get(page(commissioning, "mounting")).context["saved_ids"]


# Who may


def test_one_without_a_certificate_is_told_before_typing(client, tomas, commissioning):
    TechnicianFactory(name="Hal Helper", person=tomas)
    client.force_login(tomas)
    body = text(client.get(page(commissioning, "charge")))
    assert "You cannot sign this step" in body
    assert "No refrigerant certificate is on record for Hal Helper" in body
    assert "Sign and save this step" not in body
    assert "Sign and save this step" in text(client.get(page(commissioning, "mounting")))


def test_one_without_a_certificate_who_sends_it_all_the_same_is_refused(
    client, tomas, commissioning
):
    TechnicianFactory(person=tomas)
    client.force_login(tomas)
    before = StepRecord.objects.count()
    response = send(client, commissioning, "evacuation", lowest_micron="310")
    assert "No refrigerant certificate" in text(response)
    assert response.context["form"]["lowest_micron"].value() == "310"
    assert StepRecord.objects.count() == before


def test_a_sign_in_tied_to_no_technician_is_told_so(client, tomas, commissioning):
    client.force_login(tomas)
    assert "not tied to a technician" in text(client.get(page(commissioning, "mounting")))


def test_the_office_looks_and_does_not_measure(client, olga, commissioning):
    client.force_login(olga)
    body = text(client.get(page(commissioning, "mounting")))
    assert "Sign and save this step" not in body
    assert send(client, commissioning, "mounting", firm="yes").status_code == 403
