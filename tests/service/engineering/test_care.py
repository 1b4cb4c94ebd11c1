"""Care is due by months or by run hours, whichever comes first."""

from datetime import date

import pytest

from service.engineering.care import Rule, due

INSTALLED = date(2026, 1, 31)
BOTH = Rule("filter", months=3, run_hours=500)


def test_months_end_on_the_last_day_of_a_short_month():
    monthly = Rule("filter", months=1)
    assert due(monthly, INSTALLED, None, 0, INSTALLED).due_on == date(2026, 2, 28)


@pytest.mark.parametrize(("day", "is_due"), [(29, False), (30, True)])
def test_care_is_due_on_its_day_and_not_before(day, is_due):
    # 31 January and three months: the last of April.
    assert due(BOTH, INSTALLED, None, 0, date(2026, 4, day)).is_due is is_due


def test_care_is_counted_from_when_it_was_last_done():
    care = due(BOTH, INSTALLED, date(2026, 4, 10), 0, date(2026, 5, 1))
    assert (care.due_on, care.is_due) == (date(2026, 7, 10), False)


def test_hours_may_come_first():
    care = due(BOTH, INSTALLED, None, 512.5, date(2026, 2, 10))
    assert (care.left_h, care.is_due) == (0, True)


def test_months_may_come_first():
    care = due(BOTH, INSTALLED, None, 20, date(2026, 6, 1))
    assert (care.left_h, care.is_due) == (480, True)


def test_hours_alone_know_no_day():
    care = due(Rule("filter", run_hours=500), INSTALLED, None, 499.9, date(2036, 1, 1))
    assert (care.due_on, care.is_due) == (None, False)


def test_months_alone_know_no_hours():
    care = due(Rule("coils", months=6), INSTALLED, None, 9000, date(2026, 2, 10))
    assert (care.left_h, care.is_due) == (None, False)
