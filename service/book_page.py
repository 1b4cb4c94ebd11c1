"""What the pages of the refrigerant book show: lines with a running balance, and balances."""

from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.models import UnitSystem
from fleetcool.quantities import UNIT_LABEL, System, shown
from fleetcool.wording import NO_BREAK, number
from service.balance import Balance
from service.engineering.balance import COLUMNS, SIGNS
from service.engineering.charge import co2e_kg
from service.engineering.standing import says
from service.models import Cylinder, CylinderEntry, EntryKind, Movement, Reading

__all__ = [
    "BALANCE_COLUMNS",
    "BalanceTable",
    "BookLine",
    "balance_table",
    "co2e",
    "cylinder_lines",
    "fine_mass",
    "moments_of",
    "standing_words",
]

# Finer than a nameplate is read, so that a column adds up.
FINE_DECIMALS = {UnitSystem.SI: 1, UnitSystem.US: 2}
BALANCE_COLUMNS = {
    "held_before": gettext_lazy("Held before"),
    "opening": gettext_lazy("Put into the book"),
    "bought": gettext_lazy("Bought"),
    "recovered": gettext_lazy("Recovered"),
    "charged": gettext_lazy("Charged"),
    "added": gettext_lazy("Added"),
    "disposed": gettext_lazy("Sent away"),
    "decanted_in": gettext_lazy("From other cylinders"),
    "decanted_out": gettext_lazy("To other cylinders"),
    "difference": gettext_lazy("Differences"),
    "held_after": gettext_lazy("Held after"),
    "residual": gettext_lazy("Left over"),
}
# Which way a column goes in the sum; what was held begins and ends it.
BALANCE_SIGNS = {"held_before": "", "held_after": "=", "residual": ""} | {
    name: "+" if sign > 0 else "−" for name, sign in SIGNS.items()
}


class BookLine(NamedTuple):
    """One line of a cylinder's book, newest first on the page; `held` is after it."""

    at: datetime
    what: str
    detail: str
    gained: str
    held: str
    technician: str
    certificate: str
    unit: object | None
    counts: bool


class BalanceTable(NamedTuple):
    """Columns, and rows of the account, its values each with its column, and whether it balances."""

    header: list[str]
    rows: list[tuple[object, list[tuple[str, str]], bool]]
    balances: bool


def fine_mass(mass_g: float, system: System) -> str:
    """A mass of the book in a person's units, with decimals enough to add up."""
    return f"{_fine(mass_g, system)}{NO_BREAK}{UNIT_LABEL['mass', system]}"


def co2e(mass_g: float, refrigerant: str) -> str:
    """What a mass warms, in tonnes of carbon dioxide, with the report that the figure is from."""
    tonnes = float(co2e_kg(mass_g, refrigerant, settings.GWP)) / 1000
    return _("%(tonnes)s t CO2e by %(report)s") % {
        "tonnes": number(tonnes, 3),
        "report": settings.GWP,
    }


def moments_of(first: date, last: date) -> tuple[datetime, datetime]:
    """The moments at which a period of whole days begins and ends, by the shop's clock."""
    zone = timezone.get_default_timezone()
    return tuple(
        timezone.make_aware(datetime.combine(day, time.min), zone)
        for day in (first, last + timedelta(days=1))
    )


def cylinder_lines(cylinder: Cylinder, system: System) -> list[BookLine]:
    """All that is on record of a cylinder, newest first. Two queries."""
    entries = CylinderEntry.objects.of([cylinder.pk]).select_related(
        "cylinder", "other", "technician", "person", "corrects", "corrected_by"
    )
    moved = Movement.objects.filter(cylinder=cylinder).select_related(
        "unit", "tractor", "customer", "moved_by"
    )
    found = [_of_entry(entry, cylinder) for entry in entries]
    found += [_of_movement(movement, cylinder) for movement in moved]
    held_g, lines = 0.0, []
    for mass_g, line in sorted(found, key=lambda pair: (pair[1].at, -pair[0])):
        held_g += mass_g if line.counts else 0
        signed = f"+{_fine(mass_g, system)}" if mass_g > 0 else _fine(mass_g, system)
        lines.append(
            line._replace(gained=signed, held=_fine(held_g, system) if line.counts else "")
        )
    return lines[::-1]


def balance_table(balance: Balance, system: System) -> BalanceTable:
    """A balance as a table: empty columns are left out, but for the two ends and the rest."""
    always = ("held_before", "held_after", "residual")
    places = [
        place
        for place, name in enumerate(COLUMNS)
        if name in always or any(row.values[place] for row in balance.rows)
    ]
    header = [
        f"{BALANCE_SIGNS[name]} {BALANCE_COLUMNS[name]}".strip()
        for name in (COLUMNS[place] for place in places)
    ]
    rows = []
    for row in balance.rows:
        values = [_fine(row.values[place], system) for place in places]
        rows.append((row.account, list(zip(header, values, strict=True)), row.balances))
    return BalanceTable(header, rows, balance.balances)


def standing_words(reading: Reading | None, refrigerant: str) -> str:
    """What the last reading of a standing circuit says; never a charge."""
    if reading is None or reading.suction_kpa is None or reading.ambient_c is None:
        return ""
    said = says(reading.suction_kpa, reading.ambient_c, refrigerant, reading.air_kpa)
    match said.state:
        case "liquid":
            return _(
                "There was liquid in it, so the pressure showed the temperature of the air and "
                "nothing of the charge: full or nearly empty, it would have been the same."
            )
        case "vapour":
            return _("No liquid was left: at most %(mass)s g in each litre of the circuit.") % {
                "mass": number(said.vapour_g_per_l, 1)
            }
        case "too_high":
            return _(
                "Higher than this refrigerant can be at that temperature: the circuit was warmer "
                "than the air, or something else is in it."
            )
    return ""


def _of_entry(entry: CylinderEntry, cylinder: Cylinder) -> tuple[float, BookLine]:
    incoming = entry.other_id == cylinder.pk
    what, mass_g = str(entry.get_kind_display()), entry.mass_g
    details = [entry.sent_to, entry.document, entry.why]
    if entry.kind == EntryKind.DECANTED:
        other = entry.cylinder.code if incoming else entry.other.code
        what = _("from cylinder %s") % other if incoming else _("to cylinder %s") % other
        mass_g = mass_g if incoming else -mass_g
    elif entry.kind == EntryKind.DISPOSED:
        mass_g = -mass_g
    if entry.corrects:
        details.append(_("corrects an entry of the same time"))
    corrected = getattr(entry, "corrected_by", None) is not None
    if corrected:
        details.append(_("was wrong; corrected, does not count"))
    line = BookLine(
        at=entry.at,
        what=what,
        detail="; ".join(filter(None, details)),
        gained="",
        held="",
        technician=str(entry.technician or entry.person or ""),
        certificate=entry.certified_by,
        unit=None,
        counts=not corrected,
    )
    return mass_g, line


def _of_movement(movement: Movement, cylinder: Cylinder) -> tuple[float, BookLine]:
    counts = cylinder.is_in_book and movement.at >= cylinder.booked_from
    truck = movement.tractor and (movement.tractor.truck_number or movement.tractor.vin)
    details = [str(movement.customer or ""), truck and _("truck %s") % truck]
    if cylinder.is_in_book and not counts:
        details.append(_("before its book began; does not count"))
    line = BookLine(
        at=movement.at,
        what=str(movement.get_movement_display()),
        detail=", ".join(filter(None, details)),
        gained="",
        held="",
        technician=str(movement.moved_by or ""),
        certificate=movement.certified_by,
        unit=movement.unit,
        counts=counts,
    )
    return SIGNS[movement.movement] * movement.mass_g, line


def _fine(mass_g: float, system: System) -> str:
    return number(shown(mass_g, "mass", system)[0], FINE_DECIMALS[system])
