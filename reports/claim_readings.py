"""The readings that a claim rests on, each beside what the day's own air let expect of it."""

from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

from django.db.models import Q
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.quantities import System
from fleetcool.wording import amount
from reports.first_screen import physics_at
from service.engineering.visit_physics import Physics, expected_kpa
from service.models import Reading, ReadingKind

__all__ = ["ReadingLine", "reading_lines"]

# The newest before the claim; the commissioning comes on top.
MOST = 12


class ReadingLine(NamedTuple):
    """One reading as text; `suction` and `discharge` carry the band of that day's air."""

    day: str
    kind: str
    output: str
    air: str
    suction: str
    discharge: str
    volts: str
    gauge: str


def reading_lines(claim, user) -> list[ReadingLine]:
    """Return the readings of a claim's install up to its visit, oldest first, as a person may see.

    The bands are those of the unit's model as they were known when the visit was written down.
    Three queries, however many readings there are.
    """
    readings = list(_readings(claim, user))
    if not readings:
        return []
    physics = physics_at(claim.unit, claim.install, claim.visit.entered_at)
    return [_line(reading, physics, user.unit_system) for reading in readings]


def _readings(claim, user) -> Iterable[Reading]:
    own = Reading.objects.visible_to(user).counted().filter(unit=claim.unit)
    own = own.exclude(kind=ReadingKind.LOGGER)
    if claim.install_id:
        own = own.filter(tractor=claim.install.tractor_id)
    own = own.filter(Q(visit=claim.visit) | Q(taken_at__lte=claim.visit.at))
    newest = list(own.order_by("-taken_at")[:MOST])
    first = own.filter(kind=ReadingKind.COMMISSIONING).order_by("-taken_at").first()
    if first and first not in newest:
        newest.append(first)
    return reversed(newest)


def _line(reading: Reading, physics: Physics, system: System) -> ReadingLine:
    # A gauge reads against the air of the place where it was read.
    bands = {}
    if reading.is_running:
        local = replace(physics, air_kpa=reading.air_kpa)
        bands = expected_kpa(local, reading.output, reading.ambient_c, reading.return_air_c)
    return ReadingLine(
        day=f"{timezone.localtime(reading.taken_at):%Y-%m-%d}",
        kind=capfirst(reading.get_kind_display()),
        output=reading.get_output_display() or _("standing"),
        air=_pair(
            (_("outside"), reading.ambient_c, "temperature"),
            (_("return"), reading.return_air_c, "temperature"),
            system=system,
        ),
        suction=_banded(reading.suction_kpa, bands.get("suction_kpa"), system),
        discharge=_banded(reading.discharge_kpa, bands.get("discharge_kpa"), system),
        volts=_pair(
            (_("rest"), reading.rest_v, "volts"),
            (_("under load"), reading.load_v, "volts"),
            system=system,
        ),
        gauge=reading.gauge,
    )


def _banded(value: float | None, band: tuple[float, float] | None, system: System) -> str:
    """A pressure with the band of the day and how it lies to it, in words."""
    if value is None:
        return "–"
    read = amount(value, "pressure", system)
    if band is None:
        return read
    low, high = (amount(limit, "pressure", system) for limit in band)
    words = {"read": read, "low": low, "high": high}
    if value < band[0]:
        return _("%(read)s, below the %(low)s to %(high)s of the day") % words
    if value > band[1]:
        return _("%(read)s, above the %(low)s to %(high)s of the day") % words
    return _("%(read)s, within the %(low)s to %(high)s of the day") % words


def _pair(*values: tuple[str, float | None, str], system: System) -> str:
    told = [f"{label} {amount(v, kind, system)}" for label, v, kind in values if v is not None]
    return ", ".join(told) or "–"
