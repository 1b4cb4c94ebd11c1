"""A shop on the day of an install, and hands that go through its pages in a real browser."""

from datetime import date

from playwright.sync_api import Page, expect

from fleetcool.models import Role
from installs import models as installs
from tests.factories import (
    BatteryBankFactory,
    BayFactory,
    CertifiedFactory,
    CustomerFactory,
    CylinderFactory,
    JobFactory,
    PersonFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
)

# A hot day, in the units of the trade: 40-50 psi of suction and 150-180 psi of discharge are common
# practice, no source. The charge is 550 g on a nameplate of 550 g.
TYPED = {
    "pressure_test": {
        "start_kpa": "145",
        "start_c": "90",
        "end_kpa": "144.9",
        "end_c": "90",
        "minutes": "20",
    },
    "evacuation": {
        "pump_from": "09:10",
        "pump_to": "09:45",
        "lowest_micron": "320",
        "decay_minutes": "12",
        "after_micron": "560",
    },
    "charge": {"charge_g": "19.4"},
    "supply": {"fuse_a": "100", "fuse_to_battery_cm": "30"},
    "drain": {"water_ml": "500"},
    "first_run": {
        "rest_v": "12.7",
        "draw_low_a": "25",
        "draw_mid_a": "38",
        "draw_high_a": "65",
        "bank_v": "12.35",
        "unit_v": "12.15",
        "suction_kpa": "45",
        "discharge_kpa": "165",
        "ambient_c": "95",
        "return_air_c": "84",
        "supply_air_c": "62",
    },
    "settings": {"cutoff_v": "11", "set_point_c": "70"},
}


def shop() -> installs.Tractor:
    """Olga, Tomás with his certificate and hours, Osman; a bay, a job, a truck and a unit in stock."""
    PersonFactory(username="olga", role=Role.OFFICE)
    PersonFactory(username="osman", role=Role.OWNER)
    bay = BayFactory(name="Bay 1")
    CertifiedFactory(
        name="Tomás Abrilhaus",
        person=PersonFactory(username="tomas", role=Role.TECHNICIAN),
        yard=bay.yard,
    )
    JobFactory(name="Install")
    model = UnitModelFactory(
        name="N7-12",
        charge_g=550,
        draw_low_a=25,
        draw_mid_a=38,
        draw_high_a=65,
        cutoff_v=11,
        expansion="valve",
    )
    UnitFactory(serial="N712-001", model=model, yard=bay.yard)
    CylinderFactory(code="CYL-1")
    installs.Terms.objects.create(name="Shop terms", given_from=date(2020, 1, 1)).covers.create(
        part_group="compressor", months=36
    )
    customer = CustomerFactory(name="Bramble Kettle Haulage", contact_email="fleet@example.com")
    tractor = TractorFactory(customer=customer, truck_number="K-901")
    BatteryBankFactory(tractor=tractor, battery_ah=105, installed_on=date(2026, 9, 1))
    return tractor


def sign_in(page: Page, live_server, who: str) -> None:
    page.context.clear_cookies()
    page.goto(f"{live_server.url}/sign-in/")
    page.get_by_label("Username").fill(who)
    page.get_by_label("Password").fill("a-long-enough-secret")
    page.get_by_label("Password").press("Enter")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def check_the_fit(page: Page, live_server, tractor: installs.Tractor) -> None:
    page.goto(f"{live_server.url}{tractor.get_absolute_url()}")
    page.get_by_role("link", name="Fit check").click()
    page.get_by_label("Unit model", exact=True).select_option("N7-12")
    page.get_by_role("button", name="Fill in from the records").click()
    page.get_by_label("Hours wanted").fill("9")
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", name="Carries 9.0 h")).to_be_visible()


def book_it_in(page: Page) -> None:
    """From the fit check on: the first time that is offered."""
    page.get_by_role("link", name="Book the install").click()
    show_free_times(page)
    page.locator("input[name=slot]").first.check()
    page.get_by_label("Hoses go").select_option("floor")
    page.get_by_label("Side of mounting").select_option("left")
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.get_by_role("heading", name="Install: truck K-901")).to_be_visible()


def show_free_times(page: Page) -> None:
    """On the booking page, which the fit check has told truck and model."""
    page.get_by_label("Job").select_option("Install")
    page.get_by_role("button", name="Show free times").click()


def measure(page: Page, live_server, step: str, **changed: str) -> None:
    """Fill in a step of the only commissioning: yes to every question, the figures of TYPED."""
    commissioning = installs.Commissioning.objects.get()
    page.goto(f"{live_server.url}/commissioning/{commissioning.pk}/{step}/")
    for question in page.locator(".pair").all():
        name = question.locator("input").first.get_attribute("name")
        answer = "no" if name == "engine_running" else "yes"
        question.locator(f"input[value={answer}]").check()
    for name, text in {**TYPED.get(step, {}), **changed}.items():
        page.locator(f"[name={name}]").fill(text)
    if step == "charge":
        page.locator("[name=cylinder]").select_option("CYL-1")
    if step == "first_run":
        page.locator("[name=output]").select_option("high")
    page.get_by_role("button", name="Sign and save this step").click()
    expect(page.get_by_role("status").filter(has_text="Saved")).to_be_visible()
