"""The lines of the book: everything that changed what a cylinder in the book holds, in one shape."""

from collections.abc import Collection
from datetime import datetime
from typing import NamedTuple

from service.engineering.balance import SIGNS
from service.models import CylinderEntry, EntryKind, Movement

__all__ = ["Line", "lines_of"]


class Line(NamedTuple):
    """One change of one cylinder: a kind of `balance.FLOWS`, and a mass above zero where it gained.

    `source` is the row it comes from: ('movement' or 'entry', its number).
    """

    cylinder_id: int
    at: datetime
    kind: str
    mass_g: float
    source: tuple[str, int]

    @property
    def t(self) -> float:
        return self.at.timestamp()


def lines_of(cylinder_ids: Collection[int] | None = None) -> list[Line]:
    """Return the lines of these cylinders, or of all, that are in the book. Two queries."""
    return sorted(
        [*_from_entries(cylinder_ids), *_from_movements(cylinder_ids)],
        key=lambda line: (line.at, -line.mass_g),
    )


def _from_entries(cylinder_ids: Collection[int] | None) -> list[Line]:
    entries = CylinderEntry.objects.standing()
    if cylinder_ids is not None:
        entries = entries.of(cylinder_ids)
    wanted = None if cylinder_ids is None else set(cylinder_ids)
    lines = []
    for pk, cylinder, other, kind, at, mass_g in entries.values_list(
        "pk", "cylinder_id", "other_id", "kind", "at", "mass_g"
    ):
        source = ("entry", pk)
        if kind == EntryKind.DECANTED:
            lines += [
                Line(cylinder, at, "decanted_out", -mass_g, source),
                Line(other, at, "decanted_in", mass_g, source),
            ]
        else:
            lines.append(Line(cylinder, at, kind, SIGNS[kind] * mass_g, source))
    return [line for line in lines if wanted is None or line.cylinder_id in wanted]


def _from_movements(cylinder_ids: Collection[int] | None) -> list[Line]:
    """What was moved before a cylinder came into the book does not count."""
    moved = Movement.objects.counted()
    if cylinder_ids is not None:
        moved = moved.filter(cylinder__in=cylinder_ids)
    return [
        Line(cylinder, at, kind, SIGNS[kind] * mass_g, ("movement", pk))
        for pk, cylinder, kind, at, mass_g in moved.values_list(
            "pk", "cylinder_id", "movement", "at", "mass_g"
        )
    ]
