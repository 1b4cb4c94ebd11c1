"""What can hurt someone at a unit."""

from django.utils.translation import gettext as _

from installs.engineering.saturation import SAFETY_CLASS
from installs.models import Unit

__all__ = ["unit_cautions"]


def unit_cautions(unit: Unit) -> list[str]:
    """Return the cautions that hold at any work on a unit; what burns comes first."""
    cautions = [
        _(
            "Refrigerant is under pressure and can freeze skin: goggles and gloves; only people "
            "certified for it, by the local code, open the circuit."
        ),
        _(
            "The battery bank can weld a spanner and burst: take off rings, cover the terminals, "
            "disconnect the negative side first. Secure yourself against a fall at height."
        ),
    ]
    if unit.model.is_flammable:
        refrigerant = unit.model.refrigerant
        words = {"refrigerant": refrigerant, "class": SAFETY_CLASS[refrigerant]}
        burns = _(
            "%(refrigerant)s burns (class %(class)s): no flame, spark or smoking near it; air the "
            "place and use only tools and detectors made for it."
        )
        cautions.insert(0, burns % words)
    return cautions
