"""The words of an acceptance: what each proof is called, and why it stands as it does."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.quantities import System
from fleetcool.wording import NO_BREAK, amount, number
from installs.engineering.acceptance import Proof, Reason, Verdict
from installs.models import InstallStep
from installs.step_words import step_cautions, step_how

__all__ = [
    "limits_text",
    "measured_text",
    "proof_label",
    "reason_text",
    "step_cautions",
    "step_how",
    "step_label",
    "verdict_label",
]


def proof_label(code: str) -> str:
    """Return what a proof is called."""
    return str(LABELS[code])


def verdict_label(verdict: Verdict) -> str:
    return str(VERDICTS[verdict])


def step_label(step: str) -> str:
    return str(InstallStep(step).label)


def measured_text(proof: Proof, unit_system: System) -> str:
    """Return what was measured, in a person's units: '12.3 K', 'yes', 'not taken'."""
    if proof.measured is None:
        return _("not taken")
    if proof.kind == "yes":
        return _("yes") if proof.measured else _("no")
    return _amount(proof.measured, proof.kind, unit_system)


def limits_text(proof: Proof, unit_system: System) -> str:
    """Return what proves, in a person's units: '3.0 K to 15.0 K'; empty where a yes is asked."""
    low, high = (
        None if limit is None else _amount(limit, proof.kind, unit_system)
        for limit in (proof.low, proof.high)
    )
    if low and high:
        return _("%(low)s to %(high)s") % {"low": low, "high": high}
    if low:
        return _("%(low)s or more") % {"low": low}
    if not high:
        return ""
    if proof.code == "decay":
        return _("less than %(high)s") % {"high": high}
    return _("%(high)s or less") % {"high": high}


def reason_text(proof: Proof, unit_system: System) -> str:
    """Return why a proof stands as it does, with its number and its limit."""
    parts = [str(REASONS[proof.reason])]
    if proof.measured is not None and proof.kind != "yes":
        parts.append(_("Measured: %s.") % measured_text(proof, unit_system))
    if limits := limits_text(proof, unit_system):
        parts.append(_("Proves: %s.") % limits)
    return " ".join(parts)


def _amount(value: float, kind: str, unit_system: System) -> str:
    """Return a quantity in words; those that the trade reads in one unit only have it here."""
    if kind in ONE_UNIT:
        return f"{number(value, 0)}{NO_BREAK}{ONE_UNIT[kind]}"
    return amount(value, kind, unit_system)


ONE_UNIT = {
    "micron": gettext_lazy("micron"),
    "minutes": gettext_lazy("min"),
    "cm": "cm",
    "ml": "ml",
}

VERDICTS = {
    Verdict.PROVED: gettext_lazy("Proved"),
    Verdict.LOOK_AGAIN: gettext_lazy("Look again"),
    Verdict.NOT_PROVED: gettext_lazy("Not proved"),
}

LABELS = {
    "pads_fitted": gettext_lazy("Vibration pads fitted"),
    "torqued": gettext_lazy("Bolts tightened to torque"),
    "firm": gettext_lazy("Sits firm, nothing moves"),
    "routed_clear": gettext_lazy("Hoses clear of heat and moving parts"),
    "clamped": gettext_lazy("Hoses clamped"),
    "pass_through_protected": gettext_lazy("Hoses protected at the pass-through"),
    "test_pressure": gettext_lazy("Test pressure"),
    "test_minutes": gettext_lazy("Length of the pressure test"),
    "pressure_drop": gettext_lazy("Pressure lost, temperature allowed for"),
    "no_leak_found": gettext_lazy("No leak found at the joints"),
    "pump_minutes": gettext_lazy("Time on the vacuum pump"),
    "lowest_micron": gettext_lazy("Lowest vacuum"),
    "decay": gettext_lazy("Vacuum after isolating the pump"),
    "decay_minutes": gettext_lazy("Time watched after isolating"),
    "charge": gettext_lazy("Charge by weight"),
    "positive_from_first": gettext_lazy("Positive from the first battery"),
    "negative_from_last": gettext_lazy("Negative from the last battery"),
    "fuse": gettext_lazy("Fuse"),
    "fuse_to_battery": gettext_lazy("Cable from battery to fuse"),
    "water": gettext_lazy("Water poured"),
    "ran_out_outside": gettext_lazy("All the water ran out outside"),
    "no_water_inside": gettext_lazy("No water in the cab"),
    "sealed_inside": gettext_lazy("Holes sealed inside"),
    "sealed_outside": gettext_lazy("Holes sealed outside"),
    "draw_low_a": gettext_lazy("Draw at low output"),
    "draw_mid_a": gettext_lazy("Draw at mid output"),
    "draw_high_a": gettext_lazy("Draw at high output"),
    "cable_drop": gettext_lazy("Voltage lost from bank to unit"),
    "bank_under_load": gettext_lazy("Bank voltage under load"),
    "bank_resistance": gettext_lazy("Resistance of the bank"),
    "condensing_lift": gettext_lazy("Condensing temperature over the outside air"),
    "evaporating_depression": gettext_lazy("Evaporating temperature under the return air"),
    "supply_air_drop": gettext_lazy("Supply air cooler than return air"),
    "superheat": gettext_lazy("Superheat"),
    "subcooling": gettext_lazy("Subcooling"),
    "cutoff": gettext_lazy("Cutoff voltage"),
    "set_point": gettext_lazy("Set-point"),
    "shown_to_driver": gettext_lazy("Shown to the driver"),
}

REASONS = {
    Reason.WITHIN: gettext_lazy("Within the limits."),
    Reason.YES: gettext_lazy("Seen and confirmed."),
    Reason.NO: gettext_lazy("It is not so. Put it right and look again."),
    Reason.MISSING: gettext_lazy("Not measured yet."),
    Reason.BELOW: gettext_lazy("Below what proves."),
    Reason.ABOVE: gettext_lazy("Above what proves."),
    Reason.CANNOT_BE: gettext_lazy(
        "Such a number cannot be: look at the instrument, the unit and the typing."
    ),
    Reason.SHORT: gettext_lazy("Too short a time to show it."),
    Reason.WEAK_TEST: gettext_lazy("The test pressure is too low to show a leak."),
    Reason.ABOVE_TEST_LIMIT: gettext_lazy(
        "The test pressure is above what this circuit is tested at. Let it down slowly and check "
        "every joint; the plate on the unit says what it stands."
    ),
    Reason.UNEXPLAINED_DROP: gettext_lazy(
        "The pressure fell more than the change of temperature explains: look for a leak."
    ),
    Reason.UNEXPLAINED_RISE: gettext_lazy(
        "The pressure rose more than the change of temperature explains: look for a valve left "
        "open and read both temperatures again."
    ),
    Reason.NOT_LOW: gettext_lazy(
        "The vacuum was not deep enough before isolating: pump on, and renew the pump's oil if it "
        "does not fall."
    ),
    Reason.ROSE: gettext_lazy(
        "The vacuum did not hold. If it keeps rising it is a leak, if it levels off it is water; "
        "do not charge."
    ),
    Reason.ROSE_MOISTURE: gettext_lazy(
        "The vacuum rose and levelled off: there is still water in the circuit. Pump on; do not "
        "charge."
    ),
    Reason.ROSE_LEAK: gettext_lazy(
        "The vacuum keeps rising: there is a leak. Find it with nitrogen; do not charge."
    ),
    Reason.UNDERCHARGED: gettext_lazy("Less than the nameplate asks for."),
    Reason.OVERCHARGED: gettext_lazy(
        "More than the nameplate asks for: recover the excess, never let it out."
    ),
    Reason.SINGLE_BATTERY: gettext_lazy("One battery only: nothing to share."),
    Reason.NO_NAMEPLATE: gettext_lazy("The unit model has no such figure to compare with."),
    Reason.FUSE_SMALL: gettext_lazy("The fuse is small for this draw and may blow at night."),
    Reason.FUSE_LARGE: gettext_lazy(
        "The fuse is too large: the cable may burn before the fuse blows."
    ),
    Reason.FUSE_FAR: gettext_lazy(
        "The fuse is far from the battery: that length of cable has no protection. Move the fuse, "
        "or sheath the cable where local codes allow it."
    ),
    Reason.LITTLE_WATER: gettext_lazy("Too little water to show which way it runs."),
    Reason.STANDING: gettext_lazy(
        "The unit was not running, or its output was not noted. At rest the pressure shows the "
        "temperature of the air, not the charge."
    ),
    Reason.SWAPPED: gettext_lazy(
        "Suction is higher than discharge: the gauges or the two numbers are swapped."
    ),
    Reason.TOO_COLD: gettext_lazy(
        "Too cold a day for the pressures to prove anything. The weighed charge stands; read again "
        "on a warmer day."
    ),
    Reason.LOW_OUTPUT: gettext_lazy(
        "At low output the circuit shows little: read it again at mid or high output."
    ),
    Reason.NOT_RUN: gettext_lazy("Not run at this output."),
    Reason.ENGINE_RUNNING: gettext_lazy(
        "The engine was running: the alternator carried the load, not the bank. Read it again with "
        "the engine off."
    ),
    Reason.NEAR_CUTOFF: gettext_lazy(
        "The bank is close to its cutoff as soon as it works: charge it and test each battery."
    ),
    Reason.BELOW_CUTOFF: gettext_lazy(
        "The bank is under its cutoff as soon as it works: it does not carry this unit."
    ),
    Reason.DROP_AT_HIGH: gettext_lazy(
        "Within the limits at this output, but it grows with the current and would be too much at "
        "high output."
    ),
    Reason.BELOW_FLOOR: gettext_lazy(
        "The cutoff is below what this type of battery survives: set it higher."
    ),
    Reason.BELOW_USUAL: gettext_lazy(
        "The cutoff is low: the battery survives, but the engine may not start."
    ),
    Reason.HIGH_CUTOFF: gettext_lazy("The cutoff is high: the driver loses hours of cooling."),
}
