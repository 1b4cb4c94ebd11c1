"""What tests of the refrigerant book start from: cylinders in the book, and whose hand wrote."""

from datetime import UTC, datetime

from service import book
from service.models import Cylinder, Holds
from tests.factories import CertifiedFactory, CylinderFactory

START = datetime(2024, 1, 1, 12, tzinfo=UTC)
NOW = datetime(2024, 12, 31, 12, tzinfo=UTC)


def by(at=NOW, technician=None, person=None, entered_at=None) -> book.By:
    """The hand of a technician who may open a circuit, on a day."""
    return book.By(at, entered_at or max(at, NOW), technician or CertifiedFactory(), person)


def in_book(mass_g=10_000, holds=Holds.NEW, at=START, **facts) -> Cylinder:
    cylinder = CylinderFactory(**facts)
    book.open_with(cylinder, mass_g, holds, by(at))
    cylinder.refresh_from_db()
    return cylinder


def held(cylinder: Cylinder) -> float:
    return Cylinder.objects.values_list("held_g", flat=True).get(pk=cylinder.pk)
