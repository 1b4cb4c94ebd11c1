"""Acts of the refrigerant book, each as one row of plain values, and what holds after any of them."""

from datetime import timedelta

import numpy as np
import pytest

from service import book
from service.balance import balance_by_cylinder
from service.engineering.balance import COLUMNS, lowest
from service.lines import lines_of
from service.models import Cylinder, CylinderEntry, Holds, Movement, MovementKind
from tests.factories import CertifiedFactory, CylinderFactory, UnitFactory
from tests.service.refrigerant import NOW, START, by

ACTS = ("open", "buy", "charged", "added", "recovered", "correct", "decant", "dispose")
ACTS += ("weigh_in", "correct_entry", "strike_out", "retire")


def stage_of_book():
    """Two cylinders of new gas, one to recover into and one to recycle into, a unit and a hand.

    The second is not in the book yet; the others are since before all that is done, and the first
    has charged the unit.
    """
    unit, technician = UnitFactory(), CertifiedFactory()
    kinds = (Holds.NEW, Holds.NEW, Holds.RECOVERED, Holds.RECYCLED)
    cylinders = [CylinderFactory(tare_g=5_000, water_capacity_g=12_000) for _kind in kinds]
    for place, held_g in ((0, 2_000), (2, 900), (3, 900)):
        first = by(START - timedelta(days=200), technician)
        book.open_with(cylinders[place], held_g, kinds[place], first)
    charged = by(START - timedelta(days=190), technician)
    book.move(unit, MovementKind.CHARGED, 500, cylinders[0], charged)
    return unit, cylinders, kinds, technician


def do(stage, name, mass_g, day, first, second) -> None:
    """Do one act, or raise ValidationError, or LookupError where there is nothing to do it with."""
    unit, cylinders, kinds, technician = stage
    one, other = cylinders[first], cylinders[second]
    one.refresh_from_db()
    # No two movements of a unit at one moment: a minute for each.
    minute = Movement.history.count() + CylinderEntry.objects.count()
    at = START + timedelta(days=day, minutes=minute)
    hand = by(at, technician, entered_at=NOW + timedelta(days=100))
    entry = CylinderEntry.objects.filter(cylinder=one).last()
    movement = Movement.objects.filter(cylinder=one).last()
    match name:
        case "open":
            book.open_with(one, mass_g, kinds[first], hand)
        case "buy":
            book.buy(one, mass_g, "invoice", hand)
        case "charged" | "added" | "recovered":
            book.move(unit, name, mass_g, one, hand)
        case "correct" if movement:
            book.correct(movement, mass_g, other if second == 3 else one, hand)
        case "strike_out" if movement:
            book.strike_out(movement, "told twice", hand)
        case "decant":
            book.decant(one, other, mass_g, hand)
        case "dispose":
            book.dispose(one, mass_g, "Reclaimer, 1 Mill Lane", "W-1", hand)
        case "weigh_in":
            book.weigh_in(one, 5_000 + abs(mass_g), "left in the hoses", hand)
        case "correct_entry" if entry:
            book.correct_entry(entry, mass_g, "a slip of the pen", hand)
        case "retire":
            book.retire(one, hand)
        case _:
            raise LookupError


def check_book(days) -> None:
    """No cylinder was ever below empty, each holds what its lines say, and every account balances."""
    lines = lines_of()
    for cylinder in Cylinder.objects.all():
        own = [line for line in lines if line.cylinder_id == cylinder.pk]
        assert lowest([x.mass_g for x in own], [x.t for x in own])[0] >= -0.5
        assert (cylinder.held_g is None) == (not own and cylinder.booked_from is None)
        assert (cylinder.held_g or 0) == pytest.approx(sum(x.mass_g for x in own), abs=0.002)
    start, end = (START + timedelta(days=day) for day in sorted(days))
    for row in balance_by_cylinder(start, end).rows:
        values = dict(zip(COLUMNS, row.values, strict=True))
        assert values["residual"] == pytest.approx(0, abs=0.002)
        assert np.isfinite(row.values).all()
