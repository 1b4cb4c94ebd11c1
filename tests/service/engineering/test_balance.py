"""The balance of the book, against a year worked by hand."""

import numpy as np
import pytest

from service.engineering.balance import COLUMNS, balance, lowest, peak_from

# Two cylinders of one refrigerant over 2024; t is the month in which it happened, years run 0 to 12.
# A: opened in November 2023 with 3,000 g and 400 g charged in December, so the year begins with
# 2,600. Bought 13,600; charged 520 and 560; added 60; poured 1,000 into B; the scale finds 30 less.
# B: comes into the book empty in March; 1,000 from A; recovered 480; sent away 700.
# By hand, A: 2,600 + 13,600 - 520 - 560 - 60 - 1,000 - 30 = 14,030. B: 0 + 1,000 + 480 - 700 = 780.
# In January 2025 A gives 500 more: the count kept now is 13,530.
LINES = [
    (0, "opening", 3_000, -1.5),
    (0, "charged", -400, -0.5),
    (0, "bought", 13_600, 1.0),
    (0, "charged", -520, 2.0),
    (0, "charged", -560, 4.0),
    (0, "added", -60, 6.0),
    (0, "decanted_out", -1_000, 7.0),
    (0, "difference", -30, 11.0),
    (0, "charged", -500, 12.5),
    (1, "opening", 0, 2.0),
    (1, "decanted_in", 1_000, 7.0),
    (1, "recovered", 480, 8.0),
    (1, "disposed", -700, 9.0),
]
A = {"held_before": 2_600, "bought": 13_600, "charged": 1_080, "added": 60}
A |= {"decanted_out": 1_000, "difference": -30, "held_after": 14_030}
B = {"decanted_in": 1_000, "recovered": 480, "disposed": 700, "held_after": 780}
HELD = [13_530, 780]


def year(lines=LINES, period=(0.0, 12.0), held=HELD):
    account, kind, mass, t = zip(*lines, strict=True)
    return balance(account, kind, mass, t, period, held)


def row(**columns):
    return [columns.get(name, 0) for name in COLUMNS]


def test_a_year_comes_out_as_by_hand():
    np.testing.assert_allclose(year(), [row(**A), row(**B)])


def test_both_together_are_their_refrigerant():
    together = [(0, *line[1:]) for line in LINES]
    sums = {name: A.get(name, 0) + B.get(name, 0) for name in COLUMNS}
    np.testing.assert_allclose(year(together, held=[sum(HELD)]), [row(**sums)])


def test_a_gram_that_nobody_wrote_down_is_left_over():
    assert year(held=[13_531, 780])[0][COLUMNS.index("residual")] == -1


def test_a_line_that_is_lost_is_left_over():
    lost = [line for line in LINES if line[1] != "bought"]
    assert year(lost)[0][COLUMNS.index("residual")] == -13_600


@pytest.mark.parametrize("middle", [0.0, 4.0, 7.0, 12.0])
def test_a_period_ends_where_the_next_begins(middle):
    first, second = year(period=(-9.0, middle)), year(period=(middle, 99.0))
    after, before = COLUMNS.index("held_after"), COLUMNS.index("held_before")
    np.testing.assert_allclose(first[:, after], second[:, before])
    assert not first[:, COLUMNS.index("residual")].any()


def test_an_empty_book_has_an_empty_balance():
    assert balance([], [], [], [], (0, 1), []).shape == (0, len(COLUMNS))


def test_the_least_ever_held_is_found_with_its_line():
    assert lowest([100, -150, 200], [1, 2, 3]) == (-50, 1)
    assert lowest([200, 100, -150], [3, 1, 2]) == (-50, 2)


def test_at_one_moment_what_comes_in_comes_first():
    assert lowest([-100, 100], [1, 1]) == (0, -1)


def test_a_cylinder_that_never_ran_short_has_no_such_line():
    assert lowest([100, -100], [1, 2]) == (0, -1)
    assert lowest([], []) == (0, -1)


def test_the_most_ever_held_counts_from_a_time():
    assert peak_from([500, -400, 100], [1, 2, 3], 0) == 500
    assert peak_from([500, -400, 100], [1, 2, 3], 3) == 200
