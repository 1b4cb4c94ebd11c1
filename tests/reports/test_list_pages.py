"""The lists of units, trucks and customers, and the pages of one truck and one customer."""

import pytest

from tests.factories import (
    BatteryBankFactory,
    FindingFactory,
    InstallFactory,
    ReadingFactory,
    ScreenRunFactory,
    TractorFactory,
)
from tests.fleets import fleet_of


@pytest.fixture
def fleet(frida):
    return fleet_of(frida.customers.get(), ScreenRunFactory(), truck="T-1", serial="K-7")


def rows_of(response) -> list[str]:
    return [str(row.record) for row in response.context["table"].page.object_list]


def test_unit_list_says_where_each_unit_is_and_what_is_open(client, frida, fleet):
    client.force_login(frida)
    row = client.get("/units/").context["table"].data[0]
    assert (row.now_truck, row.now_customer, row.open_findings) == ("T-1", "Frida's fleet", 1)


def test_units_are_found_by_the_truck_they_are_in(client, frida, fleet):
    InstallFactory(tractor=TractorFactory(customer=fleet.customer, truck_number="OTHER"))
    client.force_login(frida)
    assert rows_of(client.get("/units/", {"q": "t-1"})) == ["K-7"]


def test_units_narrow_by_the_customer_they_are_with(client, olga, frank, fleet):
    other = InstallFactory(tractor=TractorFactory(customer=frank.customers.get()))
    client.force_login(olga)
    asked = {"customer": frank.customers.get().pk}
    assert rows_of(client.get("/units/", asked)) == [other.unit.serial]


def test_truck_list_shows_the_bank_and_the_unit_in_it(client, frida, fleet):
    client.force_login(frida)
    page = client.get("/tractors/").content.decode()
    assert "4 × 105 Ah" in page
    assert "/units/K-7/" in page


def test_truck_page_shows_bank_renewals_units_and_findings(client, frida, fleet):
    client.force_login(frida)
    page = client.get(fleet.tractor.get_absolute_url()).content.decode().replace("\xa0", " ")
    assert "420 Ah" in page  # four 12 V batteries of 105 Ah side by side
    assert "2025-03-01" in page
    assert "/units/K-7/" in page
    assert "Refrigerant leak" in page


def test_truck_without_a_bank_on_record_says_how_to_add_one(client, frida):
    tractor = TractorFactory(customer=frida.customers.get())
    client.force_login(frida)
    page = client.get(tractor.get_absolute_url()).content.decode()
    assert "No battery bank on record" in page


def test_customer_page_counts_trucks_units_and_findings(client, olga, frida, fleet):
    TractorFactory(customer=fleet.customer)
    client.force_login(olga)
    response = client.get(fleet.customer.get_absolute_url())
    customer = response.context["customer"]
    assert (customer.truck_count, customer.unit_count) == (2, 1)
    assert [(cause.value, n) for cause, n in response.context["causes"]] == [
        ("refrigerant_leak", 1)
    ]
    assert "frida" in response.content.decode()


def test_customer_list_is_searched_by_name(client, olga, frida, frank):
    client.force_login(olga)
    assert rows_of(client.get("/customers/", {"q": "frank"})) == ["Frank's fleet"]


@pytest.mark.parametrize("url", ["/findings/", "/units/", "/tractors/", "/customers/"])
def test_a_list_costs_the_same_for_one_row_as_for_twenty(
    client, frida, fleet, url, django_assert_num_queries, django_assert_max_num_queries
):
    client.force_login(frida)
    with django_assert_max_num_queries(12) as few:
        client.get(url)
    for _ in range(20):
        install = InstallFactory(tractor=TractorFactory(customer=fleet.customer))
        BatteryBankFactory(tractor=install.tractor)
        ReadingFactory(install=install)
        FindingFactory(install=install, run=fleet.finding.run)
    with django_assert_num_queries(len(few.captured_queries)):
        client.get(url)


def test_a_long_list_is_cut_into_pages(client, frida, fleet):
    for _ in range(26):
        TractorFactory(customer=fleet.customer)
    client.force_login(frida)
    first = client.get("/tractors/")
    assert len(rows_of(first)) == 25
    assert "Page 1 of 2" in first.content.decode()
    assert len(rows_of(client.get("/tractors/", {"page": 2}))) == 2
