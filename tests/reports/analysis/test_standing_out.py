"""Groups against the rest: exact bounds, the correction for many, and too few."""

import numpy as np
import pytest
from scipy.stats import poisson, poisson_means_test

from reports.analysis.standing_out import Compared, compare, corrected, poisson_bounds


@pytest.mark.parametrize(
    ("count", "low", "high"),
    # Garwood's bounds at 95 %, as in the standard tables.
    [
        (0, 0, 3.6889),
        (1, 0.0253, 5.5716),
        (2, 0.2422, 7.2247),
        (3, 0.6187, 8.7673),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
    ],
)
def test_a_count_has_garwoods_exact_bounds(count, low, high):
    assert poisson_bounds(count) == pytest.approx((low, high), abs=1e-4)


@pytest.mark.parametrize("count", [1, 4, 30])
def test_at_each_bound_the_tail_is_what_was_asked(count):
    low, high = poisson_bounds(count)
    assert poisson.sf(count - 1, low) == pytest.approx(0.025)
    assert poisson.cdf(count, high) == pytest.approx(0.025)


def test_a_rate_is_given_per_hundred_part_years():
    # Check values 5.7: 3 claims in 250 unit-years, 0.0120 a year, 0.002475 to 0.035069.
    group = Compared("L1", units=90, failures=3, expected=3.0, years=250.0)
    assert group.rate == pytest.approx(1.2)
    assert group.rate_bounds == pytest.approx((0.2475, 3.5069), abs=1e-4)


def two_lots(first: int, second: int, units: int = 40):
    """Two lots of like units under watch for a like time."""
    names = ["L1"] * units + ["L2"] * units
    failed = np.arange(units) < first
    failed = np.concatenate([failed, np.arange(units) < second])
    ones = np.ones(2 * units)
    expected = ones * (first + second) / (2 * units)
    return compare(names, np.arange(2 * units), failed, expected, ones)


def test_five_against_fifteen_on_like_time_is_the_exact_binomial_test():
    few, many = two_lots(5, 15)
    assert (few.p, many.p) == pytest.approx((0.04139, 0.04139), abs=1e-5)  # check values 5.7
    assert (few.ratio, many.ratio) == pytest.approx((1 / 3, 3))
    assert many.ratio_low > 1 > few.ratio_low
    # scipy's E-test asks the same and is no exact twin.
    assert poisson_means_test(5, 40, 15, 40).pvalue == pytest.approx(few.p, abs=0.02)


def test_a_lot_of_four_units_is_too_few_to_be_compared():
    few, other = two_lots(3, 0, units=4)
    assert few.too_few and np.isnan(few.p)
    assert not corrected([few, other])[0].stands_out


def test_one_in_no_group_is_compared_with_and_not_named():
    names = ["L1"] * 10 + [""] * 10
    ones = np.ones(20)
    told = compare(names, np.arange(20), np.arange(20) < 4, ones * 0.2, ones)
    assert [group.name for group in told] == ["L1"]
    assert told[0].p == pytest.approx(2 / 2**4)


def test_fifteen_comparisons_are_corrected_as_in_the_paper():
    # Benjamini & Hochberg 1995, the fifteen p-values; four of them at 5 %.
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240]
    p += [0.4262, 0.5719, 0.6528, 0.7590, 1.0]
    told = corrected([Compared(str(one), 9, 1, 1.0, 1.0, p=one) for one in p])
    shares = [group.p_corrected for group in told]
    assert shares[:6] == pytest.approx(
        [0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.063857], abs=1e-4
    )
    assert sum(share <= 0.05 for share in shares) == 4


def test_nothing_that_was_compared_fails_and_nothing_is_said():
    assert corrected([]) == []
    still = compare(["L1"] * 9, np.arange(9), np.zeros(9, bool), np.zeros(9), np.ones(9))
    assert not corrected(still)[0].stands_out
