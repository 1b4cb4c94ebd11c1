"""When recurring care is due: by months or by run hours, whichever comes first."""

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from dateutil.relativedelta import relativedelta

__all__ = ["Care", "Rule", "due"]


@dataclass(frozen=True)
class Rule:
    """How often a task is due; at least one of months and run hours is given."""

    task: str
    months: int | None = None
    run_hours: int | None = None


class Care(NamedTuple):
    """How a task stands on a day; `due_on` and `left_h` are None where its rule counts no such."""

    task: str
    last_done: date | None
    due_on: date | None
    left_h: float | None
    is_due: bool


def due(rule: Rule, installed_on: date, last_done: date | None, run_h: float, today: date) -> Care:
    """Say how a task stands: counted from when it was last done, else from the install.

    `run_h` are the run hours on record since then. 31 January + 1 month is the last of February.
    """
    due_on = left_h = None
    if rule.months is not None:
        due_on = (last_done or installed_on) + relativedelta(months=rule.months)
    if rule.run_hours is not None:
        left_h = max(rule.run_hours - run_h, 0.0)
    is_due = (due_on is not None and due_on <= today) or left_h == 0
    return Care(rule.task, last_done, due_on, left_h, is_due)
