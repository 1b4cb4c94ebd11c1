"""What a technician needs to know at a step, beside its cautions and instructions.

From the records: what the customer chose, what the unit's plate and the maker's sheet ask for, and
what the gauges should show in the air of the day.
"""

from django.utils.translation import gettext as _

from fleetcool.quantities import System
from fleetcool.wording import amount
from installs.engineering.vacuum import TARGET_MICRON, water_c
from installs.models import Commissioning, InstallStep, SheetPart
from installs.proving import StepProofs, place_of
from service.engineering.expected import expected_discharge_kpa, expected_suction_kpa

__all__ = ["to_know"]

# The lines of the maker's sheet that each step has a use for.
OF_SHEET = {
    InstallStep.MOUNTING: (SheetPart.PART, SheetPart.HOLE, SheetPart.TORQUE),
    InstallStep.HOSES: (SheetPart.HOLE, SheetPart.TORQUE),
    # The fuse is a setting too, and is put in at the supply.
    InstallStep.SUPPLY: (SheetPart.TORQUE, SheetPart.SETTING),
    InstallStep.SETTINGS: (SheetPart.SETTING,),
}


def to_know(commissioning: Commissioning, now: StepProofs, system: System) -> list[str]:
    """Return what to know at the step of `now`, a line for each thing."""
    match now.step:
        case InstallStep.MOUNTING:
            return [*_chosen(commissioning, "mounting_side"), *_sheet(commissioning, now.step)]
        case InstallStep.HOSES:
            return [*_chosen(commissioning, "pass_through"), *_sheet(commissioning, now.step)]
        case InstallStep.SUPPLY:
            return _sheet(commissioning, now.step)
        case InstallStep.EVACUATION:
            return [_water(system)]
        case InstallStep.CHARGE:
            return _plate_charge(commissioning, system)
        case InstallStep.FIRST_RUN:
            return _expected(commissioning, now, system)
        case InstallStep.SETTINGS:
            return [*_plate_cutoff(commissioning, system), *_sheet(commissioning, now.step)]
    return []


def _chosen(commissioning: Commissioning, choice: str) -> list[str]:
    """What the customer chose when the truck was booked."""
    booking = commissioning.booking
    if booking is None or not getattr(booking, choice):
        return []
    return [_("The customer chose: %s.") % getattr(booking, f"get_{choice}_display")()]


def _sheet(commissioning: Commissioning, step: InstallStep) -> list[str]:
    lines = commissioning.install.unit.model.sheet_lines.filter(part__in=OF_SHEET[step])
    if not lines and step == InstallStep.MOUNTING:
        return [_("The maker's sheet was not entered; read it before drilling.")]
    return [f"{line.what}: {line.value}" for line in lines]


def _water(system: System) -> str:
    """Why a cold circuit stays wet: water goes only where it is warmer than it freezes out at a vacuum."""
    words = {
        "micron": TARGET_MICRON,
        "frost": amount(float(water_c(TARGET_MICRON)), "temperature", system),
    }
    return (
        _(
            "At %(micron)d micron water goes only from what is warmer than %(frost)s: warm a cold circuit."
        )
        % words
    )


def _plate_charge(commissioning: Commissioning, system: System) -> list[str]:
    model = commissioning.install.unit.model
    words = {"charge": amount(model.charge_g, "mass", system), "name": model.refrigerant}
    return [
        _("The plate asks for %(charge)s of %(name)s.") % words,
        _("What is saved here is counted out of the cylinder: save only what was weighed in now."),
    ]


def _plate_cutoff(commissioning: Commissioning, system: System) -> list[str]:
    cutoff_v = commissioning.install.unit.model.cutoff_v
    return [_("The plate's cutoff is %s.") % amount(cutoff_v, "volts", system)] if cutoff_v else []


def _expected(commissioning: Commissioning, now: StepProofs, system: System) -> list[str]:
    """The pressures that prove in today's air, as a gauge in this yard shows them."""
    measured = now.record.measured if now.record else {}
    ambient_c, return_air_c = measured.get("ambient_c"), measured.get("return_air_c")
    if ambient_c is None or return_air_c is None:
        return [
            _("Save outside air and return air first: then the pressures to expect stand here.")
        ]
    refrigerant = commissioning.install.unit.model.refrigerant
    air_kpa = place_of(commissioning).air_kpa
    discharge = expected_discharge_kpa(ambient_c, refrigerant, air_kpa)
    suction = expected_suction_kpa(return_air_c, refrigerant, air_kpa)
    return [
        _("In outside air of %(air)s a discharge of %(low)s to %(high)s proves.")
        % _band(ambient_c, discharge, system),
        _("With return air of %(air)s a suction of %(low)s to %(high)s proves.")
        % _band(return_air_c, suction, system),
    ]


def _band(air_c: float, band: tuple[float, float], system: System) -> dict[str, str]:
    return {
        "air": amount(air_c, "temperature", system),
        "low": amount(band[0], "pressure", system),
        "high": amount(band[1], "pressure", system),
    }
