"""The workbook of the refrigerant book, as an inspector asks for it: a period, with every gram."""

from collections.abc import Iterator
from datetime import date
from os import PathLike
from typing import IO

from django.conf import settings
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from installs.models import Unit
from reports.exports.columns import Column
from reports.exports.spreadsheet import Sheet, new_workbook, write_notes, write_table
from service.balance import balance_by, balance_by_cylinder
from service.book_page import BALANCE_COLUMNS, FINE_DECIMALS, moments_of
from service.engineering.charge import co2e_kg, gwp
from service.engineering.rules import kept_years
from service.leaks import leaks_of
from service.models import Cylinder, CylinderEntry, Movement, MovementKind

__all__ = ["write_refrigerant_book"]

WHEN = Column(gettext_lazy("When"), "moment", 17)
CYLINDER = Column(gettext_lazy("Cylinder"), width=14)
GAS = Column(gettext_lazy("Refrigerant"), width=12)
CERTIFICATE = Column(gettext_lazy("Certificate"), width=30)
TECHNICIAN = Column(gettext_lazy("Technician"), width=20)
SERIAL = Column(gettext_lazy("Unit serial"), width=14)
KEEP_UNTIL = Column(gettext_lazy("Keep until"), "date", 11)
WRITTEN = Column(gettext_lazy("Written down at"), "moment", 17)


def write_refrigerant_book(
    target: str | PathLike | IO[bytes], user, first: date, last: date
) -> dict[str, int]:
    """Write the book of a period, both days inside, as an .xlsx workbook.

    Returns how many rows each sheet holds. Cylinders are as they stand today; movements, entries
    and the balance are of the period, leak rates as of its last day.
    """
    system = user.unit_system
    rows = _Book(user, first, last)
    workbook = new_workbook(_("Refrigerant book"))
    written = {
        _("About"): write_notes(
            workbook, _("About"), _("Refrigerant book"), _about(first, last), system
        )
    }
    for sheet in (
        Sheet(_("Cylinders"), _cylinder_columns(system), rows.cylinders()),
        Sheet(_("Movements"), _movement_columns(system), rows.movements()),
        Sheet(_("Entries"), _entry_columns(system), rows.entries()),
        Sheet(_("Corrected movements"), _history_columns(system), rows.corrected()),
        Sheet(_("Balance"), _balance_columns(system), rows.balance()),
        Sheet(_("Leak rates"), _leak_columns(system), rows.leak_rates()),
    ):
        written[sheet.title] = write_table(workbook, sheet, system)
    workbook.save(target)
    return written


class _Book:
    """The rows of each sheet, in the order of its columns."""

    def __init__(self, user, first: date, last: date) -> None:
        self.user, self.last = user, last
        self.start, self.end = moments_of(first, last)
        self.years = kept_years(settings.REGION)

    def cylinders(self) -> Iterator[tuple]:
        found = Cylinder.objects.visible_to(self.user).select_related("owner", "yard")
        for row in found.order_by("refrigerant", "code"):
            owner = str(row.owner) if row.owner else _("the shop")
            facts = (row.code, row.refrigerant, row.get_holds_display(), owner, row.place)
            masses = (row.tare_g, row.water_capacity_g, row.fill_limit_g, row.held_g)
            yield *facts, *masses, row.booked_from, row.retired_at

    def movements(self) -> Iterator[tuple]:
        kinds = dict(MovementKind.choices)
        found = Movement.objects.visible_to(self.user).filter(at__gte=self.start, at__lt=self.end)
        for row in found.order_by("at", "pk").values_list(
            *("at", "movement", "unit__model__refrigerant", "mass_g", "cylinder__code"),
            *("cylinder__booked_from", "moved_by__name", "certified_by", "unit__serial"),
            *("tractor__truck_number", "tractor__vin", "customer__name", "entered_at"),
        ):
            at, kind, gas, mass_g, cylinder, booked_from, *rest, entered_at = row
            into, out = (None, mass_g) if kind == MovementKind.RECOVERED else (mass_g, None)
            counted = _("yes") if booked_from and at >= booked_from else _("no")
            kg = float(co2e_kg(mass_g, gas, settings.GWP))
            keep = self._keep_until(at.date())
            yield (
                at,
                str(kinds[kind]),
                gas,
                into,
                out,
                cylinder,
                counted,
                *rest,
                kg,
                entered_at,
                keep,
            )

    def corrected(self) -> Iterator[tuple]:
        """Movements that were corrected or struck out in the period: all that each ever said."""
        history = Movement.history.model.objects
        span = {"history_date__gte": self.start, "history_date__lt": self.end}
        changed = history.filter(history_type__in="~-", **span).values("id")
        kinds = dict(MovementKind.choices)
        said = {"+": _("first written"), "~": _("corrected"), "-": _("struck out")}
        first = None
        for number, type_, *row in (
            history.filter(id__in=changed)
            .order_by("id", "history_date", "history_id")
            .values_list(
                *("id", "history_type", "history_date", "at", "movement", "mass_g"),
                *("cylinder__code", "unit__serial", "moved_by__name", "certified_by"),
                *("history_change_reason", "history_user__username"),
            )
        ):
            changed_at, at, kind, *rest = row
            # A row of a record book is first kept in history when it is corrected.
            what = said["+"] if number != first else said[type_]
            first = number
            yield number, what, changed_at, at, str(kinds[kind]), *rest

    def entries(self) -> Iterator[tuple]:
        found = CylinderEntry.objects.visible_to(self.user).select_related(
            "cylinder", "other", "technician", "person", "corrected_by"
        )
        for row in found.filter(at__gte=self.start, at__lt=self.end).order_by("at", "pk"):
            corrected = getattr(row, "corrected_by", None) is not None
            yield (
                row.at,
                row.cylinder.code,
                row.cylinder.refrigerant,
                str(row.get_kind_display()),
                row.mass_g,
                row.other.code if row.other else None,
                str(row.technician or ""),
                row.certified_by,
                row.sent_to,
                row.document,
                row.why,
                _("no, it was corrected") if corrected else _("yes"),
                row.person.get_username() if row.person else None,
                row.entered_at,
                self._keep_until(row.at.date()),
            )

    def balance(self) -> Iterator[tuple]:
        for row in balance_by(lambda cylinder: cylinder.refrigerant, self.start, self.end).rows:
            yield row.account, _("all cylinders"), *row.values
        for row in balance_by_cylinder(self.start, self.end).rows:
            yield row.account.refrigerant, row.account.code, *row.values

    def leak_rates(self) -> Iterator[tuple]:
        for leak in leaks_of(Unit.objects.visible_to(self.user), self.last, self.user):
            if not leak.additions:
                continue
            model, newest = leak.unit.model, leak.newest
            facts = (leak.unit.serial, model.refrigerant, model.charge_g, leak.added_g)
            rates = (leak.rolling / 100, newest.rate and newest.rate / 100)
            yield *facts, leak.co2e_kg, *rates, newest.day, newest.mass_g, newest.days

    def _keep_until(self, day: date) -> date:
        try:
            return day.replace(year=day.year + self.years)
        except ValueError:
            return date(day.year + self.years, 3, 1)


def _about(first: date, last: date) -> list[tuple[str, str]]:
    period = {"first": date_format(first, "Y-m-d"), "last": date_format(last, "Y-m-d")}
    law = {"years": kept_years(settings.REGION), "region": settings.REGION}
    report = {"report": settings.GWP, "gwp": f"{gwp('R-134a', settings.GWP):g}"}
    return [
        (_("Period"), _("From %(first)s to %(last)s, both days inside.") % period),
        (
            _("Balance"),
            _(
                "Held before + put into the book + bought + recovered − charged − added − sent away "
                "+ from other cylinders − to other cylinders + differences = held after. What is "
                "held before is counted forward from the first entry, what is held after is counted "
                "back from the count that is kept with each cylinder. What is left over must be 0."
            ),
        ),
        (
            _("Counted"),
            _(
                "A movement counts in the balance from the moment on which its cylinder came into "
                "the book. Older ones, and those of cylinders known by name only, are listed too."
            ),
        ),
        (
            _("Corrections"),
            _(
                "A wrong entry stays on its sheet and is marked; the one that corrects it counts. A "
                "wrong movement is corrected in place or struck out, and what it said before is on the "
                "sheet of corrected movements."
            ),
        ),
        (
            _("Leak rates"),
            _(
                "Rolling: what made good a loss within 365 days, over the nameplate charge. "
                "Annualizing: the newest addition over the charge, times 365 over the days since "
                "the one before, at most 365 of them. Both by 40 CFR 82.152. A charge by weight "
                "counts as far as it is more than what was recovered for it; a unit's first not."
            ),
        ),
        (
            _("Limits of the law"),
            _(
                "The legal thresholds (40 CFR 82.157, 40 CFR 84.106, Regulation (EU) 2024/573 "
                "article 5) are set for far larger charges than a sleeper cab's half kilogram. "
                "These rates are engineering figures and no finding of a breach."
            ),
        ),
        (
            _("CO2e"),
            _(
                "Warming over 100 years by IPCC %(report)s (R-134a: %(gwp)s), a blend's by the "
                "mass of its parts. Lists differ by report: always name it."
            )
            % report,
        ),
        (
            _("Keep until"),
            _(
                "Records are kept %(years)d years (the shop's place is %(region)s): 3 in the United "
                "States, 5 in the European Union and where we do not know. Look it up."
            )
            % law,
        ),
        (_("Not legal advice"), _("Local codes and the authority come first.")),
    ]


def _mass(name, system: str) -> Column:
    return Column(name, "mass", 13, FINE_DECIMALS[system])


def _cylinder_columns(system: str) -> tuple[Column, ...]:
    return (
        CYLINDER,
        GAS,
        Column(_("Kind of gas"), width=12),
        Column(_("Owner"), width=24),
        Column(_("Kept at"), width=20),
        _mass(_("Tare"), system),
        _mass(_("Water capacity"), system),
        _mass(_("At most"), system),
        _mass(_("Holds now"), system),
        Column(_("In the book from"), "moment", 17),
        Column(_("Out of use"), "moment", 17),
    )


def _movement_columns(system: str) -> tuple[Column, ...]:
    return (
        WHEN,
        Column(_("Movement"), width=20),
        GAS,
        _mass(_("Into the unit"), system),
        _mass(_("Out of the unit"), system),
        CYLINDER,
        Column(_("Counted"), width=9),
        TECHNICIAN,
        CERTIFICATE,
        SERIAL,
        Column(_("Truck number"), width=12),
        Column(_("VIN"), width=20),
        Column(_("Customer"), width=26),
        Column(_("CO2e, kg (%s)") % settings.GWP, "count", 12),
        WRITTEN,
        KEEP_UNTIL,
    )


def _history_columns(system: str) -> tuple[Column, ...]:
    return (
        Column(_("Number"), "count", 9),
        Column(_("What"), width=14),
        Column(_("Written down at"), "moment", 17),
        WHEN,
        Column(_("Movement"), width=20),
        _mass(_("Mass"), system),
        CYLINDER,
        SERIAL,
        TECHNICIAN,
        CERTIFICATE,
        Column(_("Why"), "prose", 28),
        Column(_("Written down by"), width=16),
    )


def _entry_columns(system: str) -> tuple[Column, ...]:
    return (
        WHEN,
        CYLINDER,
        GAS,
        Column(_("Entry"), width=26),
        _mass(_("Mass"), system),
        Column(_("Into cylinder"), width=14),
        TECHNICIAN,
        CERTIFICATE,
        Column(_("Sent to"), "prose", 28),
        Column(_("Invoice or waste note"), width=18),
        Column(_("Why"), "prose", 28),
        Column(_("Counted"), "prose", 12),
        Column(_("Written down by"), width=16),
        WRITTEN,
        KEEP_UNTIL,
    )


def _balance_columns(system: str) -> tuple[Column, ...]:
    return (GAS, CYLINDER, *(_mass(name, system) for name in BALANCE_COLUMNS.values()))


def _leak_columns(system: str) -> tuple[Column, ...]:
    return (
        SERIAL,
        GAS,
        _mass(_("Nameplate charge"), system),
        _mass(_("Made good so far"), system),
        Column(_("CO2e, kg (%s)") % settings.GWP, "count", 12),
        Column(_("Rolling, a year"), "share", 11),
        Column(_("Annualizing, a year"), "share", 12),
        Column(_("Newest addition"), "date", 12),
        _mass(_("Its mass"), system),
        Column(_("Days since the last"), "count", 11),
    )
