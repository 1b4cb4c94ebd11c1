"""Frida looks up which trucks to bring in, on a phone and at a desk."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.factories import ScreenRunFactory
from tests.fleets import fleet_of

pytestmark = pytest.mark.browser

WIDTHS = pytest.mark.parametrize("width", [360, 1280])


@pytest.fixture
def complaints(page: Page) -> list[str]:
    """What the browser itself complains of, a breach of the page's own strict rules above all."""
    heard: list[str] = []
    page.on("console", lambda message: message.type == "error" and heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    return heard


@pytest.fixture
def signed_in(page: Page, live_server, frida) -> Page:
    run = ScreenRunFactory()
    fleet_of(frida.customers.get(), run, truck="A-truck-number-as-long-as-they-come", serial="K-7")
    page.goto(live_server.url)
    page.get_by_label("Username").fill("frida")
    page.get_by_label("Password").fill("a-long-enough-secret")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Which trucks to bring in", exact=True)).to_be_visible()
    return page


def scrolls_sideways(page: Page) -> bool:
    return page.evaluate("document.scrollingElement.scrollWidth > window.innerWidth")


@WIDTHS
def test_frida_reads_her_findings_and_opens_the_unit(complaints, page, width, signed_in):
    page.set_viewport_size({"width": width, "height": 800})
    expect(page.get_by_role("heading", name="Which trucks to bring in")).to_be_visible()
    expect(page.get_by_role("cell", name="Refrigerant leak")).to_be_visible()
    assert not scrolls_sideways(page)

    page.get_by_role("link", name="K-7").click()
    expect(page.get_by_role("heading", name="Unit K-7")).to_be_visible()
    expect(page.get_by_role("img", name="Condensing lift")).to_be_visible()
    for numbers in page.get_by_text("the numbers").all():
        numbers.click()
    assert not scrolls_sideways(page)
    assert complaints == []


@WIDTHS
@pytest.mark.parametrize("name", ["Trucks", "Units", "Customers"])
def test_no_list_scrolls_sideways(complaints, page, width, name, signed_in):
    page.set_viewport_size({"width": width, "height": 800})
    page.get_by_role("navigation", name="Pages").get_by_role("link", name=name).click()
    expect(page.get_by_role("heading", name=name, exact=True)).to_be_visible()
    assert not scrolls_sideways(page)
    row = page.get_by_role("cell").get_by_role("link").first
    opened = re.compile(re.escape(row.get_attribute("href")) + "$")
    row.click()
    expect(page).to_have_url(opened)
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    assert not scrolls_sideways(page)
    assert complaints == []


def test_the_first_stop_of_the_keyboard_leads_past_the_menu(page, signed_in):
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the page")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


def test_frida_changes_to_metric_units_and_stays_on_her_page(page, signed_in):
    page.get_by_role("link", name="K-7").click()
    page.get_by_label("Units", exact=True).select_option("si")
    page.get_by_role("button", name="Use these units").click()
    expect(page.get_by_role("heading", name="Unit K-7")).to_be_visible()
    expect(page.get_by_text("320 g").first).to_be_visible()


def test_frida_signs_out_for_good(page, live_server, signed_in):
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    page.goto(f"{live_server.url}/findings/")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
