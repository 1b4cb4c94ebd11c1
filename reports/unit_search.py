"""Finding the unit that a person stands before, by what they can read there, however they type it.

A serial, a truck number, a VIN or its last six, or the whole address that a scanner gives. Case,
spaces and dashes do not count, nor does O for 0 or I for 1; what differs by one letter is offered.
"""

import re
from typing import NamedTuple
from urllib.parse import unquote

from installs.models import Install, Unit

__all__ = ["Hit", "Hits", "find_units"]

MOST_HITS = 12
LAST_OF_VIN = 6
# Shorter than this, one wrong letter makes anything of anything.
LEAST_FOR_NEAR = 3
LOOKS_LIKE = str.maketrans("OI", "01")


class Hit(NamedTuple):
    """A unit where it stands now; truck, VIN and customer are empty for one in no truck."""

    serial: str
    truck_number: str = ""
    vin: str = ""
    customer: str = ""


class Hits(NamedTuple):
    """What is meant, and, where nothing is, what comes close to it."""

    exact: list[Hit]
    near: list[Hit]


def find_units(typed: str, user) -> Hits:
    """Return the units that a text means, in two queries however many units there are."""
    wanted = _folded(_from_address(typed))
    if not wanted:
        return Hits([], [])
    known = [(hit, _names(hit)) for hit in _all(user)]
    exact = [hit for hit, names in known if wanted in names]
    if exact or len(wanted) < LEAST_FOR_NEAR:
        return Hits(exact[:MOST_HITS], [])
    near = [hit for hit, names in known if any(_is_near(wanted, name) for name in names)]
    return Hits([], near[:MOST_HITS])


def _all(user) -> list[Hit]:
    installs = (
        Install.objects.visible_to(user)
        .current()
        .values_list("unit_id", "tractor__truck_number", "tractor__vin", "customer__name")
    )
    where = {unit: place for unit, *place in installs}
    units = Unit.objects.visible_to(user).order_by("serial").values_list("pk", "serial")
    return [Hit(serial, *where.get(pk, ())) for pk, serial in units]


def _names(hit: Hit) -> set[str]:
    """All that a unit can be called by, folded."""
    names = {hit.serial, hit.truck_number, hit.vin, hit.vin[-LAST_OF_VIN:]}
    return {folded for name in names if (folded := _folded(name))}


def _folded(text: str) -> str:
    return re.sub(r"[^0-9A-Z]", "", text.upper()).translate(LOOKS_LIKE)


def _from_address(typed: str) -> str:
    """The serial in the address of a unit's page, as its code holds it; any other text as it is."""
    found = re.search(r"/units/(.+?)(?:/card)?/?$", typed.strip())
    return unquote(found[1]) if found else typed


def _is_near(wanted: str, name: str) -> bool:
    """Whether one letter was typed wrong, left out, doubled or exchanged, or the end is missing."""
    if name.startswith(wanted):
        return True
    if abs(len(wanted) - len(name)) > 1:
        return False
    same = 0
    while same < min(len(wanted), len(name)) and wanted[same] == name[same]:
        same += 1
    rest, other = wanted[same:], name[same:]
    if rest[1:] == other[1:] or rest[1:] == other or rest == other[1:]:
        return True
    return rest[:2] == other[1::-1] and rest[2:] == other[2:]
