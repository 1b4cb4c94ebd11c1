"""What is measured at each step of a commissioning: the names it is kept under, and its words.

The same table makes the form on the phone and the blanks on the printed job packet.
"""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleetcool.quantities import UNIT_LABEL, System
from installs.models import InstallStep

__all__ = ["MEASURES", "Group", "Measure", "unit_label"]

# `quantities.Kind`, or what is read in one unit by everyone, or what is no number.
OWN_UNITS = {"micron": _("micron"), "minutes": _("min"), "cm": "cm", "ml": "ml"}


@dataclass(frozen=True)
class Measure:
    """One thing to measure or to see: the key of `StepRecord.measured`, its kind, its question.

    `low` and `high` bound what can be typed at all, in internal units: not what proves.
    """

    key: str
    kind: str
    label: str | Promise
    help: str | Promise = ""
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Group:
    """Measures that are taken together; without a title where a step has one group only."""

    title: str | Promise
    measures: tuple[Measure, ...]


def unit_label(kind: str, system: System) -> str:
    """Return the unit that a person reads a kind in: `psi`; empty where it has none."""
    if kind in OWN_UNITS:
        return str(OWN_UNITS[kind])
    return UNIT_LABEL.get((kind, system), "")


def yes(key: str, label: Promise, help: str | Promise = "") -> Measure:
    return Measure(key, "yes", label, help)


def pressure(key: str, label: Promise, help: str | Promise = "") -> Measure:
    # From a perfect vacuum to beyond any gauge of the trade.
    return Measure(key, "pressure", label, help, -101.4, 10_000)


def temperature(key: str, label: Promise, help: str | Promise = "") -> Measure:
    return Measure(key, "temperature", label, help, -60, 150)


def volts(key: str, label: Promise, help: str | Promise = "") -> Measure:
    return Measure(key, "volts", label, help, 0, 60)


def amps(key: str, label: Promise, help: str | Promise = "") -> Measure:
    return Measure(key, "amps", label, help, 0, 1_000)


def minutes(key: str, label: Promise, help: str | Promise = "") -> Measure:
    return Measure(key, "minutes", label, help, 0, 10_000)


def micron(key: str, label: Promise) -> Measure:
    from_which_gauge = _("From a micron gauge. Inches of mercury are too coarse to show it.")
    return Measure(key, "micron", label, from_which_gauge, 0, 760_000)


GAUGE = _("As read off the gauge.")
OPTIONAL = _("May stay empty.")

MEASURES: dict[InstallStep, tuple[Group, ...]] = {
    InstallStep.MOUNTING: (
        Group(
            "",
            (
                yes("pads_fitted", _("Is a vibration pad fitted at every foot?")),
                yes("torqued", _("Are all bolts tightened to the torque of the maker's sheet?")),
                yes("firm", _("Does the unit sit firm when pushed from each side?")),
            ),
        ),
    ),
    InstallStep.HOSES: (
        Group(
            "",
            (
                yes(
                    "routed_clear",
                    _("Do hoses and cables run clear of heat, edges and moving parts?"),
                ),
                yes("clamped", _("Are they clamped along their whole way?")),
                yes(
                    "pass_through_protected",
                    _("Are they protected where they pass the floor or the wall?"),
                ),
            ),
        ),
    ),
    InstallStep.PRESSURE_TEST: (
        Group(
            _("At the start"),
            (
                pressure("start_kpa", _("Pressure at the start"), GAUGE),
                temperature("start_c", _("Air at the start")),
            ),
        ),
        Group(
            _("At the end"),
            (
                pressure("end_kpa", _("Pressure at the end"), GAUGE),
                temperature("end_c", _("Air at the end")),
                minutes("minutes", _("Time between the two")),
                yes("no_leak_found", _("Is every joint free of bubbles?")),
            ),
        ),
    ),
    InstallStep.EVACUATION: (
        Group(
            _("On the pump"),
            (
                Measure("pump_from", "time", _("Pump started at")),
                Measure(
                    "pump_to",
                    "time",
                    _("Pump isolated at"),
                    _("A time before the start is taken as the next morning."),
                ),
                micron("lowest_micron", _("Lowest vacuum")),
            ),
        ),
        Group(
            _("After isolating the pump"),
            (
                minutes("decay_minutes", _("Watched for")),
                Measure("midway_micron", "micron", _("Half way through"), OPTIONAL, 0, 760_000),
                micron("after_micron", _("At the end of the watch")),
            ),
        ),
    ),
    InstallStep.CHARGE: (
        Group(
            "",
            (
                Measure("cylinder", "cylinder", _("From cylinder")),
                Measure(
                    "new_cylinder",
                    "text",
                    _("Or the code of one that is not listed"),
                    _("It is put on record with this unit's refrigerant: read its label first."),
                ),
                Measure("charge_g", "mass", _("Charged by weight"), "", 0, 20_000),
                Measure(
                    "allowance_g",
                    "mass",
                    _("Added for longer hoses, by the maker's sheet"),
                    OPTIONAL,
                    0,
                    2_000,
                ),
            ),
        ),
    ),
    InstallStep.SUPPLY: (
        Group(
            _("The bank"),
            (
                yes(
                    "positive_from_first",
                    _("Is the positive taken from the first battery?"),
                ),
                yes(
                    "negative_from_last",
                    _("Is the negative taken from the last battery?"),
                    _("Only then do all batteries of a parallel bank share the load."),
                ),
            ),
        ),
        Group(
            _("Fuse and cable"),
            (
                amps("fuse_a", _("Fuse, as printed on it")),
                amps("cable_ampacity_a", _("What the cable may carry"), OPTIONAL),
                Measure(
                    "fuse_to_battery_cm",
                    "cm",
                    _("Cable from the battery to the fuse"),
                    _("1 in is 2.5 cm."),
                    0,
                    2_000,
                ),
            ),
        ),
    ),
    InstallStep.DRAIN: (
        Group(
            "",
            (
                Measure("water_ml", "ml", _("Water poured"), _("A cup is 250 ml."), 0, 20_000),
                yes("ran_out_outside", _("Did all of it run out outside?")),
                yes("no_water_inside", _("Is it dry inside the cab?")),
            ),
        ),
    ),
    InstallStep.SEALING: (
        Group(
            "",
            (
                yes("sealed_inside", _("Are all holes sealed inside?")),
                yes("sealed_outside", _("Are all holes sealed outside?")),
            ),
        ),
    ),
    InstallStep.FIRST_RUN: (
        Group(
            _("Before starting"),
            (volts("rest_v", _("Bank at rest")),),
        ),
        Group(
            _("Draw at each output"),
            (
                amps("draw_low_a", _("Draw at low output")),
                amps("draw_mid_a", _("Draw at mid output")),
                amps(
                    "draw_high_a",
                    _("Draw at high output"),
                    _("Leave it empty where the bank may not carry it with the engine off."),
                ),
            ),
        ),
        Group(
            _("Running: what follows is read at one output, within a few minutes"),
            (
                Measure("output", "output", _("Output while reading")),
                yes("engine_running", _("Was the engine running?")),
                volts("bank_v", _("Voltage at the bank, under load")),
                volts("unit_v", _("Voltage at the unit, under load")),
                pressure("suction_kpa", _("Suction pressure"), GAUGE),
                pressure("discharge_kpa", _("Discharge pressure"), GAUGE),
                Measure("gauge", "text", _("Name of the gauge set"), OPTIONAL),
            ),
        ),
        Group(
            _("Air and pipes"),
            (
                temperature("ambient_c", _("Outside air, in the shade")),
                temperature("return_air_c", _("Air into the unit, in the cab")),
                temperature("supply_air_c", _("Air out of the unit")),
                temperature("suction_line_c", _("Suction line, by clamp"), OPTIONAL),
                temperature("liquid_line_c", _("Liquid line, by clamp"), OPTIONAL),
            ),
        ),
    ),
    InstallStep.SETTINGS: (
        Group(
            "",
            (
                volts(
                    "cutoff_v",
                    _("Cutoff set to"),
                    _("Under load. It is not the voltage of a resting battery."),
                ),
                temperature("set_point_c", _("Set-point at handing over")),
                yes(
                    "shown_to_driver",
                    _("Were set-point, outputs and cutoff shown to the driver?"),
                ),
            ),
        ),
    ),
}
