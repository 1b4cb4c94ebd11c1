"""What suppliers owe the shop: sent, credited, short-paid, and how long it is overdue."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from fleetcool.models import Person
from service.models import Age, ClaimStep, ClaimStepKind, Recovery, Supplier

__all__ = ["Account", "RecoveryRow", "recovery_page", "recovery_rows"]

ZERO = Decimal("0.00")
STANDINGS = {
    "owing": _("owed"),
    "short_paid": _("short-paid"),
    "credited": _("credited in full"),
    "given_up": _("given up"),
}


@dataclass(frozen=True)
class RecoveryRow:
    """One recovery as it stands on a day; `owed` is what is still to come, 0 once given up."""

    recovery: Recovery
    standing: str
    owed: Decimal
    days_late: int

    @property
    def standing_text(self) -> str:
        return str(STANDINGS[self.standing])

    @property
    def age_text(self) -> str:
        """How long it is overdue; empty where nothing is owed any more."""
        return str(Age(self.recovery.age).label) if self.owed else ""


@dataclass
class Account:
    """What one supplier owes in one currency; `overdue` has a sum for each `Age`."""

    supplier: Supplier
    currency: str
    asked: Decimal = ZERO
    credited: Decimal = ZERO
    given_up: Decimal = ZERO
    owed: Decimal = ZERO
    short_paid: int = 0
    overdue: dict[str, Decimal] = field(default_factory=lambda: dict.fromkeys(Age.values, ZERO))

    def add(self, row: RecoveryRow) -> None:
        missing = max(row.recovery.asked - row.recovery.credited, ZERO)
        self.asked += row.recovery.asked
        self.credited += row.recovery.credited
        self.owed += row.owed
        self.given_up += missing - row.owed
        self.short_paid += row.recovery.credited > 0 and missing > 0
        self.overdue[row.recovery.age] += row.owed

    @property
    def by_age(self) -> list[tuple[str, Decimal]]:
        return [(str(age.label), self.overdue[age]) for age in Age]


def recovery_rows(user: Person, today: date) -> list[RecoveryRow]:
    """Return every recovery, the longest overdue first, as it stands today. Two queries."""
    found = Recovery.objects.visible_to(user).aged(today).with_all().order_by("due_on", "pk")
    closed = _closed_claims(user)
    rows = [_row(recovery, recovery.claim_id in closed, today) for recovery in found]
    return sorted(rows, key=lambda row: (row.owed == 0, row.recovery.due_on))


def recovery_page(user: Person, today: date) -> dict[str, object]:
    rows = recovery_rows(user, today)
    accounts: dict[tuple[str, str], Account] = {}
    for row in rows:
        recovery = row.recovery
        key = recovery.supplier.name, recovery.currency
        accounts.setdefault(key, Account(recovery.supplier, recovery.currency)).add(row)
    return {
        "rows": rows,
        "accounts": [accounts[key] for key in sorted(accounts)],
        "ages": Age,
        "today": today,
    }


def _row(recovery: Recovery, is_closed: bool, today: date) -> RecoveryRow:
    if not recovery.owed:
        standing = "credited"
    elif is_closed:
        standing = "given_up"
    else:
        standing = "short_paid" if recovery.credited else "owing"
    owed = recovery.owed if standing in ("owing", "short_paid") else ZERO
    return RecoveryRow(recovery, standing, owed, max((today - recovery.due_on).days, 0))


def _closed_claims(user: Person) -> set[int]:
    """The claims whose last step closed them: what a supplier did not pay there is given up."""
    last = {}
    steps = ClaimStep.objects.visible_to(user).filter(claim__recoveries__isnull=False)
    for claim, kind in steps.order_by("position").values_list("claim", "kind"):
        last[claim] = kind
    return {claim for claim, kind in last.items() if kind == ClaimStepKind.CLOSED}
