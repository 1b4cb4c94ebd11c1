"""Tomás proves an install on his phone: what he typed outlives the phone, and the driver signs."""

import pytest
from playwright.sync_api import Page, expect

from installs.models import Certificate, StepRecord
from tests.browser.phones import PASSWORD
from tests.factories import CertifiedFactory
from tests.installs.proved import proved_commissioning

pytestmark = pytest.mark.browser


@pytest.fixture
def complaints(page: Page) -> list[str]:
    heard: list[str] = []
    page.on("console", lambda message: message.type == "error" and heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    return heard


@pytest.fixture
def commissioning(transactional_db):
    return proved_commissioning(serial="K-7")


@pytest.fixture
def phone(page: Page, live_server, tomas, commissioning, complaints) -> Page:
    CertifiedFactory(name="Tina Tecnica", person=tomas)
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"{live_server.url}/sign-in/")
    page.locator("#id_username").fill("tomas")
    page.locator("#id_password").fill(PASSWORD)
    page.locator("form.panel button").click()
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    page.goto(f"{live_server.url}{commissioning.get_absolute_url()}")
    return page


def open_step(phone: Page, number: int) -> None:
    phone.locator(".stages a").nth(number - 1).click()
    expect(phone.locator("form[data-draft]")).to_be_visible()


def save(phone: Page) -> None:
    phone.locator("form[data-draft] button").click()


def test_what_was_typed_outlives_a_reload_until_it_is_saved(phone, commissioning, complaints):
    before = StepRecord.objects.count()
    open_step(phone, 7)
    phone.locator("[name=water_ml]").fill("750")
    phone.locator("[name=no_water_inside][value=no]").check()
    phone.reload()
    expect(phone.locator("[data-draft-restored]")).to_be_visible()
    expect(phone.locator("[name=water_ml]")).to_have_value("750")
    expect(phone.locator("[name=no_water_inside][value=no]")).to_be_checked()
    save(phone)
    expect(phone.locator("#proofs")).to_be_visible()
    phone.reload()
    expect(phone.locator("[data-draft-restored]")).to_be_hidden()
    assert StepRecord.objects.count() == before + 1
    measured = commissioning.records.order_by("pk").last().measured
    assert (measured["water_ml"], measured["no_water_inside"]) == (750, False)
    assert complaints == []


def test_without_signal_a_step_is_not_sent_and_stays_on_the_phone(phone):
    before = StepRecord.objects.count()
    open_step(phone, 7)
    phone.locator("[name=water_ml]").fill("750")
    phone.context.set_offline(True)
    save(phone)
    expect(phone.locator("[data-draft-offline]")).to_be_visible()
    expect(phone.locator("[name=water_ml]")).to_have_value("750")
    assert StepRecord.objects.count() == before
    phone.context.set_offline(False)
    save(phone)
    expect(phone.locator("#proofs")).to_be_visible()
    assert StepRecord.objects.count() == before + 1


def test_a_draft_of_one_person_is_not_shown_to_another(phone, live_server, osman):
    open_step(phone, 7)
    phone.locator("[name=water_ml]").fill("750")
    step = phone.url
    phone.locator("header form button").click()
    CertifiedFactory(name="Osman Owner", person=osman)
    phone.locator("#id_username").fill("osman")
    phone.locator("#id_password").fill(PASSWORD)
    phone.locator("form.panel button").click()
    phone.wait_for_url(lambda url: "/sign-in/" not in url)
    phone.goto(step)
    expect(phone.locator("[name=water_ml]")).to_have_value("500")
    expect(phone.locator("[data-draft-restored]")).to_be_hidden()


def test_the_driver_signs_with_a_finger(phone, complaints):
    pad = phone.locator("canvas")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    for row in (0.3, 0.6):
        phone.mouse.move(box["x"] + 10, box["y"] + row * box["height"])
        phone.mouse.down()
        phone.mouse.move(box["x"] + box["width"] / 2, box["y"] + 10, steps=8)
        phone.mouse.move(box["x"] + box["width"] + 50, box["y"] + box["height"] / 2, steps=8)
        phone.mouse.up()
    phone.locator("[name=received_by]").fill("Dana Driver")
    phone.locator("#hand-over ~ form button.btn-primary").click()
    phone.wait_for_url("**/certificates/**")
    signature = Certificate.objects.get().signature
    assert len(signature) == 2
    # The pad is five wide and two high; what left it stays at its edge.
    assert max(x for stroke in signature for x, _y in stroke) == 1
    assert max(y for stroke in signature for _x, y in stroke) <= 0.4
    assert complaints == []


def test_a_signature_that_is_cleared_is_gone_and_the_name_is_enough(phone):
    pad = phone.locator("canvas")
    pad.scroll_into_view_if_needed()
    pad.click()
    phone.get_by_role("button", name="Clear the signature").click()
    phone.locator("[name=received_by]").fill("Dana Driver")
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/certificates/**")
    assert Certificate.objects.get().signature == []


@pytest.mark.parametrize("width", [360, 1280])
def test_no_step_scrolls_sideways_and_every_target_is_large(phone, width):
    phone.set_viewport_size({"width": width, "height": 800})
    steps = phone.locator(".stages a")
    addresses = [steps.nth(place).get_attribute("href") for place in range(steps.count())]
    small = """() => [...document.querySelectorAll(
        "form[data-draft] :is(input, select, button):not([type=hidden], [type=radio]), .pair label"
    )].filter(e => e.getBoundingClientRect().height < 44).map(e => e.outerHTML)"""
    for address in addresses:
        phone.goto(f"{phone.url.split('/commissioning')[0]}{address}")
        assert phone.evaluate("document.scrollingElement.scrollWidth <= innerWidth")
        assert phone.evaluate(small) == []
