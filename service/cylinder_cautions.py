"""What can hurt someone at a cylinder of refrigerant."""

from django.utils.translation import gettext as _

from installs.engineering.saturation import SAFETY_CLASS, is_flammable

__all__ = ["cylinder_cautions", "handling"]


def cylinder_cautions(refrigerant: str) -> list[str]:
    """Return the cautions of a cylinder of this refrigerant; what burns comes first."""
    if refrigerant not in SAFETY_CLASS or not is_flammable(refrigerant):
        return [handling()]
    words = {"refrigerant": refrigerant, "class": SAFETY_CLASS[refrigerant]}
    burns = _(
        "%(refrigerant)s burns (class %(class)s): keep the cylinder in open air, away from flame, "
        "spark and drains, and use only equipment made for it."
    )
    return [burns % words, handling()]


def handling() -> str:
    return _(
        "A cylinder can burst: chain it upright, keep it cool and never heat it with a flame, never "
        "fill it beyond its mark, wear goggles and gloves. Only people certified for it, by the "
        "local code, move refrigerant."
    )
