"""Movements of a record book that concern cylinders whose book is kept here."""

import numpy as np
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from fleetcool.bulk import as_values, field_of
from installs.records.rows import Rows
from installs.records.sheet import Stored
from service.book_rules import overdrawn
from service.engineering.balance import SIGNS, lowest
from service.lines import lines_of
from service.models import Cylinder, Holds, Movement, MovementKind
from service.models.cylinders import ROUNDING_G

__all__ = ["cylinders_of", "refuse_overdrawn"]


def refuse_overdrawn(rows: Rows, new: NDArray, changed: NDArray, stored: Stored) -> None:
    """Refuse rows by which a cylinder in the book would have given what it did not hold.

    Rows are judged in order of time, each with those before it that were taken. A cylinder that
    is known by name only gives and takes whatever an old book says.
    """
    places = np.flatnonzero(new | changed)
    ids = cylinders_of(rows, places, stored)
    # Held until the load is done, so that nobody draws from them meanwhile.
    locked = Cylinder.objects.in_book().filter(pk__in=ids).select_for_update().order_by("pk")
    cylinders = {cylinder.pk: cylinder for cylinder in locked}
    if not cylinders:
        return
    book = _Book(cylinders, rows, stored)
    places = [place for place in places.tolist() if not book.refuse_wrong_kind(place)]
    book.take(places)
    if not any(book.short(pk) for pk in cylinders):
        return
    book.give_back(places)
    for place in sorted(places, key=book.in_time):
        book.take([place])
        if short := next(filter(None, map(book.short, book.touched(place))), None):
            rows.refuse(np.array([place]), "mass_g", short)
            book.give_back([place])


def cylinders_of(rows: Rows, places: NDArray, stored: Stored | None = None) -> set[int]:
    """The numbers of the cylinders that rows draw on or fill, and of those they did before."""
    columns = [rows.values.get("cylinder_id"), stored and stored["cylinder_id"]]
    found = [column[places] for column in columns if column is not None]
    ids = np.concatenate(found) if found else np.array([])
    return set(ids[ids > 0].astype("int64").tolist())


class _Book:
    """What each cylinder in the book gains and loses, with some rows taken into it."""

    def __init__(self, cylinders: dict[int, Cylinder], rows: Rows, stored: Stored) -> None:
        self.cylinders, self.rows = cylinders, rows
        self.ledgers: dict[int, dict] = {pk: {} for pk in cylinders}
        for line in lines_of(list(cylinders)):
            self.ledgers[line.cylinder_id][line.source, line.kind] = (line.at, line.mass_g)
        moments = rows.values["at"]
        self.at = as_values(field_of(Movement, "at"), moments)
        self.was = [None if np.isnan(pk) else int(pk) for pk in stored["pk"].tolist()]
        before = stored["cylinder_id"]
        self.before = np.nan_to_num(before).astype("int64").tolist()
        self.now = np.nan_to_num(rows.values.get("cylinder_id", before)).astype("int64").tolist()
        self.kept: dict[int, tuple] = {}

    def in_time(self, place: int) -> tuple:
        """At one moment what comes in comes before what goes out."""
        return self.at[place], -SIGNS[self.rows.values["movement"][place]]

    def touched(self, place: int) -> list[int]:
        return [pk for pk in {self.before[place], self.now[place]} if pk in self.cylinders]

    def refuse_wrong_kind(self, place: int) -> bool:
        cylinder = self.cylinders.get(self.now[place])
        recovered = self.rows.values["movement"][place] == MovementKind.RECOVERED
        if cylinder is None or not recovered or cylinder.holds != Holds.NEW:
            return False
        words = _("it is for new gas; recovered gas goes into a recovery cylinder")
        self.rows.refuse(np.array([place]), "cylinder", words)
        return True

    def take(self, places: list[int]) -> None:
        for place in places:
            kind = self.rows.values["movement"][place]
            key, pk = (("movement", self.was[place]), kind), self.now[place]
            if self.was[place] is not None:
                self.kept[place] = self.ledgers.get(self.before[place], {}).pop(key, None)
            cylinder = self.cylinders.get(pk)
            if cylinder and self.at[place] >= cylinder.booked_from:
                mass_g = SIGNS[kind] * float(self.rows.values["mass_g"][place])
                self.ledgers[pk]["row", place] = (self.at[place], mass_g)

    def give_back(self, places: list[int]) -> None:
        for place in places:
            self.ledgers.get(self.now[place], {}).pop(("row", place), None)
            if line := self.kept.pop(place, None):
                kind = self.rows.values["movement"][place]
                key = ("movement", self.was[place]), kind
                self.ledgers[self.before[place]][key] = line

    def short(self, pk: int) -> str:
        """Say by how much and when a cylinder would have been short; empty where it would not."""
        lines = list(self.ledgers[pk].values())
        least_g, place = lowest(
            [mass for _at, mass in lines], [at.timestamp() for at, _mass in lines]
        )
        if least_g >= -ROUNDING_G:
            return ""
        return overdrawn(self.cylinders[pk], lines[place][0], least_g)
