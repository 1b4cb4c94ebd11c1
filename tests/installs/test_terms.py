"""Which terms an install comes under."""

from datetime import date

import pytest

from installs.cover import first_install
from installs.models import Terms
from tests.factories import CustomerFactory, InstallFactory, UnitModelFactory


@pytest.fixture
def install(db):
    return InstallFactory(installed_on=date(2024, 3, 4), unit__made_on=date(2024, 1, 15))


def terms(name: str, given_from: date = date(2024, 1, 1), **rule) -> Terms:
    return Terms.objects.create(name=name, given_from=given_from, **rule)


def test_the_newest_terms_of_the_install_day_hold(install):
    terms("old", date(2023, 1, 1))
    held = terms("held", date(2024, 3, 4))
    terms("too late", date(2024, 3, 5))
    assert Terms.objects.given_to(install).first() == held


def test_a_contract_goes_before_terms_for_the_model_and_those_before_the_rest(install):
    rest = terms("rest", date(2024, 3, 1))
    model = terms("model", date(2024, 2, 1), model=install.unit.model)
    contract = terms("contract", date(2024, 1, 1), customer=install.customer)
    assert list(Terms.objects.given_to(install)) == [contract, model, rest]


def test_terms_of_another_customer_or_model_do_not_hold(install):
    terms("another's", customer=CustomerFactory())
    terms("another model", model=UnitModelFactory())
    assert not Terms.objects.given_to(install).exists()


def test_terms_for_units_made_in_a_range_hold_in_it_only(install):
    held = terms("in", made_from=date(2024, 1, 15), made_to=date(2024, 1, 15))
    terms("before", made_to=date(2024, 1, 14))
    terms("after", made_from=date(2024, 1, 16))
    assert list(Terms.objects.given_to(install)) == [held]


def test_a_unit_of_unknown_making_comes_under_no_range(install):
    install.unit.made_on = None
    terms("range", made_from=date(2020, 1, 1))
    plain = terms("plain")
    assert list(Terms.objects.given_to(install)) == [plain]


def test_an_install_undone_on_its_own_day_begins_no_terms(install):
    InstallFactory(unit=install.unit, installed_on=date(2024, 2, 1), removed_on=date(2024, 2, 1))
    assert first_install(install.unit) == install


def test_a_cover_from_first_use_is_said_to_end_at_the_earliest(install):
    held = terms("held")
    from_use = held.covers.create(part_group="fans", months=24, counts_from="first_use")
    from_install = held.covers.create(part_group="coils", months=24)
    assert from_use.label == "fans (from first use, so at the earliest)"
    assert from_install.label == "coils"
