"""How much of a fleet was screened, and how far to trust it, in the terms of the person who asks."""

from datetime import date
from typing import NamedTuple

from installs.models import Customer, Install
from reports.analysis.screening import expected_false
from reports.models import Finding, ScreenRun

__all__ = ["Account", "screen_account"]


class Account(NamedTuple):
    """`undecided` is None where only a part of the fleet is asked about: a run counts it whole."""

    as_of: date
    units: int
    undecided: int | None
    expected_false: float


def screen_account(user, customer: Customer | None = None) -> Account | None:
    """Return the account of the newest screening; of a fleet manager's or one customer's own part.

    None before the first screening.
    """
    run = ScreenRun.objects.first()
    if run is None:
        return None
    if user.sees_all and customer is None:
        return Account(run.as_of, run.units_screened, run.units_undecided, run.expected_false)
    installs = Install.objects.visible_to(user).on(run.as_of)
    findings = Finding.objects.visible_to(user).filter(run=run)
    if customer is not None:
        installs, findings = installs.filter(customer=customer), findings.filter(customer=customer)
    doubts = list(findings.values_list("probability", flat=True))
    units = installs.values("unit").distinct().count()
    return Account(run.as_of, units, None, expected_false(doubts))
