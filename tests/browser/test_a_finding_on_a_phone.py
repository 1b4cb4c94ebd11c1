"""Tomás writes down at the truck what he found, on a phone, also where no script runs."""

import pytest
from playwright.sync_api import Page, expect

from fleetcool.models import Role
from tests.factories import CustomerFactory, PersonFactory, ScreenRunFactory
from tests.fleets import fleet_of

pytestmark = pytest.mark.browser


@pytest.fixture
def browser_context_args(browser_context_args):
    return browser_context_args | {
        "viewport": {"width": 360, "height": 800},
        "java_script_enabled": False,
    }


@pytest.fixture
def finding(page: Page, live_server):
    PersonFactory(username="tomas", role=Role.TECHNICIAN)
    finding = fleet_of(CustomerFactory(), ScreenRunFactory(), truck="T-1", serial="K-7").finding
    page.goto(live_server.url)
    page.get_by_label("Username").fill("tomas")
    page.get_by_label("Password").fill("a-long-enough-secret")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="Refrigerant leak").click()
    expect(page.get_by_role("heading", name="Refrigerant leak", level=1)).to_be_visible()
    return finding


def test_tomas_confirms_a_leak_by_keyboard_alone(page: Page, finding):
    summary = page.get_by_text("Say what was found")
    summary.focus()
    page.keyboard.press("Enter")
    found = page.get_by_label("What was found")
    expect(found).to_be_visible()
    page.keyboard.press("Tab")
    expect(found).to_be_focused()
    found.select_option("Refrigerant leak, as the screen says")
    page.get_by_label("In words").fill("The crimp of the liquid hose weeps.")
    page.get_by_label("It is mended").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_have_text("Written down: confirmed and mended.")
    expect(page.get_by_text("The crimp of the liquid hose weeps.")).to_be_visible()


def test_what_is_missing_is_said_beside_its_field(page: Page, finding):
    page.get_by_text("Say what was found").click()
    page.get_by_label("What was found").select_option("Something else")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_label("In words")).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_text("Say in words what was found.")).to_be_visible()


def test_the_page_does_not_scroll_sideways_with_every_form_open(page: Page, finding):
    for summary in page.locator("details > summary").all():
        summary.click()
    width = "[document.scrollingElement.scrollWidth, window.innerWidth]"
    needed, given = page.evaluate(width)
    assert needed <= given == 360
