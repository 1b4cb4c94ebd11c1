"""A claim from its visit to the maker's credit: one makes it, two decide, none decides on their own."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from fleetcool.models import Role
from installs.models import PartGroup, Terms
from service.models import Claim, ClaimState, ClaimStepKind, VisitPart
from tests.browser.an_install_day import sign_in
from tests.factories import CustomerFactory, PersonFactory, ScreenRunFactory, VisitFactory
from tests.fleets import fleet_of

pytestmark = pytest.mark.browser


@pytest.fixture
def visit(page: Page, transactional_db):
    """A compressor was changed yesterday at unit K-7; above 500 USD two people approve."""
    PersonFactory(username="clara", role=Role.WARRANTY_CLERK)
    PersonFactory(username="celia", role=Role.WARRANTY_CLERK)
    PersonFactory(username="osman", role=Role.OWNER)
    terms = Terms.objects.create(
        name="Shop terms", given_from=date(2020, 1, 1), four_eyes_above=Decimal(500)
    )
    for group in PartGroup:
        terms.covers.create(part_group=group, months=120)
    fleet = fleet_of(CustomerFactory(), ScreenRunFactory(), truck="T-1", serial="K-7")
    at = timezone.now() - timedelta(days=1)
    visit = VisitFactory(install=fleet.install, at=at, found="The compressor is seized.")
    told = {"name": "compressor", "serial_out": "CMP-11", "serial_in": "CMP-42"}
    VisitPart.objects.create(visit=visit, part_group="compressor", **told)
    return visit


def step(page: Page, title: str):
    """Open the form of a step and return it."""
    page.locator("summary", has_text=title).click()
    return page.get_by_role("form", name=title)


def test_from_the_visit_to_the_credit_with_four_eyes(page: Page, live_server, visit):
    sign_in(page, live_server, "clara")
    page.goto(f"{live_server.url}{visit.get_absolute_url()}")
    page.get_by_role("button", name="Open a claim").click()
    claim = Claim.objects.get(visit=visit)
    expect(page.get_by_role("heading", name=f"Claim {claim.number}")).to_be_visible()

    page.get_by_text("Write down the lines").click()
    part = page.get_by_role("group", name="compressor")
    part.get_by_label("Price of one").fill("640.00")
    labour = page.get_by_role("group", name="Line 2, new")
    labour.get_by_label("What").fill("exchange, h")
    labour.get_by_label("Kind").select_option("labour")
    labour.get_by_label("Quantity").fill("2.5")
    labour.get_by_label("Price of one").fill("95")
    page.get_by_role("button", name="Save the lines").click()
    # 640 + 2.5 × 95 = 877.50, by hand.
    expect(page.locator("dl.facts").first).to_contain_text("877.50")
    step(page, "Submit it").get_by_role("button", name="Submit for decision").click()
    expect(page.get_by_text("somebody else decides on it")).to_be_visible()
    expect(page.get_by_text("Approve it, in full or in part")).to_have_count(0)

    url = f"{live_server.url}{claim.get_absolute_url()}"
    for who, state in (("osman", "Awaiting a second person"), ("celia", "Approved")):
        sign_in(page, live_server, who)
        page.goto(url)
        form = step(page, "Approve it, in full or in part")
        form.get_by_label("Why").fill("Seized within its time; the photo is still to come.")
        form.get_by_role("button", name="Approve these sums").click()
        expect(page.get_by_role("status")).to_contain_text(f"The claim stands so: {state}.")
        expect(page.get_by_text("Approve it, in full or in part")).to_have_count(0)

    sign_in(page, live_server, "clara")
    page.goto(url)
    form = step(page, "Send it to the maker of the part")
    form.get_by_label("Or one that is not on record yet").fill("Northgate Compressors")
    form.get_by_label("Asked of them").fill("640")
    form.get_by_role("button", name="It is sent").click()
    form = step(page, "Write down a credit")
    form.get_by_label("Credited").fill("640")
    form.get_by_role("button", name="It is credited").click()
    expect(page.get_by_role("status")).to_contain_text("The claim stands so: Credited.")

    claim = Claim.objects.get(pk=claim.pk)
    assert claim.state == ClaimState.CREDITED
    deciders = claim.steps.filter(
        kind__in=[ClaimStepKind.FIRST_APPROVED, ClaimStepKind.APPROVED]
    ).values_list("by__username", flat=True)
    assert sorted(deciders) == ["celia", "osman"]
    page.get_by_role("link", name="All claims").click()
    page.get_by_role("link", name="What suppliers owe").click()
    expect(page.get_by_role("main")).to_contain_text("Credited in full")


def test_a_claim_does_not_scroll_sideways_on_a_phone(page: Page, live_server, visit):
    page.set_viewport_size({"width": 360, "height": 800})
    sign_in(page, live_server, "clara")
    page.goto(f"{live_server.url}{visit.get_absolute_url()}")
    page.get_by_role("button", name="Open a claim").click()
    for summary in page.locator("details > summary").all():
        summary.click()
    width = "[document.scrollingElement.scrollWidth, window.innerWidth]"
    needed, given = page.evaluate(width)
    assert needed <= given == 360
