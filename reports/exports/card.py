"""What a unit's card says, as plain text: the one page that stays with the unit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.conf import settings
from django.db.models import QuerySet, Sum
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.quantities import DECIMALS, UNIT_LABEL, shown
from fleetcool.wording import amount, number
from installs.engineering.saturation import SAFETY_CLASS, designation
from installs.models import BatteryBank, Install, Technician, Unit
from reports.cautions import unit_cautions
from reports.cover import cover_of
from reports.exports.charts import Chart, Series
from reports.exports.svg import time_chart
from reports.finding_pictures import finding_charts
from reports.models import Cause, Finding, ScreenRun
from reports.series import unit_series
from reports.wording import feature_label, how_sure, why
from service.models import Movement, MovementKind, Output, Reading, ReadingKind

__all__ = ["Listing", "Note", "UnitCard", "card_of"]

MOST = {"findings": 2, "readings": 5, "movements": 3}
CHARTED = ("condensing_lift_k", "evaporating_depression_k")
READ = {
    "ambient_c": ("temperature", gettext_lazy("ambient")),
    "return_air_c": ("temperature", gettext_lazy("return air")),
    "suction_kpa": ("pressure", gettext_lazy("suction")),
    "discharge_kpa": ("pressure", gettext_lazy("discharge")),
    "rest_v": ("volts", gettext_lazy("rest")),
    "load_v": ("volts", gettext_lazy("under load")),
    "load_a": ("amps", gettext_lazy("load")),
}


@dataclass(frozen=True)
class Listing:
    """A short table: its header, its rows, and how many more rows there are than it shows."""

    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    more: int = 0


@dataclass(frozen=True)
class Note:
    """One finding: its cause and how sure, why, what to do, and what can hurt."""

    head: str
    why: str
    action: str
    caution: str


@dataclass(frozen=True)
class UnitCard:
    serial: str
    model: str
    address: str
    cautions: Sequence[str]
    nameplate: Sequence[tuple[str, str]]
    place: Sequence[tuple[str, str]]
    findings: Sequence[Note]
    more_findings: int
    screening: str
    charts: Sequence[str]
    cover: Listing
    movements: Listing
    added: str
    readings: Listing


def card_of(unit: Unit, user, as_of: date, *, chart_font: str = "sans-serif") -> UnitCard:
    """Gather what a person may see of one unit for its card, in the person's units."""
    system = user.unit_system
    findings = Finding.objects.visible_to(user).latest().worst_first().filter(unit=unit)
    found = list(findings.select_related("run", "unit"))
    movements = Movement.objects.visible_to(user).filter(unit=unit)
    added = movements.filter(movement=MovementKind.ADDED).aggregate(g=Sum("mass_g"))["g"]
    return UnitCard(
        serial=unit.serial,
        model=unit.model.name,
        address=settings.SITE_URL + unit.get_absolute_url(),
        cautions=unit_cautions(unit),
        nameplate=_nameplate(unit, system),
        place=_place(unit, user),
        findings=[_note(finding, system) for finding in found[: MOST["findings"]]],
        more_findings=max(len(found) - MOST["findings"], 0),
        screening=_screening(bool(found)),
        charts=_charts(unit, found, user, as_of, chart_font),
        cover=_cover(unit, user, as_of),
        movements=_movements(movements, system),
        added=amount(added or 0.0, "mass", system),
        readings=_readings(Reading.objects.visible_to(user).counted().filter(unit=unit), system),
    )


def _refrigerant(unit: Unit) -> dict[str, str]:
    name = designation(unit.model.refrigerant)
    return {"refrigerant": name, "class": SAFETY_CLASS[name]}


def _nameplate(unit: Unit, system: str) -> list[tuple[str, str]]:
    model = unit.model
    cutoff = amount(model.cutoff_v, "volts", system) if model.cutoff_v else _("not stated")
    return [
        (_("Model"), model.name),
        (
            _("Refrigerant"),
            _("%(refrigerant)s, safety class %(class)s") % _refrigerant(unit),
        ),
        (_("Nameplate charge"), amount(model.charge_g, "mass", system)),
        (_("Expansion device"), model.get_expansion_display() or _("not stated")),
        (_("System"), model.get_system_v_display()),
        (_("Cutoff"), cutoff),
        (_("Lot, made on"), ", ".join(filter(None, (unit.lot, _day(unit.made_on))))),
    ]


def _place(unit: Unit, user) -> list[tuple[str, str]]:
    """Where the unit is now, as far as this person may know."""
    installs = Install.objects.visible_to(user).filter(unit=unit).current()
    install = installs.select_related("customer", "tractor").first()
    if install is None:
        return [(_("Now in"), _("no truck on record"))]
    tractor = install.tractor
    place = [
        (_("Customer"), install.customer.name),
        (_("Truck number"), tractor.truck_number),
        (_("VIN"), tractor.vin),
        (_("Installed on"), _day(install.installed_on)),
    ]
    technicians = Technician.objects.visible_to(user)
    if technician := technicians.filter(pk=install.installed_by_id).first():
        place.append((_("Installed by"), technician.name))
    bank = BatteryBank.objects.visible_to(user).filter(tractor=tractor).first()
    if bank is None:
        return [*place, (_("Battery bank"), _("not on record"))]
    renewal = bank.renewals.order_by("at").last()
    return [
        *place,
        (_("Battery bank"), str(bank)),
        (_("Batteries of"), _day(bank.installed_on) or _("not on record")),
        (_("Last renewal"), _day(renewal.at) if renewal else _("none on record")),
    ]


def _note(finding: Finding, system: str) -> Note:
    cause = Cause(finding.cause)
    return Note(
        head=f"{cause.label}: {how_sure(finding.probability)}",
        why=why(finding, system),
        action=str(cause.action),
        caution=str(cause.caution),
    )


def _screening(has_findings: bool) -> str:
    """What the newest screening says in one line, for the head of the findings."""
    run = ScreenRun.objects.first()
    if run is None:
        return _("Not screened yet")
    if has_findings:
        return _("Findings of the screening of %s") % _day(run.as_of)
    return _("The screening of %s found nothing, which does not prove it sound") % _day(run.as_of)


def _charts(unit: Unit, found: list[Finding], user, as_of: date, font: str) -> list[str]:
    """As SVG: what tells most of the worst finding and its forecast; else lift and depression."""
    pictured = (finding_charts(finding, user, as_of) for finding in found)
    drawn = next(filter(None, pictured), [])
    charts = [one.chart for one in drawn]
    charts = [*charts[:1], *charts[1:][-1:]] if charts else _lift_and_depression(unit, user, as_of)
    return [time_chart(chart, font=font) for chart in charts]


def _lift_and_depression(unit: Unit, user, as_of: date) -> list[Chart]:
    """One chart of both over time; none where neither was ever taken."""
    taken = unit_series(unit, user, as_of)
    lines = []
    for name in CHARTED:
        points = taken.features.get(name, [])
        if points:
            values = shown([value for _when, value in points], "difference", user.unit_system)[0]
            moments = [when for when, _value in points]
            name = capfirst(feature_label(name))
            lines.append(Series(name, list(zip(moments, values.tolist(), strict=True))))
    unit_label = UNIT_LABEL["difference", user.unit_system]
    epochs = taken.circuit_epochs
    return [Chart(_("Lift and depression"), unit_label, lines, epochs)] if lines else []


def _cover(unit: Unit, user, as_of: date) -> Listing:
    """The last day of cover by part group; no rows where this person cannot be told."""
    cover = cover_of(unit, user, as_of)
    rows = [
        (
            row.label,
            _day(ends_on) if in_force or row.may_last_longer else _("%s, ended") % _day(ends_on),
            number(row.run_hours, 0) if row.run_hours else "–",
        )
        for row, ends_on, in_force in (cover.rows if cover else ())
        if row.months
    ]
    return Listing((_("Covered"), _("until"), _("or run hours")), rows)


def _movements(movements: QuerySet[Movement], system: str) -> Listing:
    kinds = {kind.value: str(kind.label) for kind in MovementKind}
    newest = movements.order_by("-at").values_list("at", "movement", "mass_g")
    rows = [
        (
            _day(at),
            kinds[kind],
            number(shown(mass_g, "mass", system)[0], DECIMALS["mass", system]),
        )
        for at, kind, mass_g in newest[: MOST["movements"]]
    ]
    header = (_("Refrigerant"), _("movement"), UNIT_LABEL["mass", system])
    return Listing(header, rows, movements.count() - len(rows))


def _readings(readings: QuerySet[Reading], system: str) -> Listing:
    """The newest readings that someone took at the truck."""
    header = [_("Readings"), _("kind"), _("output")]
    header += [f"{label}, {UNIT_LABEL[kind, system]}" for kind, label in READ.values()]
    kinds = {kind.value: str(kind.label) for kind in ReadingKind}
    outputs = {"": _("standing")} | {output.value: str(output.label) for output in Output}
    taken = readings.exclude(kind=ReadingKind.LOGGER)
    rows = []
    newest = taken.order_by("-taken_at").values_list("taken_at", "kind", "output", *READ)
    for at, kind, output, *values in newest[: MOST["readings"]]:
        texts = [
            _short(value, kind, system)
            for value, (kind, _label) in zip(values, READ.values(), strict=True)
        ]
        rows.append((_day(at), kinds[kind], outputs[output], *texts))
    return Listing(header, rows, taken.count() - len(rows))


def _short(value: float | None, kind: str, system: str) -> str:
    if value is None:
        return "–"
    return number(shown(value, kind, system)[0], DECIMALS[kind, system])


def _day(day: date | datetime | None) -> str:
    if day is None:
        return ""
    if isinstance(day, datetime):
        day = timezone.localtime(day, timezone.get_default_timezone())
    return date_format(day, "Y-m-d")
