"""What matters at a unit before it is touched: who and where, what is open, what to expect today."""

from datetime import date, datetime
from typing import NamedTuple

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.forms import QuantityField
from fleetcool.models import Person
from fleetcool.quantities import System
from fleetcool.wording import amount
from installs.models import Booking, Install, Technician, Unit
from reports.care_rows import care_rows
from reports.cautions import unit_cautions
from reports.cover import cover_of
from reports.lists import finding_rows
from reports.timeline import READ
from reports.usual_bands import usual_bands
from reports.visits import asks_of
from service.engineering.visit_physics import Physics, expected_beside, expected_kpa, physics_of
from service.models import Movement, MovementKind, Output, Reading, ReadingKind, Visit
from service.visiting import air_of

__all__ = ["first_screen", "install_of", "last_gauge", "physics_at"]

# How far back top-ups are shown, and a person's own visits are known to the phone.
TOP_UPS = NEWEST = 5


class Row(NamedTuple):
    """A value of the last reading, and what to expect of it in today's air; a dash where nothing."""

    label: str
    last: str
    expected: str


class AirForm(forms.Form):
    """The air of today, so that the pressures to expect can be told before anything is connected."""

    def __init__(self, system: System, data, last: Reading | None) -> None:
        typed = {name: data[name] for name in ("ambient_c", "return_air_c") if data.get(name)}
        super().__init__(typed or None, auto_id="air-%s")
        for name, label in (("ambient_c", _("Air outside")), ("return_air_c", _("Return air"))):
            field = QuantityField("temperature", system, label=label, required=False)
            field.widget.attrs["class"] = "form-control"
            field.initial = last and getattr(last, name)
            self.fields[name] = field
        self.last = last

    def air(self) -> dict[str, float | None]:
        """Air outside and return air, °C: as typed today, else as it was last read."""
        typed = self.cleaned_data if self.is_valid() else {}
        last = {name: self.last and getattr(self.last, name) for name in self.fields}
        return last | {name: value for name, value in typed.items() if value is not None}


def install_of(unit: Unit, user) -> Install | None:
    """Where the unit is now, with what the page names of it."""
    installs = unit.installs.visible_to(user).current()
    return installs.select_related("customer", "tractor__yard", "tractor__bank").first()


def physics_at(unit: Unit, install: Install | None, known_at: datetime) -> Physics:
    """What the unit's values are judged by where it stands, by what was known at a moment.

    A phone judges by the page that it has: its values are judged again by what was known then.
    """
    tractor = install and install.tractor
    bank = getattr(tractor, "bank", None)
    model = unit.model
    return physics_of(
        model.refrigerant,
        model.system_v,
        air_kpa=air_of(tractor),
        battery_type=bank.battery_type if bank else "",
        rated_a={output: getattr(model, f"draw_{output}_a") for output in Output.values},
        usual=usual_bands(model, known_at),
    )


def last_gauge(technician: Technician | None) -> str:
    """The gauge that a technician read with last; empty for none, and for who is no technician."""
    if technician is None:
        return ""
    readings = Reading.objects.filter(taken_by=technician).exclude(gauge="")
    return readings.order_by("-taken_at").values_list("gauge", flat=True).first() or ""


def first_screen(
    unit: Unit, install: Install | None, user: Person, physics: Physics, today: date, asked
) -> dict[str, object]:
    """Return the first screen's context; `asked` is the query in which today's air may be typed."""
    last = _last_reading(unit, user)
    air = AirForm(user.unit_system, asked, last)
    system = user.unit_system
    movements = Movement.objects.visible_to(user).filter(unit=unit).order_by("-at")
    cover = cover_of(unit, user, today)
    care = care_rows(unit, user, today)
    return {
        "unit": unit,
        "install": install,
        "cautions": unit_cautions(unit),
        "findings": finding_rows(unit.findings, user).open(),
        "asks": asks_of(unit, user),
        "today": today,
        "last": last,
        "air_form": air,
        "air_typed": air.is_bound,
        "rows": _rows(last, physics, air.air(), system),
        "charged": movements.filter(movement=MovementKind.CHARGED).first(),
        "top_ups": movements.filter(movement=MovementKind.ADDED)[:TOP_UPS],
        "cover": cover and [row for row, _ends_on, in_force in cover.rows if in_force],
        "care": care,
        "care_later": any(not row.is_due for row in care),
        "care_due": ", ".join(row.name for row in care if row.is_due),
        "booking": _booking(unit, install, user),
        "saved_ids": _saved_ids(unit, user),
    }


def _last_reading(unit: Unit, user) -> Reading | None:
    taken = Reading.objects.visible_to(user).counted().filter(unit=unit)
    return taken.exclude(kind=ReadingKind.LOGGER).order_by("-taken_at").first()


def _booking(unit: Unit, install: Install | None, user) -> Booking | None:
    """The next open booking of the truck, or of the unit while it is in none."""
    bookings = Booking.objects.visible_to(user).open().with_all().order_by("begins_at")
    if install:
        return bookings.filter(tractor=install.tractor).first()
    return bookings.filter(unit=unit).first()


def _saved_ids(unit: Unit, user) -> str:
    """The numbers of a person's newest visits, so that a phone forgets what it kept of them."""
    visits = Visit.objects.filter(unit=unit, entered_by=user).exclude(sent_id=None)
    sent = visits.order_by("-entered_at").values_list("sent_id", flat=True)
    return " ".join(str(sent_id) for sent_id in sent[:NEWEST])


def _rows(last: Reading | None, physics: Physics, air: dict, system: System) -> list[Row]:
    """The last values beside what to expect, at the output they were read at."""
    output = (last and last.output) or Output.HIGH
    pressures = expected_kpa(physics, output, air["ambient_c"], air["return_air_c"])
    bands = pressures | expected_beside(physics, output, air["return_air_c"])
    rows = []
    for name, kind, label in READ:
        value = last and getattr(last, name)
        if value is None and name not in pressures:
            continue
        expected = "–"
        if name in bands:
            low, high = (amount(limit, kind, system) for limit in bands[name])
            expected = _("%(low)s to %(high)s") % {"low": low, "high": high}
        rows.append(Row(capfirst(label()), amount(value, kind, system), expected))
    return rows
