"""What a commissioning adds to the life of its unit: the weighed charge and the first reading.

A commissioning has one of each. Measured again, the row is corrected in place and keeps in its
history what it was; it stays at the time of the first measurement.
"""

from datetime import datetime

from installs.models import Commissioning, InstallStep, StepRecord
from installs.proving import place_of
from service.book import By, correct, move
from service.models import Cylinder, Movement, MovementKind, Reading, ReadingKind

__all__ = ["write_events"]

# Kept under the same name in a step record and in a reading.
SAME = (
    "ambient_c",
    "return_air_c",
    "supply_air_c",
    "suction_kpa",
    "discharge_kpa",
    "suction_line_c",
    "liquid_line_c",
    "rest_v",
)


def write_events(commissioning: Commissioning, record: StepRecord) -> None:
    """Write or correct what a record of the charge or of the first run adds to the unit's life.

    Raises ValidationError where the book of refrigerant refuses the charge.
    """
    measured = record.measured
    if record.step == InstallStep.CHARGE and measured.get("charge_g"):
        _write_charge(commissioning, record)
    elif record.step == InstallStep.FIRST_RUN and any(
        measured.get(one) is not None for one in SAME
    ):
        _write_reading(commissioning, record)


def _write_charge(commissioning: Commissioning, record: StepRecord) -> None:
    at = _first_at(commissioning, record, "charge_g")
    unit, mass_g = commissioning.install.unit, record.measured["charge_g"]
    cylinder = _cylinder(commissioning, record)
    by = By(at, record.taken_at, record.technician)
    written = Movement.objects.filter(unit=unit, movement=MovementKind.CHARGED, at=at).first()
    if written:
        correct(written, mass_g, cylinder, by)
    else:
        move(unit, MovementKind.CHARGED, mass_g, cylinder, by)


def _write_reading(commissioning: Commissioning, record: StepRecord) -> None:
    measured = record.measured
    at = _first_at(commissioning, record)
    key = {"unit": commissioning.install.unit, "taken_at": at}
    reading = Reading.objects.filter(**key).first() or Reading(**key, entered_at=at)
    reading.kind = ReadingKind.COMMISSIONING
    reading.air_kpa = place_of(commissioning).air_kpa
    reading.taken_by = record.technician
    reading.output = measured.get("output") or ""
    reading.gauge = measured.get("gauge") or ""
    for name in SAME:
        setattr(reading, name, measured.get(name))
    # With the engine running the alternator carries the load, and neither number is the bank's.
    of_the_bank = not measured.get("engine_running")
    reading.load_v = measured.get("bank_v") if of_the_bank else None
    reading.load_a = measured.get(f"draw_{reading.output}_a") if of_the_bank else None
    install = commissioning.install
    reading.tractor, reading.customer = install.tractor, install.customer
    reading.save()


def _cylinder(commissioning: Commissioning, record: StepRecord) -> Cylinder | None:
    """The cylinder by its code; one that was not on record holds what the unit takes."""
    code = record.measured.get("cylinder")
    if not code:
        return None
    refrigerant = commissioning.install.unit.model.refrigerant
    known = Cylinder.objects.filter(code__iexact=code).first()
    return known or Cylinder.objects.create(code=code, refrigerant=refrigerant)


def _first_at(commissioning: Commissioning, record: StepRecord, key: str = "") -> datetime:
    """When the step was first taken, or first taken with a number under `key`."""
    records = commissioning.records.filter(step=record.step).order_by("taken_at", "pk")
    return next(one.taken_at for one in records if not key or one.measured.get(key))
