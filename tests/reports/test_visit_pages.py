"""The visit on the phone: the day, the first screen, the log, and what another logged meanwhile."""

import json
import uuid
from datetime import UTC, datetime, timedelta
from html import unescape
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from fleetcool.models import UnitSystem
from service.models import Movement, Reading, Settled, Visit, VisitPhoto
from tests.factories import (
    CertifiedFactory,
    CustomerFactory,
    CylinderFactory,
    InstallFactory,
    MovementFactory,
    ScreenRunFactory,
    TechnicianFactory,
    VisitFactory,
)
from tests.fleets import fleet_of

LOG = "/visits/log/K-7/"
JSON = {"HTTP_ACCEPT": "application/json"}
# R-290 at a lift of 14 K and a depression of 19 K: inside the bands of a commissioning.
USUAL = {
    "output": "high",
    "ambient_c": "30",
    "return_air_c": "25",
    "suction_kpa": "465",
    "discharge_kpa": "1400",
}


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def fleet(frida):
    return fleet_of(frida.customers.get(), ScreenRunFactory(), truck="T-10", serial="K-7")


@pytest.fixture
def phone(client, tomas, fleet):
    """Tomás, a certified technician who reads in kPa, signed in."""
    tomas.unit_system = UnitSystem.SI
    tomas.save()
    CertifiedFactory(person=tomas, name="Tomás")
    client.force_login(tomas)
    return client


@pytest.fixture
def logged(fleet):
    """How many visits were logged beside the one that the fleet has."""
    return lambda: Visit.objects.exclude(sent_id=None).count()


def sent(**told):
    return {"sent_id": str(uuid.uuid4()), "seen_at": timezone.now().isoformat()} | told


def photo():
    out = BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, "JPEG")
    return SimpleUploadedFile("photo.jpg", out.getvalue())


def page(response) -> str:
    assert response.status_code == 200
    return unescape(response.content.decode()).replace("\xa0", " ")


# The first screen


def test_first_screen_says_who_and_where_and_what_burns_first(phone, fleet):
    text = page(phone.get(LOG))
    for word in ("T-10", fleet.customer.name, "Yard of T-10", "320 g"):
        assert word in text
    cautions = text.split('class="caution"')
    assert "R-290 burns (class A3)" in cautions[1]


def test_first_screen_shows_findings_and_what_to_measure(phone):
    text = page(phone.get(LOG))
    assert "Refrigerant leak" in text
    assert "A month of nights logged" in text


def test_expected_pressures_follow_the_air_that_is_typed(phone):
    # The last reading's air is 30 °C: that is said where nothing is typed.
    before = page(phone.get(LOG))
    assert "Expected in the air of the last reading" in before
    hot = page(phone.get(LOG, {"ambient_c": "40", "return_air_c": "30"}))
    assert "Expected in the air that you typed" in hot
    assert expected_of(before)[1] < expected_of(hot)[1]


def test_what_is_expected_is_said_beside_the_pressures_too(phone):
    phone.post(LOG, sent(**USUAL, rest_v="12.7", rest_h="9", supply_air_c="13"))
    rows = {row.label: row for row in phone.get(LOG).context["rows"]}
    # The bands of AIR_DROP_K, and of REST_V for AGM: common practice, no source.
    assert rows["Supply air"].expected.replace("\xa0", " ") == "3.0 °C to 17.0 °C"
    assert rows["At rest"].expected.replace("\xa0", " ") == "12.30 V to 13.00 V"
    assert rows["Ambient"].expected == "–"


def expected_of(text: str) -> tuple[float, float]:
    row = text.split('<th scope="row">Discharge</th>')[1].split("</tr>")[0]
    low, high = row.split("<td>")[2].split("</td>")[0].replace(" kPa", "").split(" to ")
    return float(low), float(high)


def test_a_page_costs_the_same_however_much_there_is(phone, fleet, django_assert_max_num_queries):
    InstallFactory.create_batch(3, unit__model=fleet.unit.model)
    for number in range(6):
        VisitFactory(install=fleet.install, at=datetime(2025, 1, 1 + number, tzinfo=UTC))
    with django_assert_max_num_queries(24):
        phone.get(LOG)


def test_gauge_of_last_time_is_filled_in(phone):
    phone.post(LOG, sent(gauge="Set 4", **USUAL))
    assert 'value="Set 4"' in page(phone.get(LOG))


def test_who_may_not_move_refrigerant_sees_why(client, tomas, fleet):
    TechnicianFactory(person=tomas, name="Tomás")
    client.force_login(tomas)
    text = page(client.get(LOG))
    assert "You cannot move refrigerant" in text
    assert "No refrigerant certificate is on record for Tomás" in text


def test_page_carries_what_the_phone_judges_with(phone):
    text = phone.get(LOG).content.decode()
    carried = json.loads(text.split('id="visit-physics" type="application/json">')[1].split("<")[0])
    assert carried["units"]["si"]["suction_kpa"] == {"scale": 1.0, "offset": 0.0}
    assert carried["words"]["verdicts"].keys() >= {"as_expected", "out_of_band", "cannot_be"}
    for field in ("suction_kpa", "rest_v"):
        assert f'id="judged-{field}"' in text
        assert f'id="id_{field}"' in text


def test_fahrenheit_is_carried_as_a_line(phone):
    carried = phone.get(LOG).context["physics"]["units"]["us"]["ambient_c"]
    # 95 °F are 35 °C, by definition.
    assert 95 * carried["scale"] + carried["offset"] == pytest.approx(35)


def test_labels_of_both_unit_systems_are_carried_as_the_form_has_them(phone, tomas):
    for system, words in {"si": "Suction, kPa", "us": "Suction, psi"}.items():
        tomas.unit_system = system
        tomas.save()
        response = phone.get(LOG)
        labels = response.context["physics"]["labels"]
        form = response.context["form"]
        assert labels[system]["suction_kpa"] == words
        assert labels[system] == {name: form[name].label for name in labels[system]}


def test_a_phone_learns_which_of_its_visits_are_saved(phone):
    visit = sent(found="x")
    assert visit["sent_id"] not in page(phone.get(LOG))
    phone.post(LOG, visit)
    assert f'data-saved="{visit["sent_id"]}"' in page(phone.get(LOG))


# The log


def test_a_visit_is_logged_in_the_persons_units(phone, tomas):
    tomas.unit_system = UnitSystem.US
    tomas.save()
    response = phone.post(LOG, sent(ambient_c="86", rest_v="12,7", found="nothing"))
    visit = Visit.objects.get(found="nothing")
    assert response.url == visit.get_absolute_url()
    reading = visit.reading_set.get()
    assert reading.ambient_c == pytest.approx(30)
    assert reading.rest_v == 12.7
    assert visit.technician.name == "Tomás"


def test_words_alone_make_a_visit_and_nothing_makes_none(phone, logged):
    assert phone.post(LOG, sent(complaint="warm at night")).status_code == 302
    assert logged() == 1
    text = page(phone.post(LOG, sent(gauge="G1")))
    assert "Nothing is told yet" in text
    assert logged() == 1


def test_a_doubtful_value_is_confirmed_not_refused(phone, logged):
    doubtful = sent(**USUAL | {"suction_kpa": "250"})
    text = page(phone.post(LOG, doubtful))
    assert "A value is doubtful" in text
    assert "Out of the expected band: low for the return air." in text
    assert "points to a restriction" in text
    assert 'value="250"' in text
    assert logged() == 0
    assert phone.post(LOG, doubtful | {"read_again": "on"}).status_code == 302
    assert Visit.objects.get(sent_id=doubtful["sent_id"]).reading_set.get().suction_kpa == 250


def test_swapped_hoses_are_said_beside_both_gauges(phone):
    swapped = USUAL | {"suction_kpa": "1400", "discharge_kpa": "465"}
    text = page(phone.post(LOG, sent(**swapped)))
    assert text.count("Did you swap the hoses?") >= 2


def test_pressures_ask_whether_the_unit_ran(phone, logged):
    told = USUAL | {"output": ""}
    assert "Say at which output it ran" in page(phone.post(LOG, sent(**told)))
    told["output"] = "standing"
    assert phone.post(LOG, sent(**told)).status_code == 302
    assert Visit.objects.exclude(sent_id=None).get().reading_set.get().output == ""


def test_parts_and_refrigerant_and_photos_go_with_the_visit(phone):
    CylinderFactory(code="C-9", refrigerant="R-290")
    told = sent(
        done="hose renewed",
        movement="added",
        mass_g="40",
        cylinder="C-9",
        photos=[photo()],
        **{"part-0-group": "hoses", "part-0-name": "hose", "part-0-serial_in": "H-2"},
    )
    visit_page = page(phone.get(phone.post(LOG, told).url))
    for word in ("hose renewed", "hose (in H-2)", "40 g", "C-9", "/visit-photos/"):
        assert word in visit_page
    assert Movement.objects.get(mass_g=40).visit == Visit.objects.get(done="hose renewed")
    kept = VisitPhoto.objects.get()
    response = phone.get(f"/visit-photos/{kept.pk}/")
    assert Image.open(BytesIO(b"".join(response.streaming_content))).format == "JPEG"
    response.close()


def test_a_part_without_a_name_is_asked_for(phone):
    told = sent(found="x", **{"part-1-serial_in": "H-2"})
    response = phone.post(LOG, told, **JSON)
    assert response.json() == {"errors": {"part-1-name": ["Say which part it is."]}}


def test_refrigerant_of_which_half_is_told_is_asked_for(phone, logged):
    errors = phone.post(LOG, sent(movement="added"), **JSON).json()["errors"]
    assert set(errors) == {"mass_g", "cylinder"}
    assert logged() == 0


def test_who_is_not_certified_moves_none_and_loses_nothing(client, tomas, fleet, logged):
    TechnicianFactory(person=tomas)
    CylinderFactory(code="C-9", refrigerant="R-290")
    client.force_login(tomas)
    told = sent(done="topped up", movement="added", mass_g="1", cylinder="C-9")
    text = page(client.post(LOG, told))
    assert "No refrigerant certificate" in text
    assert "topped up" in text
    assert logged() == 0


def test_the_time_of_an_offline_visit_is_its_own(phone):
    at = timezone.now() - timedelta(hours=6)
    phone.post(LOG, sent(found="x", logged_at=at.isoformat()))
    assert Visit.objects.get(found="x").at == at


@pytest.mark.parametrize(
    "logged_at", ["2099-01-01T00:00:00Z", "2001-01-01T00:00:00Z", "noon", "0001-01-01T00:00:00Z"]
)
def test_a_clock_that_cannot_be_right_is_not_believed(phone, logged_at):
    phone.post(LOG, sent(found="x", logged_at=logged_at, seen_at=logged_at))
    visit = Visit.objects.get(found="x")
    assert abs(visit.at - timezone.now()) < timedelta(minutes=1)


# What a script is told


def test_a_script_is_told_once_201_and_then_200(phone, logged):
    told = sent(**USUAL)
    answers = [phone.post(LOG, told, **JSON) for _ in range(10)]
    assert [answer.status_code for answer in answers] == [201] + 9 * [200]
    visit = Visit.objects.get(sent_id=told["sent_id"])
    wanted = {"visit": visit.pk, "url": f"/visits/{visit.pk}/", "meanwhile": 0}
    assert all(answer.json() == wanted for answer in answers)
    assert logged() == 1


def test_what_stands_is_not_judged_again(phone, logged):
    CylinderFactory(code="C-9", refrigerant="R-290")
    told = sent(movement="added", mass_g="40", cylinder="C-9")
    assert phone.post(LOG, told, **JSON).status_code == 201
    # The cylinder is gone by the time of the replay.
    assert phone.post(LOG, told | {"cylinder": "C-10"}, **JSON).status_code == 200
    assert logged() == 1


def test_errors_are_told_by_field(phone):
    errors = phone.post(LOG, sent(ambient_c="warm", next_on="soon"), **JSON)
    assert errors.status_code == 422
    assert set(errors.json()["errors"]) == {"ambient_c", "next_on"}


def test_who_is_signed_out_is_told_so(client, fleet):
    answer = client.post(LOG, sent(found="x"), **JSON)
    assert answer.status_code == 401
    assert answer.json() == {"sign_in": "/sign-in/?next=%2Fvisits%2Flog%2FK-7%2F"}
    assert client.post(LOG, sent(found="x")).status_code == 302


def test_a_visit_is_never_filed_under_another_name(phone, tomas, olga, logged):
    answer = phone.post(LOG, sent(found="x", written_by=str(olga.pk)), **JSON)
    assert (answer.status_code, set(answer.json())) == (401, {"sign_in"})
    assert logged() == 0
    assert phone.post(LOG, sent(found="x", written_by=str(tomas.pk)), **JSON).status_code == 201


def test_what_was_typed_in_psi_stays_psi_though_the_person_reads_kpa_since(phone):
    told = USUAL | {"ambient_c": "86", "return_air_c": "77", "unit_system": "us"}
    told |= {"suction_kpa": "67.4", "discharge_kpa": "203"}
    assert phone.post(LOG, sent(**told), **JSON).status_code == 201
    reading = Visit.objects.exclude(sent_id=None).get().reading_set.get()
    # 203 psi × 6.894757 kPa: NIST SP 811, appendix B.
    assert reading.discharge_kpa == pytest.approx(1399.6, abs=0.1)


def test_fleet_managers_log_nothing(client, frida, fleet, logged):
    client.force_login(frida)
    assert client.post(LOG, sent(found="x")).status_code == 403
    assert logged() == 0


# Somebody else meanwhile


def test_a_visit_page_costs_the_same_however_many_stand_beside(
    phone, fleet, olga, django_assert_max_num_queries
):
    visit = conflict(phone, fleet, olga)
    for minute in range(5):
        other = VisitFactory(install=fleet.install, at=datetime(2025, 1, 1, 1, minute, tzinfo=UTC))
        visit.meanwhile.add(other)
    with django_assert_max_num_queries(13):
        assert len(phone.get(visit.get_absolute_url()).context["visits"]) == 7


def conflict(phone, fleet, olga) -> Visit:
    told = sent(found="mine", **USUAL)
    other = timezone.now() + timedelta(milliseconds=1)
    VisitFactory(install=fleet.install, at=other, entered_by=olga, found="theirs")
    answer = phone.post(LOG, told, **JSON).json()
    assert answer["meanwhile"] == 1
    return Visit.objects.get(pk=answer["visit"])


def test_both_visits_stand_side_by_side(phone, fleet, olga):
    visit = conflict(phone, fleet, olga)
    text = page(phone.get(visit.get_absolute_url()))
    row = text.split('<th scope="row">Found</th>')[1].split("</tr>")[0]
    assert row.index("mine") < row.index("theirs")
    assert "Both visits stand" in text


def test_a_person_says_that_both_are_the_same(phone, fleet, olga):
    visit = conflict(phone, fleet, olga)
    phone.post(f"/visits/{visit.pk}/meanwhile/", {"settle": "same"})
    visit.refresh_from_db()
    assert visit.settled == Settled.SAME
    assert Reading.objects.get(visit=visit).withdrawn_at
    text = page(phone.get(visit.get_absolute_url()))
    assert "the same visit, logged twice" in text
    assert "1400 kPa" in text
    # On the unit's page the doubled reading stands no more, the visit does.
    unit_page = page(phone.get("/units/K-7/"))
    assert "1400 kPa" not in unit_page
    assert "Visit, logged twice" in unit_page


def test_refrigerant_of_a_visit_logged_twice_is_led_to_its_correction(phone, fleet, olga):
    cylinder = CylinderFactory(refrigerant="R-290")
    movement = MovementFactory(unit=fleet.unit, cylinder=cylinder, at=timezone.now())
    visit = conflict(phone, fleet, olga)
    Movement.objects.filter(pk=movement.pk).update(visit=visit)
    link = f"/refrigerant/{movement.cylinder_id}/?movement={movement.pk}#correct-move"
    assert link not in page(phone.get(visit.get_absolute_url()))
    phone.post(f"/visits/{visit.pk}/meanwhile/", {"settle": "same"})
    text = page(phone.get(visit.get_absolute_url()))
    assert link in text and "still counts in the book" in text


def test_any_other_word_settles_nothing(phone, fleet, olga):
    visit = conflict(phone, fleet, olga)
    phone.post(f"/visits/{visit.pk}/meanwhile/", {"settle": "delete"})
    visit.refresh_from_db()
    assert visit.settled == ""


def test_a_fleet_manager_reads_the_visit_and_no_technicians_name(client, phone, frida, fleet):
    phone.post(LOG, sent(found="mine"))
    visit = Visit.objects.get(found="mine")
    client.force_login(frida)
    text = page(client.get(visit.get_absolute_url()))
    assert "mine" in text
    assert "Tomás" not in text


def test_a_truck_that_was_sold_hides_its_new_number(client, phone, frida, fleet):
    phone.post(LOG, sent(found="mine"))
    fleet.tractor.customer, fleet.tractor.truck_number = CustomerFactory(), "NEW-55"
    fleet.tractor.save()
    client.force_login(frida)
    text = page(client.get(Visit.objects.get(found="mine").get_absolute_url()))
    assert fleet.tractor.vin in text
    assert "NEW-55" not in text


# The day


def test_day_list_has_what_is_booked_for_the_technician(client, tomas, fleet):
    today = timezone.now()
    fleet.booking.begins_at, fleet.booking.ends_at = today, today + timedelta(hours=1)
    fleet.booking.save()
    client.force_login(tomas)
    assert page(client.get("/visits/")).count("data-visit-log") == 1  # due by its finding
    fleet.booking.technician.person = tomas
    fleet.booking.technician.save()
    text = page(client.get("/visits/"))
    assert fleet.booking.job.name in text
    assert text.count(f'data-visit-log href="{LOG}"') == 1


def test_day_list_costs_the_same_however_many_trucks_are_due(
    client, tomas, frank, fleet, django_assert_max_num_queries
):
    run = fleet.finding.run
    fleet_of(frank.customers.get(), run, truck="T-20", serial="K-8")
    client.force_login(tomas)
    with django_assert_max_num_queries(13):
        assert page(client.get("/visits/")).count("data-visit-log") == 2
