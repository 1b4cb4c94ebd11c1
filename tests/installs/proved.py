"""A commissioning in which every step holds, for tests of what follows from it."""

from datetime import UTC, date, datetime

from installs.models import Commissioning, InstallStep
from tests.factories import (
    BatteryBankFactory,
    CertifiedFactory,
    CommissioningFactory,
    InstallFactory,
    StepRecordFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)

BEGAN = datetime(2026, 11, 30, 15, tzinfo=UTC)
# 550 g weighed on a 550 g nameplate, and 45 psi of suction with 165 psi of discharge on a hot day:
# common practice, no source. The rest lies well within the limits of `acceptance`.
MEASURED = {
    "mounting": {"pads_fitted": True, "torqued": True, "firm": True},
    "hoses": {"routed_clear": True, "clamped": True, "pass_through_protected": True},
    "pressure_test": {
        "start_kpa": 1000,
        "end_kpa": 999,
        "start_c": 25,
        "end_c": 25,
        "minutes": 20,
        "no_leak_found": True,
    },
    "evacuation": {
        "minutes": 32,
        "lowest_micron": 310,
        "after_micron": 520,
        "decay_minutes": 12,
    },
    "charge": {"charge_g": 550, "cylinder": "CYL-9"},
    "supply": {
        "positive_from_first": True,
        "negative_from_last": True,
        "fuse_a": 80,
        "fuse_to_battery_cm": 30,
    },
    "drain": {"water_ml": 500, "ran_out_outside": True, "no_water_inside": True},
    "sealing": {"sealed_inside": True, "sealed_outside": True},
    "first_run": {
        "rest_v": 12.7,
        "bank_v": 12.3,
        "unit_v": 12.1,
        "draw_low_a": 22,
        "draw_mid_a": 36,
        "draw_high_a": 58,
        "output": "high",
        "ambient_c": 35,
        "return_air_c": 28,
        "supply_air_c": 16,
        "suction_kpa": 310,
        "discharge_kpa": 1138,
    },
    "settings": {"cutoff_v": 11.2, "set_point_c": 20, "shown_to_driver": True},
}


def proved_commissioning(customer=None, **unit) -> Commissioning:
    """Make one with all ten steps on record, signed by a certified technician."""
    tractor = TractorFactory(**({"customer": customer} if customer else {}))
    BatteryBankFactory(tractor=tractor)
    technician = CertifiedFactory(name="Ines Instala")
    model = unit.pop("model", None) or UnitModelFactory(charge_g=550)
    install = InstallFactory(
        unit=UnitFactory(model=model, **unit),
        tractor=tractor,
        installed_on=date(2026, 11, 30),
        installed_by=technician,
    )
    commissioning = CommissioningFactory(
        install=install,
        technician=technician,
        began_at=BEGAN,
        yard=YardFactory(customer=None, name="Shop yard"),
    )
    for step in InstallStep:
        StepRecordFactory(commissioning=commissioning, step=step, measured=MEASURED[step])
    return commissioning
