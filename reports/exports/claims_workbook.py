"""The clerk's workbook: every claim with its lines and steps, what suppliers owe, and ageing."""

from collections.abc import Iterator
from datetime import date
from os import PathLike
from typing import IO

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from fleetcool.models import Person
from reports.claim_list import (
    age_days,
    claim_rows,
    deadline_of,
    granted,
    groups_of,
    totals,
    truck_of,
    waits_days,
)
from reports.claim_recovery import recovery_rows
from reports.claim_rules import rule_cited
from reports.exports.columns import Column
from reports.exports.spreadsheet import Sheet, new_workbook, write_notes, write_table
from service.models import Claim, ClaimState

__all__ = ["AGES", "write_claims_workbook"]

CLAIM = Column(gettext_lazy("Claim"), width=12)
SERIAL = Column(gettext_lazy("Unit serial"), width=14)
CUSTOMER = Column(gettext_lazy("Customer"), width=26)
CURRENCY = Column(gettext_lazy("Currency"), width=9)
STATE = Column(gettext_lazy("State"), width=22)
# Days since the logging, up to and with; older ones come last.
AGES = (30, 60, 90)


def write_claims_workbook(
    target: str | PathLike | IO[bytes], user: Person, today: date
) -> dict[str, int]:
    """Write all claims that a person sees as an .xlsx workbook; return the rows of each sheet."""
    system = user.unit_system
    claims = list(claim_rows(user))
    book = new_workbook(_("Claims"))
    about = write_notes(book, _("About"), _("Claims"), _about(today), system)
    written = {_("About"): about}
    for sheet in (
        Sheet(_("Claims"), _claim_columns(), _claims(claims, today)),
        Sheet(_("Lines"), _line_columns(), _lines(claims)),
        Sheet(_("Steps"), _step_columns(), _steps(claims)),
        Sheet(_("Recovery"), _recovery_columns(), _recoveries(user, today)),
        Sheet(_("Ageing"), _ageing_columns(), _ageing(claims, today)),
    ):
        written[sheet.title] = write_table(book, sheet, system)
    book.save(target)
    return written


def _claims(claims: list[Claim], today: date) -> Iterator[tuple]:
    for claim in claims:
        deadline, last = deadline_of(claim), claim.last_step
        is_draft = claim.state == ClaimState.DRAFT
        yield (
            claim.number,
            claim.unit.serial,
            claim.unit.model.name,
            claim.customer and claim.customer.name,
            truck_of(claim),
            claim.failed_on,
            ", ".join(groups_of(claim)),
            claim.words,
            str(claim.terms or ""),
            capfirst(claim.state.label),
            last and last.day,
            age_days(claim, today),
            waits_days(claim, today),
            deadline,
            (deadline - today).days if deadline and is_draft else None,
            claim.currency,
            claim.asked,
            claim.approved,
            str(_name(claim.logged_by)),
            claim.logged_at,
        )


def _lines(claims: list[Claim]) -> Iterator[tuple]:
    for claim in claims:
        approved = granted(claim)
        for line in claim.lines.all():
            yield (
                claim.number,
                claim.unit.serial,
                capfirst(line.get_kind_display()),
                capfirst(line.get_part_group_display()),
                line.name,
                line.serial_out,
                line.serial_in,
                line.quantity,
                claim.currency,
                line.unit_price,
                line.amount,
                approved.get(line.pk),
            )


def _steps(claims: list[Claim]) -> Iterator[tuple]:
    for claim in claims:
        for step in claim.steps.all():
            yield (
                claim.number,
                step.position,
                capfirst(step.get_kind_display()),
                step.at,
                str(_name(step.by)),
                step.why,
                rule_cited(step),
                claim.currency if step.amount is not None else None,
                step.amount,
            )


def _recoveries(user: Person, today: date) -> Iterator[tuple]:
    for row in recovery_rows(user, today):
        one = row.recovery
        yield (
            one.claim.number,
            one.claim.unit.serial,
            one.supplier.name,
            one.reference,
            one.sent_on,
            one.due_on,
            one.currency,
            one.asked,
            one.credited,
            row.owed,
            capfirst(row.standing_text),
            capfirst(row.age_text),
            row.days_late if row.owed else None,
        )


def _ageing(claims: list[Claim], today: date) -> Iterator[tuple]:
    """Claims that are not closed, by state and by how long ago they were logged."""
    for state in ClaimState:
        if state == ClaimState.CLOSED:
            continue
        for low, high in zip((-1, *AGES), (*AGES, None), strict=True):
            aged = [
                claim
                for claim in claims
                if claim.state == state
                and age_days(claim, today) > low
                and (high is None or age_days(claim, today) <= high)
            ]
            for total in totals(aged):
                words = (
                    _("over %(days)d") % {"days": low}
                    if high is None
                    else _("%(low)d to %(high)d") % {"low": low + 1, "high": high}
                )
                yield (
                    capfirst(state.label),
                    words,
                    total.claims,
                    total.currency,
                    total.asked,
                    total.approved,
                )


def _name(person: Person) -> str:
    return person.get_full_name() or person.get_username()


def _about(today: date) -> list[tuple[str, str]]:
    return [
        (_("As of"), f"{today:%Y-%m-%d}"),
        (
            _("Claims"),
            _(
                "One row is one visit that is claimed. Asked is the sum of its lines, each rounded "
                "to the hundredth; approved is the sum of the decision that stands, empty where "
                "none does. Sums of different currencies are never added."
            ),
        ),
        (
            _("Days left"),
            _(
                "Until the last day to submit: the day of the failure and the days that the terms "
                "give. Below 0 it is too late. Empty once it is submitted."
            ),
        ),
        (
            _("Steps"),
            _(
                "Every step as it was taken; none is ever changed. A claim that is opened again "
                "keeps what was decided before."
            ),
        ),
        (
            _("Recovery"),
            _(
                "What was asked of suppliers, what they credited, and what they still owe. On a "
                "closed claim the rest is given up and no longer owed."
            ),
        ),
        (_("Ageing"), _("Claims that are not closed, by the days since each was logged.")),
    ]


def _money(name) -> Column:
    return Column(name, "money", 13)


def _claim_columns() -> tuple[Column, ...]:
    return (
        CLAIM,
        SERIAL,
        Column(_("Model"), width=14),
        CUSTOMER,
        Column(_("Truck"), width=20),
        Column(_("Failed on"), "date", 11),
        Column(_("Part groups"), "prose", 20),
        Column(_("What failed"), "prose", 34),
        Column(_("Terms"), width=26),
        STATE,
        Column(_("Last step on"), "date", 11),
        Column(_("Age, days"), "count", 9),
        Column(_("In this state, days"), "count", 10),
        Column(_("To submit by"), "date", 11),
        Column(_("Days left"), "count", 9),
        CURRENCY,
        _money(_("Asked")),
        _money(_("Approved")),
        Column(_("Logged by"), width=18),
        Column(_("Logged at"), "moment", 17),
    )


def _line_columns() -> tuple[Column, ...]:
    return (
        CLAIM,
        SERIAL,
        Column(_("Kind"), width=12),
        Column(_("Part group"), width=18),
        Column(_("What"), "prose", 30),
        Column(_("Serial out"), width=16),
        Column(_("Serial in"), width=16),
        Column(_("Quantity"), "quantity", 10),
        CURRENCY,
        _money(_("Price of one")),
        _money(_("Asked")),
        _money(_("Approved")),
    )


def _step_columns() -> tuple[Column, ...]:
    return (
        CLAIM,
        Column(_("Number"), "count", 9),
        Column(_("Step"), width=26),
        Column(_("At"), "moment", 17),
        Column(pgettext("who", "By"), width=18),
        Column(_("Why"), "prose", 40),
        Column(_("Rule"), width=26),
        CURRENCY,
        _money(_("Amount")),
    )


def _recovery_columns() -> tuple[Column, ...]:
    return (
        CLAIM,
        SERIAL,
        Column(_("Supplier"), width=26),
        Column(_("Their reference"), width=16),
        Column(_("Sent on"), "date", 11),
        Column(_("Due on"), "date", 11),
        CURRENCY,
        _money(_("Asked")),
        _money(_("Credited")),
        _money(_("Owed")),
        Column(_("How it stands"), width=18),
        Column(_("Overdue"), width=26),
        Column(_("Days overdue"), "count", 9),
    )


def _ageing_columns() -> tuple[Column, ...]:
    return (
        STATE,
        Column(_("Days since it was logged"), width=14),
        Column(_("Claims"), "count", 9),
        CURRENCY,
        _money(_("Asked")),
        _money(_("Approved")),
    )
