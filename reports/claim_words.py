"""Sums of money and the ages of claims as words."""

from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetcool.wording import NO_BREAK

__all__ = ["days_left_text", "days_text", "sum_text"]


def sum_text(value: Decimal | None, currency: str) -> str:
    """Return a sum with its currency, such as `1,234.50 USD`; a dash for none."""
    if value is None:
        return "–"
    text = number_format(value, 2, use_l10n=True, force_grouping=True).replace("-", "−")
    return f"{text}{NO_BREAK}{currency}"


def days_text(days: int) -> str:
    return ngettext("%(n)d day", "%(n)d days", days) % {"n": days}


def days_left_text(days: int) -> str:
    """How long there is still to submit, or by how much it is too late."""
    if days < 0:
        return _("%(days)s too late") % {"days": days_text(-days)}
    return _("last day") if days == 0 else days_text(days)
