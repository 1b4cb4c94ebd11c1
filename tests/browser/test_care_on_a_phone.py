"""Recurring care on a phone: a group of ticks outlives the tab whole."""

import pytest
from playwright.sync_api import expect

from fleetcool.models import Role
from service.models import CareDone, CareItem
from tests.browser.phones import Phone
from tests.factories import InstallFactory, PersonFactory, TechnicianFactory, UnitFactory


@pytest.fixture
def phone(playwright, browser_type_launch_args, tmp_path, live_server):
    TechnicianFactory(person=PersonFactory(username="tomas", role=Role.TECHNICIAN))
    InstallFactory(unit=UnitFactory(serial="K-1"))
    folder = tmp_path / "phone"
    phone = Phone(playwright.chromium, browser_type_launch_args, folder, live_server.url)
    yield phone
    phone.context.close()


def test_every_care_that_was_ticked_is_brought_back_and_sent(phone):
    for task in ("filter", "coils", "drain"):
        CareItem.objects.update_or_create(task=task, unit_model=None, defaults={"months": 1})
    phone.sign_in("tomas")
    phone.open("/visits/log/K-1/")
    for task in ("filter", "drain"):
        phone.tap(f"label[for=id_care_{task}]")
    phone.open("/visits/log/K-1/")
    expect(phone.page.locator("[data-draft-restored]")).to_be_visible()
    for task, ticked in (("filter", True), ("coils", False), ("drain", True)):
        expect(phone.page.locator(f"#id_care_{task}")).to_be_checked(checked=ticked)
    phone.save()
    phone.is_at_the_visit()
    assert sorted(CareDone.objects.values_list("task", flat=True)) == ["drain", "filter"]
