"""A unit opens by what can be read on it, however it is typed."""

from html import unescape

import pytest

from reports.unit_search import find_units
from tests.factories import (
    CustomerFactory,
    InstallFactory,
    ScreenRunFactory,
    TractorFactory,
    UnitFactory,
)
from tests.fleets import fleet_of

LOG = "/visits/log/K-7/"


@pytest.fixture
def fleet(frida):
    return fleet_of(frida.customers.get(), ScreenRunFactory(), truck="T-10", serial="K-7")


@pytest.fixture
def desk(client, tomas, fleet):
    """Where Tomás types what he reads on a truck."""
    client.force_login(tomas)
    return client


def page(response) -> str:
    assert response.status_code == 200
    return unescape(response.content.decode())


@pytest.mark.parametrize("typed", ["K-7", "k7", " K 7 ", "t10", "T-1O", "TI0", "/units/K-7/"])
def test_a_unit_opens_however_it_is_typed(desk, typed):
    response = desk.get("/visits/open/", {"q": typed})
    assert (response.status_code, response.url) == (302, LOG)


def test_a_unit_opens_by_vin_and_by_its_last_six(desk, fleet):
    vin = fleet.tractor.vin
    for typed in (vin, vin.lower(), vin[-6:]):
        assert desk.get("/visits/open/", {"q": typed}).url == LOG


def test_what_a_scanner_reads_opens_the_unit(desk):
    scanned = "https://shop.example/units/K-7/card/"
    assert desk.get("/visits/open/", {"q": scanned}).url == LOG


@pytest.mark.parametrize("typed", ["SB-4417", "SB-44177", "SB-447", "SB-4471", "SB-4"])
def test_one_wrong_letter_is_offered_not_opened(desk, fleet, typed):
    serial = "SB-4417" if typed != "SB-4417" else "SB-4418"
    UnitFactory(serial=serial, model=fleet.unit.model)
    text = page(desk.get("/visits/open/", {"q": typed}))
    assert "Did you mean" in text
    assert "/visits/log/SB-44" in text


def test_two_wrong_letters_are_nothing(desk, fleet):
    UnitFactory(serial="SB-4417", model=fleet.unit.model)
    text = page(desk.get("/visits/open/", {"q": "SB-9917"}))
    assert "Nothing goes by" in text
    assert "last six of the VIN" in text


def test_trucks_of_one_number_show_their_customers(desk, fleet):
    for name in ("Amber Line", "Birch Line"):
        tractor = TractorFactory(customer=CustomerFactory(name=name), truck_number="88")
        InstallFactory(tractor=tractor, unit__model=fleet.unit.model)
    text = page(desk.get("/visits/open/", {"q": "88"}))
    assert "Amber Line" in text
    assert "Birch Line" in text


def test_a_search_costs_the_same_however_many_units_there_are(
    desk, tomas, fleet, django_assert_num_queries
):
    InstallFactory.create_batch(5, unit__model=fleet.unit.model)
    with django_assert_num_queries(2):
        assert find_units("K-7", tomas).exact


def test_a_fleet_manager_finds_own_units_only(frank, fleet):
    assert find_units("K-7", frank) == ([], [])
