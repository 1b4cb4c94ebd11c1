"""What the database itself refuses about a unit in a tractor."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from tests.factories import InstallFactory, UnitFactory

pytestmark = pytest.mark.django_db


def refused():
    return pytest.raises(IntegrityError)


def test_a_unit_cannot_stand_in_two_tractors_at_once():
    unit = UnitFactory()
    InstallFactory(unit=unit, installed_on=date(2024, 3, 4))
    with refused(), transaction.atomic():
        InstallFactory(unit=unit, installed_on=date(2024, 8, 1))


def test_closed_installs_cannot_overlap_either():
    unit = UnitFactory()
    InstallFactory(unit=unit, installed_on=date(2024, 3, 4), removed_on=date(2024, 9, 1))
    with refused(), transaction.atomic():
        InstallFactory(unit=unit, installed_on=date(2024, 8, 1), removed_on=date(2024, 8, 5))


def test_a_unit_moves_to_another_tractor_on_the_day_it_is_removed():
    unit = UnitFactory()
    InstallFactory(unit=unit, installed_on=date(2024, 3, 4), removed_on=date(2024, 9, 1))
    InstallFactory(unit=unit, installed_on=date(2024, 9, 1))
    assert unit.installs.count() == 2


def test_an_earlier_install_cannot_be_stretched_over_a_later_one():
    unit = UnitFactory()
    first = InstallFactory(unit=unit, installed_on=date(2024, 3, 4), removed_on=date(2024, 9, 1))
    InstallFactory(unit=unit, installed_on=date(2024, 9, 1), removed_on=date(2024, 12, 1))
    first.removed_on = date(2024, 10, 1)
    with refused(), transaction.atomic():
        first.save()


def test_an_install_cannot_end_before_it_starts():
    with refused(), transaction.atomic():
        InstallFactory(installed_on=date(2024, 3, 4), removed_on=date(2024, 3, 3))


def test_an_install_undone_on_its_own_day_blocks_nothing():
    unit = UnitFactory()
    InstallFactory(unit=unit, installed_on=date(2024, 3, 4))
    InstallFactory(unit=unit, installed_on=date(2024, 6, 1), removed_on=date(2024, 6, 1))
    assert unit.installs.current().count() == 1


def test_a_serial_exists_once_whatever_its_case():
    UnitFactory(serial="K-7")
    with refused(), transaction.atomic():
        UnitFactory(serial="k-7")
