"""A unit's losses by both published methods, from what is on record of it."""

from datetime import UTC, date, datetime

import pytest

from installs.models import Unit
from service.leaks import leaks_of
from service.models import MovementKind
from tests.factories import InstallFactory, MovementFactory

pytestmark = pytest.mark.django_db
LAST = date(2025, 3, 1)


@pytest.fixture
def unit():
    return InstallFactory(unit__model__charge_g=500)


def moved(install, day, kind, mass_g):
    at = datetime(*map(int, day.split("-")), 15, tzinfo=UTC)
    MovementFactory(install=install, at=at, movement=kind, mass_g=mass_g)


def leak(install, user, as_of=LAST):
    (one,) = leaks_of(Unit.objects.filter(pk=install.unit.pk), as_of, user)
    return one


def test_the_first_charge_makes_good_no_loss(unit, olga):
    moved(unit, "2024-03-04", MovementKind.CHARGED, 500)
    assert leak(unit, olga).additions == [] and leak(unit, olga).rolling == 0


def test_an_addition_is_rated_over_the_days_since_the_last(unit, olga):
    # 40 CFR 82.152: check case A5, 50 g into 500 g after 120 days is 30.42 %; R2, rolling 10 %.
    moved(unit, "2024-03-04", MovementKind.CHARGED, 500)
    moved(unit, "2024-07-02", MovementKind.ADDED, 50)
    one = leak(unit, olga)
    assert (one.newest.days, one.newest.rate) == (120, pytest.approx(30.42, abs=0.01))
    assert one.rolling == pytest.approx(10)
    assert one.co2e_kg == pytest.approx(0.05 * 1430)


def test_after_a_year_an_addition_no_longer_rolls_on(unit, olga):
    moved(unit, "2024-03-04", MovementKind.CHARGED, 500)
    moved(unit, "2024-07-02", MovementKind.ADDED, 50)
    assert leak(unit, olga, date(2025, 7, 3)).rolling == 0


def test_a_new_charge_counts_as_far_as_it_is_more_than_what_came_out(unit, olga):
    moved(unit, "2024-03-04", MovementKind.CHARGED, 500)
    moved(unit, "2024-09-01", MovementKind.RECOVERED, 380)
    moved(unit, "2024-09-02", MovementKind.CHARGED, 500)
    assert [one.mass_g for one in leak(unit, olga).additions] == [120]


def test_without_anything_before_it_an_addition_has_no_rate(unit, olga):
    moved(unit, "2024-07-02", MovementKind.ADDED, 50)
    assert leak(unit, olga).newest.rate is None and leak(unit, olga).rolling == pytest.approx(10)


def test_what_comes_after_the_day_is_not_known_on_it(unit, olga):
    moved(unit, "2024-03-04", MovementKind.CHARGED, 500)
    moved(unit, "2025-03-02", MovementKind.ADDED, 50)
    assert leak(unit, olga).additions == []


def test_many_units_take_no_more_queries_than_one(olga, django_assert_num_queries):
    for _number in range(4):
        moved(InstallFactory(), "2024-03-04", MovementKind.CHARGED, 500)
    with django_assert_num_queries(2):
        assert len(leaks_of(Unit.objects.all(), LAST, olga)) == 4
