"""Where to look when a figure of the first run lies outside its limits.

Common practice, no source: the first things to look at, not a diagnosis.
"""

from django.utils.translation import gettext_lazy as _

from installs.engineering.proofs import Proof, Reason

__all__ = ["MENDS", "mend_text"]

MORE_DRAW = _("Look whether the condenser gets air and whether something rubs in a fan.")
LESS_DRAW = _("Look whether it ran at this output, and whether the clamp meter was zeroed.")

# By the proof and the side of its limits.
MENDS = {
    ("draw_low_a", Reason.ABOVE): MORE_DRAW,
    ("draw_mid_a", Reason.ABOVE): MORE_DRAW,
    ("draw_high_a", Reason.ABOVE): MORE_DRAW,
    ("draw_low_a", Reason.BELOW): LESS_DRAW,
    ("draw_mid_a", Reason.BELOW): LESS_DRAW,
    ("draw_high_a", Reason.BELOW): LESS_DRAW,
    ("cable_drop", Reason.ABOVE): _(
        "Switch off, take the fuse out, then look at posts, crimps, fuse holder and cable gauge."
    ),
    ("bank_resistance", Reason.ABOVE): _(
        "Look at the links and posts of the bank, then test each battery alone."
    ),
    ("condensing_lift", Reason.ABOVE): _(
        "Look whether the condenser gets air: covered, dirty, or its fan stands still. Else there is "
        "too much charge, or air in the circuit."
    ),
    ("condensing_lift", Reason.BELOW): _(
        "Let it run longer with the cab warm. If it stays so, the charge may be short."
    ),
    ("evaporating_depression", Reason.ABOVE): _(
        "Look whether the cab air passes the coil freely. Else the charge is short, or something "
        "holds the refrigerant back."
    ),
    ("evaporating_depression", Reason.BELOW): _(
        "Let it run longer. If it stays so, there may be too much charge, or the compressor pumps "
        "little."
    ),
    ("supply_air_drop", Reason.BELOW): _(
        "Let it run ten minutes with the cab closed, then look at the pressures."
    ),
    ("supply_air_drop", Reason.ABOVE): _(
        "Little air may pass: look at the filter, the fan and the air outlets."
    ),
    ("superheat", Reason.ABOVE): _(
        "The charge may be short, or something holds the refrigerant back."
    ),
    ("superheat", Reason.BELOW): _(
        "Liquid may come back to the compressor: look at the air over the coil and at the charge."
    ),
    ("subcooling", Reason.ABOVE): _(
        "There may be too much charge: recover and weigh it, never let it out."
    ),
    ("subcooling", Reason.BELOW): _(
        "The charge may be short: look for a leak before more goes in."
    ),
}


def mend_text(proof: Proof) -> str:
    """Return where to look first; empty where the reason itself says it."""
    return str(MENDS.get((proof.code, proof.reason), ""))
