"""Querysets into plain rows: what one person may have in a workbook, sheet by sheet.

Numbers stay in internal units (kPa gauge, °C, g, V, A, Ah); moments are aware; an empty cell is
None. Each method yields one tuple a row, in the order of the columns of the same sheet in
`columns.py`, from a number of queries that does not grow with the rows of a chunk.
"""

from collections.abc import Iterator

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    OuterRef,
    Prefetch,
    QuerySet,
    Subquery,
    Sum,
    When,
)

from installs.models import BatteryRenewal, BatteryType, Customer, Install, Tractor, Unit
from reports.asking_words import ask_text
from reports.models import Ask, Cause, Finding, ForecastEvent
from reports.states import state_text
from reports.wording import told_probability, why
from service.models import Movement, MovementKind, Output, Reading, ReadingKind, Visit

__all__ = ["CHUNK", "Rows"]

CHUNK = 2_000
MEASURED = (
    "ambient_c",
    "return_air_c",
    "supply_air_c",
    "suction_kpa",
    "discharge_kpa",
    "suction_line_c",
    "liquid_line_c",
    "rest_v",
    "rest_h",
    "battery_c",
    "load_v",
    "load_a",
)
# The truck of an event: its number is its fleet's own, so one that was sold since shows its VIN.
TRUCK = Case(
    When(tractor__customer=F("customer"), then=F("tractor__truck_number")),
    default=F("tractor__vin"),
)


class Rows:
    """The rows that `user` sees, of all their customers or of one of them."""

    def __init__(self, user, customer: Customer | None = None) -> None:
        self.user = user
        self.customer = customer

    def of(self, model) -> QuerySet:
        """The rows of a model with a `customer` that belong in this person's workbook."""
        rows = model.objects.visible_to(self.user)
        return rows if self.customer is None else rows.filter(customer=self.customer)

    def this_week(self) -> Iterator[tuple]:
        """The findings of the newest screening, worst first."""
        findings = (
            self.of(Finding)
            .latest()
            .worst_first()
            .select_related("run", "customer", "tractor", "unit__model", "concern__last_step")
        )
        for finding in findings.iterator(CHUNK):
            cause = Cause(finding.cause)
            event = finding.forecast_event
            yield (
                finding.customer and finding.customer.name,
                finding.tractor and finding.tractor.truck_number,
                finding.tractor and finding.tractor.vin,
                finding.unit.serial if finding.unit else ", ".join(finding.touched),
                finding.gauge,
                cause.label,
                told_probability(finding.probability),
                state_text(finding.concern),
                finding.since,
                why(finding, self.user.unit_system),
                cause.action,
                cause.caution,
                event and ForecastEvent(event).label,
                finding.forecast_on,
                finding.forecast_low,
                finding.forecast_high,
            )

    def to_measure(self) -> Iterator[tuple]:
        """What the newest screening asks to be measured, the soonest first."""
        asks = (
            self.of(Ask)
            .latest()
            .most_telling_first()
            .select_related("run", "customer", "tractor__yard", "unit")
        )
        for ask in asks.iterator(CHUNK):
            yield (
                ask.customer.name,
                ask.tractor.truck_number,
                ask.tractor.vin,
                ask.unit.serial,
                ask.tractor.yard and ask.tractor.yard.name,
                ask.by,
                ask.get_measure_display(),
                ask_text(ask, ask.run.as_of),
                ask.how,
                ask.caution,
                ask.cause and ask.get_cause_display(),
                told_probability(ask.probability) if ask.cause else None,
            )

    def trucks(self) -> Iterator[tuple]:
        """Every tractor with its bank, the unit in it now, its last visit and its findings."""
        renewals = BatteryRenewal.objects.visible_to(self.user).filter(bank__tractor=OuterRef("pk"))
        tractors = (
            self.of(Tractor)
            .select_related("customer", "bank")
            .prefetch_related(self._installs_now("unit"))
            .annotate(
                last_renewal=_latest(renewals, "at"),
                last_reading=_latest(self._hands_on().filter(tractor=OuterRef("pk")), "taken_at"),
                last_visit=_latest(self.of(Visit).filter(tractor=OuterRef("pk")), "at"),
                open_findings=self._open_findings("tractor"),
            )
            .order_by("customer__name", "truck_number", "vin")
        )
        for tractor in tractors.iterator(CHUNK):
            bank = getattr(tractor, "bank", None)
            yield (
                tractor.customer.name,
                tractor.truck_number,
                tractor.vin,
                tractor.model_year,
                tractor.system_v,
                bank and BatteryType(bank.battery_type).label,
                bank and bank.battery_count,
                bank and bank.battery_ah,
                bank and bank.installed_on,
                tractor.last_renewal,
                ", ".join(install.unit.serial for install in tractor.installs_now),
                max(filter(None, (tractor.last_reading, tractor.last_visit)), default=None),
                tractor.open_findings or 0,
            )

    def units(self) -> Iterator[tuple]:
        """Every unit by serial: its nameplate, where it is now, what was added, its findings."""
        added = self.of(Movement).filter(unit=OuterRef("pk"), movement=MovementKind.ADDED)
        readings = self.of(Reading).counted().filter(unit=OuterRef("pk"))
        units = (
            self._units()
            .select_related("model")
            .prefetch_related(self._installs_now("customer", "tractor"))
            .annotate(
                added_g=Subquery(
                    added.order_by().values("unit").annotate(g=Sum("mass_g")).values("g")
                ),
                last_reading=_latest(readings, "taken_at"),
                open_findings=self._open_findings("unit"),
            )
            .order_by("serial")
        )
        for unit in units.iterator(CHUNK):
            now = unit.installs_now[0] if unit.installs_now else None
            yield (
                unit.serial,
                unit.model.name,
                unit.model.refrigerant,
                unit.model.charge_g,
                unit.lot,
                unit.made_on,
                now and now.customer.name,
                now and now.tractor.truck_number,
                now and now.tractor.vin,
                now and now.installed_on,
                unit.added_g or 0.0,
                unit.last_reading,
                unit.open_findings or 0,
            )

    def visits(self) -> Iterator[tuple]:
        """Every set of readings that someone took at the truck, newest first."""
        fields = (
            "taken_at",
            "customer__name",
            "truck",
            "unit__serial",
            "kind",
            "output",
            *MEASURED,
            "gauge",
            "visit__complaint",
            "visit__found",
            "visit__done",
        )
        kinds = {kind.value: str(kind.label) for kind in ReadingKind}
        outputs = {"": None} | {output.value: str(output.label) for output in Output}
        readings = self._hands_on().annotate(truck=TRUCK)
        readings = readings.order_by("-taken_at", "unit__serial").values_list(*fields)
        for at, customer, truck, serial, kind, output, *rest in readings.iterator(CHUNK):
            yield at, customer, truck, serial, kinds[kind], outputs[output], *rest

    def refrigerant(self) -> Iterator[tuple]:
        """Every movement of refrigerant, newest first: what went in and what came out."""
        kinds = {kind.value: str(kind.label) for kind in MovementKind}
        movements = (
            self.of(Movement)
            .annotate(truck=TRUCK)
            .order_by("-at", "unit__serial")
            .values_list(
                "at",
                "customer__name",
                "truck",
                "unit__serial",
                "unit__model__refrigerant",
                "movement",
                "mass_g",
            )
        )
        for *where, movement, mass_g in movements.iterator(CHUNK):
            out = movement == MovementKind.RECOVERED
            yield (
                *where,
                kinds[movement],
                None if out else mass_g,
                mass_g if out else None,
            )

    def _units(self) -> QuerySet:
        units = Unit.objects.visible_to(self.user)
        if self.customer is None:
            return units
        return units.filter(Exists(self.of(Install).filter(unit=OuterRef("pk"))))

    def _hands_on(self) -> QuerySet:
        return self.of(Reading).counted().exclude(kind=ReadingKind.LOGGER)

    def _installs_now(self, *related: str) -> Prefetch:
        installs = self.of(Install).current().select_related(*related)
        return Prefetch("installs", installs, to_attr="installs_now")

    def _open_findings(self, owner: str) -> Subquery:
        findings = self.of(Finding).latest().open().filter(**{owner: OuterRef("pk")}).order_by()
        return Subquery(findings.values(owner).annotate(n=Count("pk")).values("n"))


def _latest(rows: QuerySet, field: str) -> Subquery:
    return Subquery(rows.order_by(F(field).desc()).values(field)[:1])
