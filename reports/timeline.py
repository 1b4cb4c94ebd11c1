"""A unit's history as one time line, as far as a person may see it."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Avg, Count, Exists, F, OuterRef, Q
from django.db.models.functions import TruncMonth
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetcool.wording import amount
from installs.models import BatteryRenewal, Certificate, Install, Technician, Unit
from service.models import EndedBy, Movement, Overnight, Reading, ReadingKind, Visit

__all__ = ["Entry", "unit_timeline"]

READ = (
    ("ambient_c", "temperature", lambda: _("ambient")),
    ("return_air_c", "temperature", lambda: _("return air")),
    ("supply_air_c", "temperature", lambda: _("supply air")),
    ("suction_kpa", "pressure", lambda: _("suction")),
    ("discharge_kpa", "pressure", lambda: _("discharge")),
    ("suction_line_c", "temperature", lambda: _("suction line")),
    ("liquid_line_c", "temperature", lambda: _("liquid line")),
    ("rest_v", "volts", lambda: _("at rest")),
    ("load_v", "volts", lambda: _("under load")),
    ("load_a", "amps", lambda: _("load")),
)


class Entry(NamedTuple):
    """One thing that happened. `day` is the first of its month for what is summed over a month."""

    day: date
    what: str
    detail: str = ""
    monthly: bool = False
    url: str = ""


def unit_timeline(unit: Unit, user) -> list[Entry]:
    """Return what happened to a unit, newest first; nights and loggers are summed by month."""
    entries = [
        *_installs(unit, user),
        *_certificates(unit, user),
        *_visits(unit, user),
        *_readings(unit, user),
        *_movements(unit, user),
        *_renewals(unit, user),
        *_nights(unit, user),
        *_loggers(unit, user),
    ]
    return sorted(entries, key=lambda entry: entry.day, reverse=True)


def _installs(unit: Unit, user) -> Iterator[Entry]:
    same_truck = Install.objects.filter(unit=unit, tractor=OuterRef("tractor"))
    anothers = same_truck.exclude(customer=OuterRef("customer"))
    installs = unit.installs.visible_to(user).select_related("tractor", "customer", "installed_by")
    installs = installs.annotate(
        bought=Exists(anothers.filter(removed_on=OuterRef("installed_on"))),
        sold=Exists(anothers.filter(installed_on=OuterRef("removed_on"))),
    )
    sees_technicians = Technician.objects.visible_to(user).exists()
    for install in installs:
        where = {"truck": _truck(install)}
        by = install.installed_by if sees_technicians else None
        detail = _("by %(name)s") % {"name": by} if by else ""
        came = _("Came with %(truck)s, when that was bought")
        yield Entry(
            install.installed_on,
            (came if install.bought else _("Installed in %(truck)s")) % where,
            detail,
        )
        if install.removed_on:
            went = _("Sold with %(truck)s") if install.sold else _("Removed from %(truck)s")
            yield Entry(install.removed_on, went % where)


def _certificates(unit: Unit, user) -> Iterator[Entry]:
    for certificate in Certificate.objects.visible_to(user).of_unit(unit):
        words = {"number": certificate.number}
        yield Entry(_local_day(certificate.issued_at), _("Certificate %(number)s given") % words)
        if certificate.withdrawn_at:
            what = _("Certificate %(number)s withdrawn") % words
            yield Entry(_local_day(certificate.withdrawn_at), what, certificate.withdrawn_why)


def _truck(install: Install) -> str:
    """The truck as it was the customer's; one that is another's today shows its VIN alone."""
    words = {"truck": install.truck, "customer": install.customer}
    if install.truck == install.tractor.vin:
        return _("the truck with VIN %(truck)s of %(customer)s") % words
    return _("truck %(truck)s of %(customer)s") % words


def _visits(unit: Unit, user) -> Iterator[Entry]:
    visits = Visit.objects.visible_to(user).filter(unit=unit).prefetch_related("care")
    for visit in visits:
        parts = (
            (_("Complaint"), visit.complaint),
            (_("Found"), visit.found),
            (_("Done"), visit.done),
            (_("Care done"), ", ".join(str(care) for care in visit.care.all())),
        )
        detail = " ".join(f"{label}: {text}" for label, text in parts if text)
        what = _("Visit, logged twice") if visit.is_doubled else _("Visit")
        yield Entry(_local_day(visit.at), what, detail, url=visit.get_absolute_url())


def _readings(unit: Unit, user) -> Iterator[Entry]:
    titles = {
        ReadingKind.COMMISSIONING: _("Readings at commissioning"),
        ReadingKind.VISIT: _("Readings at a visit"),
    }
    hands_on = (
        Reading.objects.visible_to(user)
        .counted()
        .filter(unit=unit)
        .exclude(kind=ReadingKind.LOGGER)
    )
    for reading in hands_on:
        running = _("%(output)s output") % {"output": reading.get_output_display()}
        if not reading.is_running:
            running = _("standing, so the pressures say nothing of the charge")
        read = [
            f"{label()} {amount(getattr(reading, name), kind, user.unit_system)}"
            for name, kind, label in READ
            if getattr(reading, name) is not None
        ]
        gauge = [_("gauge %(gauge)s") % {"gauge": reading.gauge}] if reading.gauge else []
        detail = capfirst(", ".join([running, *read, *gauge])) + "."
        yield Entry(_local_day(reading.taken_at), titles[reading.kind], detail)


def _movements(unit: Unit, user) -> Iterator[Entry]:
    for movement in Movement.objects.visible_to(user).filter(unit=unit):
        yield Entry(
            _local_day(movement.at),
            _("Refrigerant %(movement)s: %(mass)s")
            % {
                "movement": movement.get_movement_display(),
                "mass": amount(movement.mass_g, "mass", user.unit_system),
            },
        )


def _renewals(unit: Unit, user) -> Iterator[Entry]:
    """Batteries renewed in a truck while the unit stood in it."""
    installs = Install.objects.visible_to(user).filter(unit=unit)
    stood_in_it = Q(bank__tractor__installs__in=installs) & Q(
        at__date__gte=F("bank__tractor__installs__installed_on")
    )
    not_removed_yet = Q(bank__tractor__installs__removed_on=None) | Q(
        at__date__lt=F("bank__tractor__installs__removed_on")
    )
    renewals = BatteryRenewal.objects.visible_to(user).filter(stood_in_it & not_removed_yet)
    for renewal in renewals.distinct():
        count = ngettext("%(n)d battery renewed", "%(n)d batteries renewed", renewal.renewed_count)
        yield Entry(_local_day(renewal.at), count % {"n": renewal.renewed_count})


def _nights(unit: Unit, user) -> Iterator[Entry]:
    months = (
        Overnight.objects.visible_to(user)
        .filter(unit=unit)
        .order_by()
        .values(month=TruncMonth("began_at"))
        .annotate(
            n=Count("pk"),
            run_h=Avg("run_h"),
            drawn_ah=Avg("drawn_ah"),
            cut=Count("pk", filter=Q(ended_by=EndedBy.CUTOFF)),
        )
    )
    for month in months:
        nights = ngettext("%(n)d night", "%(n)d nights", month["n"]) % {"n": month["n"]}
        parts = [_("mean run %(h)s") % {"h": amount(month["run_h"], "hours", user.unit_system)}]
        if month["drawn_ah"] is not None:
            drawn = amount(month["drawn_ah"], "ah", user.unit_system)
            parts.append(_("mean draw %(ah)s") % {"ah": drawn})
        cut = ngettext(
            "%(n)d ended by the low-voltage cutoff",
            "%(n)d ended by the low-voltage cutoff",
            month["cut"],
        )
        if month["cut"]:
            parts.append(cut % {"n": month["cut"]})
        detail = capfirst(", ".join(parts)) + "."
        yield Entry(_local_day(month["month"]), nights, detail, monthly=True)


def _loggers(unit: Unit, user) -> Iterator[Entry]:
    months = (
        Reading.objects.visible_to(user)
        .filter(unit=unit, kind=ReadingKind.LOGGER)
        .order_by()
        .values(month=TruncMonth("taken_at"))
        .annotate(n=Count("pk"))
    )
    for month in months:
        words = ngettext("%(n)d logger reading", "%(n)d logger readings", month["n"])
        yield Entry(_local_day(month["month"]), words % {"n": month["n"]}, monthly=True)


def _local_day(moment: datetime) -> date:
    return timezone.localtime(moment).date()
