"""What axe finds on every page, as the owner sees them, on a phone and at a desk."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from playwright.sync_api import Page

from fleetcool.models import Role
from tests.browser.an_install_day import sign_in
from tests.factories import (
    CustomerFactory,
    PersonFactory,
    ScreenRunFactory,
    UnitFactory,
    YardFactory,
)
from tests.fleetcool.test_spanish import PAGES
from tests.fleets import fleet_of
from tests.test_access import address

pytestmark = pytest.mark.browser

SIZES = {"phone": {"width": 360, "height": 800}, "desk": {"width": 1280, "height": 900}}
# What axe calls them, worst first; the rest is advice.
SERIOUS = ("critical", "serious")


# The longer words of Spanish are what a narrow page breaks on.
@pytest.mark.parametrize(("size", "language"), [("phone", "en"), ("desk", "en"), ("phone", "es")])
def test_axe_finds_nothing_serious_and_no_page_scrolls_sideways(
    page: Page, live_server, size, language
):
    PersonFactory(username="osman", role=Role.OWNER, is_staff=True, is_superuser=True)
    fleet = fleet_of(CustomerFactory(), ScreenRunFactory(), truck="T-1", serial="K-7")
    UnitFactory(yard=YardFactory(name="Bay yard", customer=None))
    page.set_viewport_size(SIZES[size])
    sign_in(page, live_server, "osman")
    spoken = {"name": settings.LANGUAGE_COOKIE_NAME, "value": language, "url": live_server.url}
    page.context.add_cookies([spoken])
    found = {}
    for name in sorted(PAGES):
        page.goto(f"{live_server.url}{address(name, fleet)}")
        told = Axe().run(page).response["violations"]
        wrong = [one["id"] for one in told if one["impact"] in SERIOUS]
        if page.evaluate("document.scrollingElement.scrollWidth > innerWidth"):
            wrong.append("scrolls sideways")
        if wrong:
            found[name] = wrong
    assert found == {}
