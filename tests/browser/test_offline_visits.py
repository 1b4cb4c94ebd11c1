"""Tomás logs visits in a yard without signal: nothing is lost, and nothing is logged twice."""

from datetime import timedelta

import pytest
from django.core.signals import request_started
from django.utils import timezone
from playwright.sync_api import expect

from fleetcool.models import Person, Role, UnitSystem
from installs.models import Unit
from service.models import Reading, Visit
from tests.browser.phones import Phone, photo
from tests.factories import (
    BatteryBankFactory,
    BookingFactory,
    InstallFactory,
    JobFactory,
    PersonFactory,
    TechnicianFactory,
    UnitFactory,
    UnitModelFactory,
    VisitFactory,
)

pytestmark = pytest.mark.browser

SERIALS = ("K-1", "K-2", "K-3")
# A sound unit at high output on a hot day, as read off gauges in psi, °F, V and A.
USUAL = {
    "ambient_c": 95,
    "return_air_c": 82,
    "suction_kpa": 42,
    "discharge_kpa": 170,
    "rest_v": 12.7,
    "rest_h": 9,
    "load_v": 12.3,
    "load_a": 56,
}


@pytest.fixture
def day(transactional_db):
    """Three trucks of the day for Tomás, one after the other."""
    person = PersonFactory(username="tomas", role=Role.TECHNICIAN)
    tomas = TechnicianFactory(name="Tomás", person=person)
    visit = JobFactory(name="Visit", minutes=30, puts_a_unit_in=False, opens_the_circuit=False)
    model = UnitModelFactory(name="K5-12")
    noon = timezone.localtime().replace(hour=12, minute=0, second=0, microsecond=0)
    installs = {}
    for number, serial in enumerate(SERIALS):
        install = InstallFactory(unit=UnitFactory(serial=serial, model=model))
        BatteryBankFactory(tractor=install.tractor)
        begins_at = noon + timedelta(hours=number)
        BookingFactory(
            technician=tomas,
            job=visit,
            tractor=install.tractor,
            unit=None,
            unit_model=None,
            begins_at=begins_at,
            ends_at=begins_at + timedelta(minutes=30),
        )
        installs[serial] = install
    return installs


@pytest.fixture
def phone(playwright, browser_type_launch_args, tmp_path, live_server, day):
    phone = Phone(
        playwright.chromium, browser_type_launch_args, tmp_path / "phone", live_server.url
    )
    yield phone
    phone.context.close()


@pytest.fixture
def asked():
    """The paths that reach the server."""
    paths = []

    def hear(environ=None, scope=None, **_rest):
        paths.append(environ["PATH_INFO"])

    request_started.connect(hear)
    yield paths
    request_started.disconnect(hear)


@pytest.fixture
def on_the_road(phone) -> Phone:
    """Tomás has opened the day where there was signal, and there is none any more."""
    phone.sign_in("tomas")
    phone.keep_the_day(len(SERIALS))
    phone.lose_the_network()
    return phone


def log(phone: Phone, serial: str, *photos, words: str = "") -> None:
    """Open a unit from the day's list and log the usual eight values."""
    phone.unit_of(serial)
    phone.tap("label[for=id_output_2]")
    for name, value in USUAL.items():
        phone.type(name, value)
    if words:
        phone.type("done", words)
    if photos:
        phone.add_photos(*photos)
    phone.save()


def log_words(phone: Phone, serial: str, words: str) -> None:
    phone.open(f"/visits/log/{serial}/")
    phone.type("done", words)
    phone.save()


@pytest.mark.parametrize(
    ("language", "title", "state"),
    [
        ("en", "Visits of the day", "waiting. It is kept here"),
        ("es", "Visitas del día", "en espera. Se guarda aquí"),
    ],
)
def test_three_visits_without_signal_survive_a_restart_and_arrive_once(
    phone, tmp_path, asked, language, title, state
):
    phone.speak(language)
    phone.sign_in("tomas")
    phone.keep_the_day(len(SERIALS))
    assert phone.page.locator("html").get_attribute("lang") == language
    assert "/visits/" in asked
    phone.lose_the_network()
    asked.clear()
    for number, serial in enumerate(SERIALS):
        phone.open("/visits/")
        log(phone, serial, photo(tmp_path, number))
        expect(phone.waiting()).to_have_count(number + 1)
    assert Visit.objects.count() == 0

    phone.restart(offline=True)
    phone.open("/visits/")
    expect(phone.page.locator("h1")).to_have_text(title)
    expect(phone.waiting()).to_have_count(3)
    expect(phone.waiting().first).to_contain_text(state)
    phone.page.evaluate("async () => { self.queue = await visitStore.all() }")
    assert asked == []
    assert Visit.objects.count() == 0

    phone.find_the_network()
    expect(phone.waiting("sent")).to_have_count(3, timeout=20_000)
    visits = Visit.objects.in_order()
    assert sorted(visit.unit.serial for visit in visits) == sorted(SERIALS)
    assert [visit.photos.count() for visit in visits] == [1, 1, 1]
    assert Reading.objects.count() == 3

    answers = phone.page.evaluate(
        """async () => {
            const answers = [];
            for (let n = 0; n < 10; n++) {
                for (const visit of self.queue) answers.push((await postOnce(visit)).status);
            }
            return answers;
        }"""
    )
    assert answers == [200] * 30
    assert Visit.objects.count() == 3
    assert sum(visit.photos.count() for visit in visits.all()) == 3


def test_a_visit_with_the_usual_eight_values_takes_no_more_than_25_taps(phone):
    phone.sign_in("tomas")
    phone.keep_the_day(len(SERIALS))
    phone.taps = 0
    log(phone, "K-1")
    phone.is_at_the_visit()
    reading = Reading.objects.get()
    assert all(getattr(reading, name) is not None for name in USUAL)
    assert phone.taps <= 25


def test_a_visit_keeps_the_time_at_which_it_was_saved(on_the_road):
    before = timezone.now()
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    after = timezone.now()
    on_the_road.page.wait_for_timeout(1500)
    on_the_road.find_the_network()
    expect(on_the_road.waiting("sent")).to_have_count(1, timeout=20_000)
    visit = Visit.objects.get()
    assert before - timedelta(seconds=1) < visit.at < after < visit.entered_at


def test_two_visits_to_one_unit_from_one_kept_page_are_two(on_the_road):
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    on_the_road.open("/visits/")
    log_words(on_the_road, "K-1", "Came back for the drain.")
    expect(on_the_road.waiting()).to_have_count(2)
    on_the_road.find_the_network()
    expect(on_the_road.waiting("sent")).to_have_count(2, timeout=20_000)
    assert Visit.objects.count() == 2


def test_someone_elses_visit_meanwhile_is_shown_beside_it(on_the_road, day):
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    VisitFactory(install=day["K-1"], at=timezone.now(), done="Changed the filter.")
    on_the_road.find_the_network()
    both = on_the_road.waiting("meanwhile").locator("a")
    expect(both).to_have_count(1, timeout=20_000)
    both.click()
    expect(on_the_road.page.get_by_text("Cleaned the condenser.")).to_be_visible()
    expect(on_the_road.page.get_by_text("Changed the filter.")).to_be_visible()
    assert Visit.objects.count() == 2


def test_of_two_open_tabs_one_sends(on_the_road):
    posts = []
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    other = on_the_road.context.new_page()
    other.goto(f"{on_the_road.address}/visits/")
    for page in (on_the_road.page, other):
        page.evaluate(
            """() => {
                const real = self.fetch;
                self.posts = 0;
                self.fetch = async (at, how) => {
                    if (how?.method !== "POST") return real(at, how);
                    await new Promise((arrived) => setTimeout(arrived, 2000));
                    const answer = await real(at, how);
                    self.posts += 1;
                    return answer;
                };
            }"""
        )
    on_the_road.find_the_network()
    for page in (on_the_road.page, other):
        expect(page.locator("#visit-notice [data-state=sent]")).to_have_count(1, timeout=20_000)
        posts.append(page.evaluate("self.posts"))
    assert sum(posts) == 1


def test_what_the_server_refuses_is_kept_and_mended(on_the_road, tmp_path):
    phone = on_the_road
    phone.open("/visits/log/K-1/")
    phone.type("done", "Changed a hose.")
    phone.add_photos(photo(tmp_path, 1))
    # A part without its name.
    phone.page.locator("[name=part-0-serial_in]").evaluate("field => { field.value = 'H-3' }")
    phone.save()
    expect(phone.waiting()).to_have_count(1)
    phone.find_the_network()
    expect(phone.waiting("refused")).to_have_count(1, timeout=20_000)
    assert Visit.objects.count() == 0

    phone.tap("[data-state=refused] a")
    expect(phone.page.locator("[name=done]")).to_have_value("Changed a hose.")
    expect(phone.page.locator("[data-refused]").first).to_be_visible()
    expect(phone.page.locator("[name=part-0-serial_in]")).to_have_value("H-3")
    phone.type("part-0-name", "liquid hose")
    phone.save()
    phone.is_at_the_visit()
    visit = Visit.objects.get()
    assert (visit.done, visit.photos.count()) == ("Changed a hose.", 1)
    phone.open("/visits/")
    expect(phone.page.locator("#visit-notice [data-slot=kept]")).to_have_text("3")
    expect(phone.page.locator("#visit-notice li")).to_have_count(0)


def test_what_is_half_typed_outlives_the_tab_until_it_is_saved(on_the_road):
    phone = on_the_road
    phone.open("/visits/log/K-1/")
    phone.tap("label[for=id_output_2]")
    phone.type("suction_kpa", 42)
    phone.page.locator("[name=next_step]").evaluate(
        "field => { field.value = 'Look again'; field.dispatchEvent(new Event('input', {bubbles: true})) }"
    )
    phone.restart(offline=True)
    phone.open("/visits/log/K-1/")
    brought_back = phone.page.locator("[data-draft-restored]")
    expect(brought_back).to_be_visible()
    expect(phone.page.locator("[name=suction_kpa]")).to_have_value("42")
    expect(phone.page.locator("#id_output_2")).to_be_checked()
    expect(phone.page.locator("[name=next_step]")).to_be_visible()
    phone.save()
    expect(phone.waiting()).to_have_count(1)
    phone.open("/visits/log/K-1/")
    expect(phone.page.locator("[name=suction_kpa]")).to_have_value("")
    expect(brought_back).to_be_hidden()


def test_a_form_that_was_brought_back_can_be_emptied(on_the_road):
    phone = on_the_road
    phone.open("/visits/log/K-1/")
    phone.type("done", "Changed a")
    phone.open("/visits/log/K-1/")
    phone.tap("[data-draft-restored] button")
    expect(phone.page.locator("[name=done]")).to_have_value("")
    phone.open("/visits/log/K-1/")
    expect(phone.page.locator("[name=done]")).to_have_value("")


def test_what_is_brought_back_keeps_the_units_it_was_typed_in(phone):
    phone.sign_in("tomas")
    phone.open("/visits/log/K-1/")
    phone.tap("label[for=id_output_2]")
    for name, value in USUAL.items():
        phone.type(name, value)
    Person.objects.update(unit_system=UnitSystem.SI)
    phone.open("/visits/log/K-1/")
    expect(phone.page.locator("label[for=id_suction_kpa]")).to_have_text("Suction, psi")
    expect(phone.page.locator("#judged-discharge_kpa")).to_have_class("judged as_expected")
    phone.save()
    phone.is_at_the_visit()
    # 42 psi, by definition of the unit.
    assert Reading.objects.get().suction_kpa == pytest.approx(42 * 6.894757, abs=0.01)


def test_after_saving_without_network_no_heading_stands_over_nothing(on_the_road):
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    expect(on_the_road.page.locator("#log")).to_be_hidden()
    expect(on_the_road.page.locator("a[href='#log']")).to_be_hidden()


def test_a_visit_that_has_no_place_any_more_is_shown_and_can_be_taken_off(on_the_road, day):
    phone = on_the_road
    log_words(phone, "K-1", "Cleaned the condenser.")
    expect(phone.waiting()).to_have_count(1)
    Unit.objects.filter(serial="K-1").update(serial="K-1-OLD")
    phone.find_the_network()
    line = phone.waiting("not_taken")
    expect(line).to_have_count(1, timeout=20_000)
    line.locator("summary").click()
    expect(line.locator("dl")).to_contain_text("Cleaned the condenser.")
    phone.page.once("dialog", lambda dialog: dialog.dismiss())
    line.locator("button").click()
    expect(line).to_have_count(1)
    phone.page.once("dialog", lambda dialog: dialog.accept())
    line.locator("button").click()
    expect(line).to_have_count(0)
    assert phone.page.evaluate("async () => (await visitStore.all()).length") == 0


def test_a_page_that_answers_in_place_of_the_server_takes_nothing(on_the_road):
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    on_the_road.page.evaluate(
        "() => { self.fetch = async () => new Response('<p>Accept the terms</p>') }"
    )
    on_the_road.tap("#visit-notice [data-send]")
    expect(on_the_road.waiting("server")).to_have_count(1)
    on_the_road.find_the_network()
    on_the_road.open("/visits/")
    expect(on_the_road.waiting("sent")).to_have_count(1, timeout=20_000)
    assert Visit.objects.count() == 1


def test_a_person_who_is_signed_out_meanwhile_signs_in_to_send(on_the_road):
    log_words(on_the_road, "K-1", "Cleaned the condenser.")
    expect(on_the_road.waiting()).to_have_count(1)
    on_the_road.context.clear_cookies(name="sessionid")
    on_the_road.find_the_network()
    expect(on_the_road.waiting("sign_in")).to_have_count(1, timeout=20_000)
    on_the_road.sign_in("tomas")
    on_the_road.open("/visits/")
    expect(on_the_road.waiting("sent")).to_have_count(1, timeout=20_000)


def test_on_a_shared_phone_nobody_sees_or_sends_what_another_wrote(on_the_road):
    phone = on_the_road
    PersonFactory(username="olga", role=Role.OFFICE)
    log_words(phone, "K-1", "Cleaned the condenser.")
    expect(phone.waiting()).to_have_count(1)
    phone.page.goto("about:blank")
    phone.context.clear_cookies(name="sessionid")
    phone.find_the_network()
    phone.sign_in("olga")
    phone.open("/visits/")
    expect(phone.page.locator("#visit-notice [data-slot=count]")).to_have_text("1")
    expect(phone.page.locator("#visit-notice li")).to_have_count(0)
    assert Visit.objects.count() == 0
    phone.sign_out()
    phone.sign_in("tomas")
    phone.open("/visits/")
    expect(phone.waiting("sent")).to_have_count(1, timeout=20_000)
    assert Visit.objects.get().technician.name == "Tomás"


def test_a_page_left_open_files_nothing_under_the_next_persons_name(phone):
    PersonFactory(username="olga", role=Role.OFFICE)
    phone.sign_in("tomas")
    phone.open("/visits/log/K-1/")
    other = phone.context.new_page()
    phone.context.clear_cookies(name="sessionid")
    phone.sign_in("olga", other)
    phone.type("done", "Cleaned the condenser.")
    phone.save()
    expect(phone.waiting("sign_in")).to_have_count(1)
    assert Visit.objects.count() == 0


def test_after_signing_out_no_page_of_a_person_is_on_the_phone(phone):
    phone.sign_in("tomas")
    phone.keep_the_day(len(SERIALS))
    phone.sign_out()
    phone.lose_the_network()
    for path in ("/visits/", "/visits/log/K-1/"):
        phone.open(path)
        expect(phone.page.locator("#visit-notice")).to_have_count(0)
        expect(phone.page.get_by_text("K-1")).to_have_count(0)
        expect(phone.page.locator("h1")).to_be_visible()


def test_a_phone_that_keeps_nothing_still_sends(phone):
    phone.context.add_init_script("indexedDB.open = () => { throw new Error('denied') }")
    phone.sign_in("tomas")
    log_words(phone, "K-1", "Cleaned the condenser.")
    phone.is_at_the_visit()
    assert Visit.objects.get().done == "Cleaned the condenser."


def test_a_doubtful_value_is_asked_for_again_at_the_truck(on_the_road):
    phone = on_the_road
    phone.open("/visits/log/K-1/")
    phone.tap("label[for=id_output_2]")
    for name, value in {"ambient_c": 95, "suction_kpa": 170, "discharge_kpa": 42}.items():
        phone.type(name, value)
    expect(phone.page.locator("#judged-suction_kpa")).to_have_class("judged cannot_be")
    phone.save()
    expect(phone.page.locator("#id_read_again")).to_be_focused()
    expect(phone.page.locator("#visit-form")).to_be_visible()
    phone.tap("#id_read_again")
    phone.save()
    expect(phone.waiting()).to_have_count(1)
