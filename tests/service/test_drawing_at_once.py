"""Twenty people draw from one cylinder at once: it never goes below nothing, and the sum is right."""

import random

from django.core.exceptions import ValidationError

from service import book
from service.models import Cylinder, CylinderEntry, EntryKind, Holds, Movement, MovementKind
from tests.factories import CertifiedFactory, UnitFactory, UnitModelFactory
from tests.service.at_once import CLIENTS, at_once
from tests.service.book_acts import ACTS, check_book, do, stage_of_book
from tests.service.refrigerant import by, held, in_book

EACH_G, HELD_G = 400, 5_000


def test_twenty_clients_cannot_draw_more_than_a_cylinder_holds(threads):
    cylinder, technician = in_book(HELD_G), CertifiedFactory()
    model = UnitModelFactory()
    units = [UnitFactory(model=model) for _number in range(CLIENTS)]
    hand = by(technician=technician)
    drawn = at_once(
        lambda number: book.move(units[number], MovementKind.CHARGED, EACH_G, cylinder, hand)
    )
    # 12 draws of 400 g are 4,800 g; a thirteenth would leave -200.
    assert drawn == HELD_G // EACH_G == Movement.objects.count()
    assert held(cylinder) == HELD_G - drawn * EACH_G == 200


def test_twenty_who_pour_to_and_fro_lose_nothing(threads):
    one, other = in_book(HELD_G), in_book(HELD_G)
    hand = by(technician=CertifiedFactory())

    def pour(number):
        ends = (one, other) if number % 2 else (other, one)
        book.decant(*ends, EACH_G, hand)

    poured = at_once(pour)
    assert poured == CylinderEntry.objects.filter(kind=EntryKind.DECANTED).count() > 0
    assert held(one) + held(other) == 2 * HELD_G
    assert min(Cylinder.objects.values_list("held_g", flat=True)) >= 0


def test_twenty_who_open_one_cylinder_open_it_once(threads):
    cylinder = in_book(0, Holds.RECOVERED)
    fresh = Cylinder.objects.create(code="FRESH", refrigerant="R-134a")
    hand = by()
    assert at_once(lambda number: book.open_with(fresh, 500, Holds.NEW, hand)) == 1
    assert held(fresh) == 500 and held(cylinder) == 0


def test_twenty_who_do_all_sorts_at_once_leave_a_book_that_balances(threads):
    _unit, *shared = stage_of_book()
    stages = [(UnitFactory(), *shared) for _client in range(CLIENTS)]
    done = set()

    def keep_busy(number):
        dice = random.Random(number)
        for _act in range(6):
            name, mass_g, day = dice.choice(ACTS), dice.uniform(1, 300), dice.randint(0, 300)
            try:
                do(stages[number], name, mass_g, day, dice.randrange(4), dice.randrange(4))
            except (ValidationError, LookupError):
                continue
            done.add(name)

    assert at_once(keep_busy) == CLIENTS
    assert len(done) >= 6
    check_book((0, 200))
