"""One unit: where it is, what it is made for, what happened, what was measured, what is covered."""

from datetime import UTC, date, datetime

import pytest

from fleetcool.models import UnitSystem
from installs.models import Cover, Terms
from reports.timeline import unit_timeline
from tests.factories import (
    BatteryBankFactory,
    BatteryRenewalFactory,
    InstallFactory,
    OvernightFactory,
    ReadingFactory,
    ScreenRunFactory,
    TractorFactory,
    UnitFactory,
)
from tests.fleets import fleet_of


@pytest.fixture
def fleet(frida):
    return fleet_of(frida.customers.get(), ScreenRunFactory(), truck="T-1", serial="K-7")


def page_of(client, person, serial: str) -> str:
    client.force_login(person)
    return client.get(f"/units/{serial}/").content.decode().replace("\xa0", " ")


def test_unit_page_says_where_the_unit_is_and_what_it_holds(client, frida, fleet):
    page = page_of(client, frida, "K-7")
    assert fleet.tractor.get_absolute_url() in page
    assert "2024-03-04" in page
    assert "11.3 oz" in page  # 320 g / 28.3495 g an ounce: the definition of the avoirdupois ounce


def test_what_burns_stands_before_every_other_caution(client, frida, fleet):
    page = page_of(client, frida, "K-7")
    cautions = page.split('class="caution"')
    assert "R-290 burns (class A3)" in cautions[1]
    assert "freeze skin" in cautions[2]


def test_quantities_follow_the_person(client, frida, fleet):
    # 1 psi is 6.894757 kPa: NIST SP 811, appendix B.
    assert "163.9 psi" in page_of(client, frida, "K-7")
    frida.unit_system = UnitSystem.SI
    frida.save()
    assert "1130 kPa" in page_of(client, frida, "K-7")


def test_history_runs_from_the_newest_to_the_oldest(frida, fleet):
    days = [entry.day for entry in unit_timeline(fleet.unit, frida)]
    assert days == sorted(days, reverse=True)
    # The install, its certificate, the visit, the readings, the charge, the renewal, the nights.
    assert len(days) == 1 + 1 + 1 + 5 + 1 + 1 + 1


def test_nights_are_told_by_the_month(frida, fleet):
    for day in (6, 7):
        OvernightFactory(
            install=fleet.install,
            began_at=datetime(2024, 6, day, 3, tzinfo=UTC),
            ended_by="cutoff",
            run_h=6.0,
        )
    nights = [entry for entry in unit_timeline(fleet.unit, frida) if entry.monthly]
    assert [entry.what for entry in nights] == ["3 nights"]
    detail = nights[0].detail.replace("\xa0", " ")
    assert "Mean run 7.0 h" in detail
    assert "2 ended by the low-voltage cutoff" in detail


def test_batteries_renewed_after_the_unit_left_are_no_part_of_its_history(frida):
    tractor = TractorFactory(customer=frida.customers.get())
    bank = BatteryBankFactory(tractor=tractor)
    install = InstallFactory(tractor=tractor, removed_on=date(2025, 1, 1))
    BatteryRenewalFactory(bank=bank, at=datetime(2025, 3, 1, tzinfo=UTC))
    assert not [e for e in unit_timeline(install.unit, frida) if "renewed" in e.what]


def test_standing_readings_are_marked_as_no_word_on_the_charge(frida, fleet):
    ReadingFactory(install=fleet.install, taken_at=datetime(2025, 6, 1, tzinfo=UTC), output="")
    newest = unit_timeline(fleet.unit, frida)[0]
    assert newest.detail.startswith("Standing, so the pressures say nothing of the charge")


def test_charts_have_axes_a_text_alternative_and_the_epochs(client, frida, fleet):
    page = page_of(client, frida, "K-7")
    assert "Condensing lift, °F" in page
    assert 'role="img"' in page
    assert "<desc>Condensing lift: 5 points" in page
    assert "charged 18.3 oz, installed" in page
    assert "Condensing lift: the numbers" in page
    assert "style=" not in page


def test_a_unit_with_no_readings_says_so(client, olga):
    UnitFactory(serial="NEW-1")
    page = page_of(client, olga, "NEW-1")
    assert "No readings yet" in page
    assert "In no truck" in page


def test_a_serial_with_a_slash_has_its_page(client, olga):
    UnitFactory(serial="AC/12")
    client.force_login(olga)
    assert client.get("/units/AC/12/").status_code == 200


def test_terms_end_so_many_months_after_the_first_install(client, frida, fleet):
    terms = Terms.objects.create(name="Standard", given_from=date(2020, 1, 1))
    Cover.objects.create(terms=terms, part_group="compressor", months=24, run_hours=4000)
    page = page_of(client, frida, "K-7")
    assert "2026-03-04" in page
    assert "Compressor" in page


def test_a_fleet_sees_only_its_own_time_with_a_unit_that_moved_on(client, frida, frank, fleet):
    fleet.install.removed_on = date(2025, 1, 1)
    fleet.install.save()
    truck = TractorFactory(customer=frank.customers.get(), truck_number="FRANKS-9")
    moved = InstallFactory(unit=fleet.unit, tractor=truck, installed_on=date(2025, 1, 1))
    ReadingFactory(install=moved, taken_at=datetime(2025, 2, 1, tzinfo=UTC), gauge="GF")
    page = page_of(client, frida, "K-7")
    assert "In none of your trucks now" in page
    assert "FRANKS-9" not in page
    assert "gauge GF" not in page
    assert "T-1" not in page_of(client, frank, "K-7")


def test_the_page_costs_the_same_however_long_the_history(
    client, frida, fleet, django_assert_max_num_queries
):
    client.force_login(frida)
    with django_assert_max_num_queries(40) as few:
        client.get("/units/K-7/")
    for day in range(1, 20):
        ReadingFactory(install=fleet.install, taken_at=datetime(2025, 1, day, tzinfo=UTC))
        OvernightFactory(install=fleet.install, began_at=datetime(2025, 1, day, tzinfo=UTC))
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get("/units/K-7/")
