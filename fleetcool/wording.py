"""Quantities as words on a screen or a page: the number, rounded as the trade reads it, and its unit."""

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from fleetcool.quantities import DECIMALS, Kind, System, shown

__all__ = ["NO_BREAK", "amount", "number"]

NO_BREAK = "\u00a0"


def amount(value: float | None, kind: Kind, unit_system: System) -> str:
    """Return a quantity given in internal units as text in a person's units, such as `45 psi`."""
    if value is None:
        return _("not taken")
    converted, unit = shown(value, kind, unit_system)
    return f"{number(converted, DECIMALS[kind, unit_system])}{NO_BREAK}{unit}"


def number(value: float, decimals: int) -> str:
    """Return a number rounded for people, with a true minus sign and no negative zero."""
    text = number_format(round(float(value), decimals) + 0.0, decimals, use_l10n=True)
    return text.replace("-", "−")
