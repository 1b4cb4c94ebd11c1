"""What can hurt someone at a unit."""

from django.utils.translation import gettext as _

from installs.engineering.saturation import SAFETY_CLASS, is_flammable
from installs.models import Unit

__all__ = ["refrigerant_cautions", "unit_cautions"]


def unit_cautions(unit: Unit) -> list[str]:
    """Return the cautions that hold at any work on a unit; what burns comes first."""
    return refrigerant_cautions(unit.model.refrigerant)


def refrigerant_cautions(refrigerant: str | None) -> list[str]:
    """Return the cautions of a unit with this refrigerant; None where it is not known yet."""
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
    if refrigerant is None:
        unknown = _(
            "The unit is not chosen yet: before any work read the refrigerant on its plate. Until "
            "you know it does not burn, allow no flame, spark or smoking near it."
        )
        cautions.insert(0, unknown)
    elif is_flammable(refrigerant):
        words = {"refrigerant": refrigerant, "class": SAFETY_CLASS[refrigerant]}
        burns = _(
            "%(refrigerant)s burns (class %(class)s): no flame, spark or smoking near it; air the "
            "place and use only tools and detectors made for it."
        )
        cautions.insert(0, burns % words)
    return cautions
