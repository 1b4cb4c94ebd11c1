"""A record book's movements, where the cylinder's own book is kept here."""

from datetime import UTC, datetime

import pytest

from installs.models import Unit
from service import book
from service.models import Cylinder, Holds, Movement, MovementKind
from tests.books import a_fleet, load_rows, reasons
from tests.service.refrigerant import by, held, in_book

pytestmark = pytest.mark.django_db
OPENED = datetime(2024, 6, 1, 12, tzinfo=UTC)


@pytest.fixture
def load(tmp_path):
    load_rows(tmp_path, a_fleet())
    return lambda *rows: load_rows(tmp_path, {"refrigerant": list(rows)})


def movement(day=4, **changes):
    row = {"serial": "S-1", "at": f"2024-06-{day:02}T08:30", "movement": "added", "mass_g": 40}
    return row | {"cylinder": "C1", "moved_by": "T. Ash"} | changes


def c1(mass_g=100, holds=Holds.NEW) -> Cylinder:
    return in_book(mass_g, holds, OPENED, code="C1")


def test_a_cylinder_known_by_name_only_gives_what_the_old_book_says(load):
    account = load(movement(mass_g=40_000)).accounts["refrigerant"]
    assert account.new == 1 and Cylinder.objects.get().held_g is None


def test_what_is_loaded_leaves_the_cylinder(load):
    cylinder = c1()
    load(movement(), movement(5))
    assert held(cylinder) == 20


def test_what_was_before_the_cylinders_book_does_not_count(load):
    cylinder = c1()
    assert load(movement(at="2024-05-31T08:30", mass_g=5_000)).accounts["refrigerant"].new == 1
    assert held(cylinder) == 100


def test_a_row_that_would_empty_a_cylinder_is_refused_and_its_neighbours_are_taken(load):
    cylinder = c1()
    result = load(movement(4), movement(5, mass_g=70), movement(6))
    assert result.accounts["refrigerant"].rejected == 1
    assert reasons(result)[0].startswith("mass_g: C1 cannot give what it does not hold")
    assert "2024-06-05" in reasons(result)[0]
    assert held(cylinder) == 20


def test_rows_are_judged_by_their_time_and_not_by_their_place_in_the_sheet(load):
    cylinder = c1(0, Holds.RECOVERED)
    rows = [movement(6, mass_g=200), movement(5, mass_g=300, movement="recovered")]
    assert load(*rows).accounts["refrigerant"].new == 2
    assert held(cylinder) == 100


def test_a_row_told_late_may_not_take_what_was_drawn_since(load):
    cylinder = c1()
    hand = by(datetime(2024, 6, 20, 12, tzinfo=UTC))
    book.move(Unit.objects.get(serial="S-1"), MovementKind.ADDED, 90, cylinder, hand)
    assert load(movement()).accounts["refrigerant"].rejected == 1
    assert held(cylinder) == 10


def test_a_changed_mass_is_counted_once(load):
    cylinder = c1()
    load(movement())
    assert load(movement(mass_g=60)).accounts["refrigerant"].changed == 1
    assert held(cylinder) == 40


def test_a_changed_mass_that_is_too_much_is_refused_and_the_old_one_stands(load):
    cylinder = c1()
    load(movement(), movement(5))
    assert load(movement(mass_g=61)).accounts["refrigerant"].rejected == 1
    assert held(cylinder) == 20
    assert list(Movement.objects.values_list("mass_g", flat=True)) == [40, 40]


def test_a_row_that_names_another_cylinder_gives_back_what_the_first_gave(load):
    first, second = c1(), in_book(100, at=OPENED, code="C2")
    load(movement())
    load(movement(cylinder="C2"))
    assert (held(first), held(second)) == (100, 60)


def test_a_sheet_without_cylinders_still_changes_the_mass_of_a_row_that_has_one(load):
    cylinder = c1()
    load(movement())
    row = movement(mass_g=50)
    del row["cylinder"]
    assert load(row).accounts["refrigerant"].changed == 1
    assert held(cylinder) == 50


def test_recovered_gas_is_not_loaded_into_a_cylinder_of_new_gas(load):
    c1()
    assert "recovery cylinder" in reasons(load(movement(movement="recovered")))[0]


def test_a_book_loaded_twice_changes_nothing(load):
    cylinder = c1()
    load(movement(), movement(5))
    account = load(movement(), movement(5)).accounts["refrigerant"]
    assert account.unchanged == 2 and held(cylinder) == 20
