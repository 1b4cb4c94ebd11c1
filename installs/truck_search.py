"""Which truck somebody means who types a VIN, the end of one, or a truck number."""

import re

from django.db.models import Q, QuerySet

from installs.models import Tractor

__all__ = ["trucks_meant"]

# A VIN has no I, O or Q, so that whoever types one means the digit.
AS_IN_A_VIN = str.maketrans("IOQ", "100")
SHORTEST_END = 4


def trucks_meant(trucks: QuerySet[Tractor], words: str) -> QuerySet[Tractor]:
    """Return the trucks of this truck number, this VIN or a VIN that ends so.

    Case, spaces, dashes and a leading `#` do not count. An end of a VIN has at least four signs.
    """
    number = words.strip().lstrip("#").strip()
    vin = re.sub(r"[\s.#-]", "", words).upper().translate(AS_IN_A_VIN)
    meant = Q(truck_number__iexact=number) | Q(vin=vin)
    if SHORTEST_END <= len(vin) < 17:
        meant |= Q(vin__endswith=vin)
    return trucks.filter(meant) if number else trucks.none()
