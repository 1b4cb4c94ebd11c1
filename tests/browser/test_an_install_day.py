"""One truck from the fit check to the unit's page, on a phone and at a desk; and what is refused."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from installs.forms.bookings import SlotField
from installs.models import Booking, Certificate, Commissioning, InstallStep, Technician
from service.models import Movement, Reading
from tests.browser.an_install_day import (
    book_it_in,
    check_the_fit,
    measure,
    shop,
    show_free_times,
    sign_in,
)
from tests.factories import BookingFactory

pytestmark = pytest.mark.browser

SIZES = {"phone": {"width": 360, "height": 800}, "desk": {"width": 1280, "height": 900}}


@pytest.fixture(params=SIZES)
def sized(request, page: Page) -> Page:
    page.set_viewport_size(SIZES[request.param])
    return page


def begin(page: Page, live_server) -> None:
    page.goto(f"{live_server.url}{Booking.objects.get().get_absolute_url()}")
    page.get_by_role("button", name="Start commissioning").click()
    expect(page.get_by_role("heading", name="Commissioning of N712-001")).to_be_visible()


def sign(page: Page) -> None:
    page.get_by_label("Name of the person who takes the truck").fill("R. Quillfeather")
    pad = page.locator(".sign canvas")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 90, box["y"] + 60, steps=8)
    page.mouse.up()
    page.get_by_role("button", name="Sign and give the certificate").click()


def test_a_truck_goes_from_the_fit_check_to_the_units_page(sized: Page, live_server):
    tractor = shop()
    sign_in(sized, live_server, "olga")
    check_the_fit(sized, live_server, tractor)
    book_it_in(sized)
    expect(sized.get_by_text("N712-001").first).to_be_visible()

    sign_in(sized, live_server, "tomas")
    begin(sized, live_server)
    for step in InstallStep.values:
        measure(sized, live_server, step)
    sized.goto(f"{live_server.url}{Commissioning.objects.get().get_absolute_url()}")
    sign(sized)
    expect(sized.get_by_role("heading", name="Certificate C-")).to_be_visible()
    certificate = Certificate.objects.get()
    assert len(certificate.signature) == 1
    # 19.4 oz are 550 g, and 45 psi are 310 kPa (NIST SP 811).
    assert Movement.objects.get().mass_g == pytest.approx(550, abs=1)
    assert Reading.objects.get().suction_kpa == pytest.approx(310, abs=1)

    sized.goto(f"{live_server.url}/units/N712-001/")
    sized.get_by_role("link", name=certificate.number).first.click()
    paper = sized.get_by_role("link", name="Certificate to print").get_attribute("href")
    assert sized.request.get(f"{live_server.url}{paper}").body().startswith(b"%PDF")

    sized.context.clear_cookies()
    sized.goto(f"{live_server.url}{certificate.get_public_url()}")
    public = sized.locator("main")
    expect(public).to_contain_text("N712-001")
    expect(public).not_to_contain_text("K-901")
    expect(public).not_to_contain_text("Bramble")


def take(slot: str) -> None:
    """Somebody else books the same time for another truck."""
    begins_at, bay, technician = SlotField().clean(slot)
    BookingFactory(
        bay=bay, technician=technician, begins_at=begins_at, ends_at=begins_at + timedelta(hours=6)
    )


class TestWhatIsRefused:
    def test_a_bank_of_mixed_batteries_is_not_checked(self, page: Page, live_server):
        tractor = shop()
        sign_in(page, live_server, "olga")
        page.goto(f"{live_server.url}/fit/?tractor={tractor.vin}&model=N7-12")
        page.get_by_label("flooded lead-acid").check()
        page.get_by_role("button", name="Check it").click()
        expect(page.get_by_text("A bank of mixed battery types is not checked")).to_be_visible()

    def test_who_comes_second_is_offered_the_next_times(self, page: Page, live_server):
        tractor = shop()
        sign_in(page, live_server, "olga")
        check_the_fit(page, live_server, tractor)
        page.get_by_role("link", name="Book the install").click()
        show_free_times(page)
        page.locator("input[name=slot]").first.check()
        first = page.locator("input[name=slot]").first.get_attribute("value")
        take(first)
        page.get_by_role("button", name="Book", exact=True).click()
        expect(page.get_by_role("alert").first).to_contain_text("just")
        offered = [slot.get_attribute("value") for slot in page.locator("input[name=slot]").all()]
        assert offered and first not in offered

    def test_a_technician_whose_certificate_ran_out_signs_no_refrigerant_step(
        self, page: Page, live_server
    ):
        tractor = shop()
        sign_in(page, live_server, "olga")
        check_the_fit(page, live_server, tractor)
        book_it_in(page)
        sign_in(page, live_server, "tomas")
        begin(page, live_server)
        yesterday = timezone.localdate() - timedelta(days=1)
        Technician.objects.update(certified_until=yesterday)
        page.goto(f"{page.url}charge/")
        expect(page.get_by_text("You cannot sign this step.")).to_be_visible()
        expect(page.get_by_role("button", name="Sign and save this step")).to_have_count(0)

    def test_a_short_charge_gets_no_certificate_until_the_owner_answers_for_it(
        self, page: Page, live_server
    ):
        tractor = shop()
        sign_in(page, live_server, "olga")
        check_the_fit(page, live_server, tractor)
        book_it_in(page)
        sign_in(page, live_server, "tomas")
        begin(page, live_server)
        for step in InstallStep.values:
            # 470 g are 16.6 oz.
            measure(page, live_server, step, **({"charge_g": "16.6"} if step == "charge" else {}))
        commissioning = Commissioning.objects.get()
        page.goto(f"{live_server.url}{commissioning.get_absolute_url()}")
        expect(page.get_by_text("No certificate yet.")).to_be_visible()
        expect(page.get_by_role("button", name="Sign and give the certificate")).to_have_count(0)

        sign_in(page, live_server, "osman")
        page.goto(f"{live_server.url}/commissioning/{commissioning.pk}/charge/")
        page.locator("details", has_text="Let it pass").locator("summary").click()
        page.get_by_label("Why it is let pass").fill("Short hoses, the maker asks for less.")
        page.get_by_role("button", name="Let it pass").click()
        expect(page.get_by_text("Short hoses, the maker asks for less.")).to_be_visible()
        sign_in(page, live_server, "tomas")
        page.goto(f"{live_server.url}{commissioning.get_absolute_url()}")
        expect(page.get_by_role("button", name="Sign and give the certificate")).to_be_visible()
