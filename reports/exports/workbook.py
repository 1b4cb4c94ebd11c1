"""The fleet workbook: this week's trucks, the records behind them, and how to read them."""

from os import PathLike
from typing import IO

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleetcool.wording import number
from installs.models import Customer
from reports.accounts import screen_account
from reports.exports import columns
from reports.exports.reading_notes import NOTES
from reports.exports.rows import Rows
from reports.exports.spreadsheet import Sheet, new_workbook, write_notes, write_table

__all__ = ["write_fleet_workbook"]


def write_fleet_workbook(
    target: str | PathLike | IO[bytes], user, *, customer: Customer | None = None
) -> dict[str, int]:
    """Write what a person sees of their fleet, of one customer or all, as an .xlsx workbook.

    Returns how many rows each sheet holds. Memory does not grow with the rows. Values are in the
    person's units, moments in the shop's time without a zone.
    """
    rows = Rows(user, customer)
    book = new_workbook(_("Fleet workbook"))
    sheets = (
        Sheet(_("This week"), columns.THIS_WEEK, rows.this_week(), _about(user, customer)),
        Sheet(_("To measure"), columns.TO_MEASURE, rows.to_measure()),
        Sheet(_("Trucks"), columns.TRUCKS, rows.trucks()),
        Sheet(_("Units"), columns.UNITS, rows.units()),
        Sheet(_("Visits"), columns.VISITS, rows.visits()),
        Sheet(_("Refrigerant"), columns.REFRIGERANT, rows.refrigerant()),
    )
    written = {sheet.title: write_table(book, sheet, user.unit_system) for sheet in sheets}
    written[_("Reading notes")] = write_notes(
        book, _("Reading notes"), _("How to read this workbook"), NOTES, user.unit_system
    )
    book.save(target)
    return written


def _about(user, customer: Customer | None) -> tuple[str, ...]:
    """What stands above this week's table: what it is, for whom, as of when, how sure."""
    account = screen_account(user, customer)
    screening = _("No screening has been run yet.")
    if account is not None:
        screening = _(
            "As of %(day)s. Units screened: %(screened)d. Findings expected to be false: %(false)s."
        ) % {
            "day": date_format(account.as_of, "Y-m-d"),
            "screened": account.units,
            "false": number(account.expected_false, 1),
        }
        if account.undecided:
            undecided = _("Units with not enough readings: %d.") % account.undecided
            screening = f"{screening} {undecided}"
    return (
        _("Trucks to bring in this week, worst first"),
        _("For: %s") % _names(user, customer),
        screening,
        _(
            "Each row has its caution. Local codes and licensed practice come first. How to read "
            "this stands on the last sheet."
        ),
    )


def _names(user, customer: Customer | None) -> str:
    if customer is not None:
        return customer.name
    if user.sees_all:
        return _("every customer")
    return ", ".join(Customer.objects.visible_to(user).values_list("name", flat=True))
