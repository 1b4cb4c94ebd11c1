"""What the terms cover on a unit, and until when, as far as a person may see."""

from datetime import date
from typing import NamedTuple

from installs.cover import dated_terms, first_install
from installs.models import Cover, Install, Terms, Unit

__all__ = ["UnitCover", "cover_of"]


class UnitCover(NamedTuple):
    """The terms of a unit, the install day they count from, and a row a part group.

    A row is the cover, its last day, and whether that day has not passed yet.
    """

    terms: Terms
    counted_from: date
    rows: list[tuple[Cover, date, bool]]


def cover_of(unit: Unit, user, today: date) -> UnitCover | None:
    """Return the cover of a unit: it counts from the first install and follows the serial.

    None without terms, and where the first install was in another fleet's truck than the person's.
    """
    first = first_install(unit)
    if first is None or not Install.objects.visible_to(user).filter(pk=first.pk).exists():
        return None
    dated = dated_terms(first, Terms.objects.visible_to(user))
    if dated is None:
        return None
    rows = [(cover, ends_on, today <= ends_on) for cover, ends_on in dated.rows]
    return UnitCover(dated.terms, dated.counted_from, rows)
