"""Trends against other libraries, published examples, and series whose truth is known."""

import numpy as np
import pymannkendall
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from reports.analysis.trend import trends

# EPA QA/G-9S, Data Quality Assessment: Statistical Methods for Practitioners, trend example.
EPA = [10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]


def trend_of(y, t=None, **how):
    """Return the trend of one series as plain numbers by name."""
    t = np.arange(len(y)) if t is None else t
    found = trends(np.zeros(len(y), int), t, y, **how)
    return {name: column[0] for name, column in found._asdict().items()}


class TestPublishedExamples:
    def test_the_epa_example_with_ties(self):
        found = trend_of(EPA)
        assert found["s"] == 22
        assert found["var_s"] == pytest.approx(155.333, abs=0.001)
        assert found["z"] == pytest.approx(1.68495, abs=1e-5)
        assert found["p"] == pytest.approx(0.09200, abs=1e-5)
        assert found["slope"] == pytest.approx(1.0)

    def test_a_small_set_with_ties(self):
        # pymannkendall 1.4.3 (x from 0) and scipy 1.17.1 (x from 1): the same line.
        y = [10, 22, 21, 30, 22, 30, 40, 40]
        found = trend_of(y)
        assert (found["s"], found["slope"], found["intercept"]) == pytest.approx((21, 3.9, 12.35))
        assert found["var_s"] == pytest.approx(62.3333, abs=1e-4)
        assert found["z"] == pytest.approx(2.53320, abs=1e-5)
        assert found["p"] == pytest.approx(0.011303, abs=1e-6)
        assert trend_of(y, np.arange(1, 9))["intercept"] == pytest.approx(8.45)

    def test_one_wild_reading_does_not_tilt_the_line(self):
        # A teaching set in the manner of Helsel and Hirsch, USGS (from memory); the least squares
        # slope is 1.714.
        found = trend_of([1, 2, 3, 4, 5, 16, 7], np.arange(1, 8))
        assert found["slope"] == pytest.approx(1.0)
        assert found["s"] == 19

    @pytest.mark.parametrize(
        ("n", "exact", "approximate"), [(4, 2 / 24, 0.0894), (5, 2 / 120, 0.0275)]
    )
    def test_few_readings_take_the_exact_table(self, n, exact, approximate):
        # Counting orders: n! in all, two of them perfectly monotone.
        assert trend_of(np.arange(n))["p"] == pytest.approx(exact)
        assert trend_of(np.arange(n), method="normal")["p"] == pytest.approx(
            approximate, abs=0.0001
        )

    def test_four_visits_are_never_significant(self):
        assert trend_of([1, 2, 3, 4])["p"] > 0.05
        assert trend_of([1, 2, 3, 4])["slope_low"] == -np.inf
        assert trend_of([1, 2, 3, 4])["slope_high"] == np.inf


class TestAgainstOtherLibraries:
    @pytest.mark.parametrize("n", [4, 7, 10, 11, 25, 60])
    def test_slope_interval_and_intercept_are_scipys(self, n):
        rng = np.random.default_rng(n)
        t, y = np.sort(rng.uniform(0, 3, n)), rng.normal(size=n).round(1)
        found = trend_of(y, t, method="normal", confidence=0.9)
        scipys = stats.theilslopes(y, t, alpha=0.9)
        assert [found[k] for k in ("slope", "intercept", "slope_low", "slope_high")] == (
            pytest.approx([scipys.slope, scipys.intercept, scipys.low_slope, scipys.high_slope])
        )

    @pytest.mark.parametrize("n", [3, 8, 12, 40])
    def test_the_normal_test_is_pymannkendalls(self, n):
        y = np.random.default_rng(n).normal(size=n).round(0)
        found, theirs = trend_of(y, method="normal"), pymannkendall.original_test(y)
        assert [found[k] for k in ("s", "var_s", "z", "p")] == pytest.approx(
            [theirs.s, theirs.var_s, theirs.z, theirs.p]
        )

    @pytest.mark.parametrize("n", [3, 6, 10])
    def test_the_exact_test_is_scipys_kendall_tau(self, n):
        y = np.random.default_rng(n).normal(size=n)
        assert trend_of(y)["p"] == pytest.approx(
            stats.kendalltau(np.arange(n), y, method="exact").pvalue
        )

    def test_ties_in_time_and_value_together(self):
        # Kendall's variance with both, as scipy's asymptotic tau has it (no continuity step).
        t, y = [0, 0, 1, 1, 1, 2, 3, 3, 4, 5, 6, 7], [1, 1, 2, 3, 2, 2, 3, 4, 4, 4, 5, 3]
        found = trend_of(y, t)
        theirs = stats.kendalltau(t, y, method="asymptotic").pvalue
        assert 2 * stats.norm.sf(found["s"] / found["var_s"] ** 0.5) == pytest.approx(theirs)


class TestAFleetAtOnce:
    def test_each_unit_has_its_own_line_however_long_its_series(self):
        rng = np.random.default_rng(1)
        sizes = rng.integers(2, 30, 80)
        unit = np.repeat(np.arange(80), sizes)
        t, y = rng.uniform(0, 3, len(unit)), rng.normal(size=len(unit))
        found = trends(unit, t, y)
        assert found.n.tolist() == sizes.tolist()
        for place in range(80):
            one = trends([0] * sizes[place], t[unit == place], y[unit == place])
            assert [column[place] for column in found[1:]] == pytest.approx(
                [column[0] for column in one[1:]]
            )

    def test_a_long_series_is_worked_through_in_parts(self, monkeypatch):
        rng = np.random.default_rng(2)
        unit, t = np.repeat([0, 1, 2], 20), np.tile(np.arange(20.0), 3)
        y = rng.normal(size=60)
        whole = trends(unit, t, y)
        monkeypatch.setattr("reports.analysis.trend.BLOCK", 500)
        assert all(map(np.array_equal, trends(unit, t, y), whole))

    def test_ids_come_back_in_order(self):
        assert trends([7, 3, 7, 3, 9], [0, 0, 1, 1, 0], [1, 2, 3, 4, 5]).group.tolist() == [3, 7, 9]

    def test_a_single_reading_has_no_slope(self):
        found = trends([1, 2, 2], [0, 0, 1], [5, 5, 6])
        assert found.n.tolist() == [1, 2]
        assert np.isnan([found.slope[0], found.slope_low[0], found.p[0]]).all()
        assert found.slope[1] == pytest.approx(1)

    def test_a_value_not_taken_is_left_out_and_its_unit_kept(self):
        found = trends([1, 1, 1, 2], [0, 1, 2, 0], [0.0, np.nan, 4.0, np.nan])
        assert found.n.tolist() == [2, 0]
        assert found.slope[0] == pytest.approx(2)

    def test_readings_at_one_moment_have_no_slope(self):
        found = trend_of([1.0, 2.0, 3.0], [5.0, 5.0, 5.0])
        assert np.isnan([found[k] for k in ("slope", "slope_low", "slope_high", "intercept")]).all()
        assert found["p"] == 1

    def test_readings_that_never_change_show_no_trend(self):
        found = trend_of([12.6] * 12)
        assert (found["slope"], found["s"], found["p"]) == (0, 0, 1)

    def test_no_readings_at_all(self):
        assert trends([], [], []).slope.shape == (0,)


class TestTruthKnown:
    @pytest.mark.parametrize("n", [6, 10, 15])
    def test_the_interval_covers_the_true_slope_as_often_as_it_says(self, n):
        rng = np.random.default_rng(n)
        t = rng.uniform(0, 3, (4000, n))
        y = 1.5 * t + rng.standard_t(3, (4000, n))
        found = trends(np.repeat(np.arange(4000), n), t.ravel(), y.ravel())
        covered = ((found.slope_low <= 1.5) & (found.slope_high >= 1.5)).mean()
        assert 0.94 < covered < 0.99

    @pytest.mark.parametrize("n", [5, 10, 14])
    def test_where_nothing_drifts_p_is_below_a_twentieth_at_most_that_often(self, n):
        rng = np.random.default_rng(n)
        y = rng.normal(size=(4000, n))
        found = trends(np.repeat(np.arange(4000), n), np.tile(np.arange(n), 4000), y.ravel())
        assert (found.p <= 0.05).mean() < 0.06


# Whole numbers keep the arithmetic exact, so that equal stays equal.
readings = st.lists(st.tuples(st.integers(0, 40), st.integers(-50, 50)), min_size=2, max_size=14)


class TestWhatHoldsForEverySeries:
    @given(readings, st.randoms())
    def test_the_order_of_rows_does_not_matter(self, rows, random):
        mixed = random.sample(rows, len(rows))
        (t, y), (mixed_t, mixed_y) = zip(*rows, strict=True), zip(*mixed, strict=True)
        assert trend_of(mixed_y, mixed_t) == pytest.approx(trend_of(y, t), nan_ok=True)

    @given(readings, st.integers(-1000, 1000))
    def test_a_constant_moves_the_intercept_alone(self, rows, constant):
        t, y = np.array(rows).T
        before, after = trend_of(y, t), trend_of(y + constant, t)
        before["intercept"] += constant
        assert after == pytest.approx(before, nan_ok=True)

    @given(readings, st.sampled_from([0.25, 2, 8]))
    def test_another_unit_scales_the_line_and_leaves_p(self, rows, scale):
        t, y = np.array(rows).T
        before, after = trend_of(y, t), trend_of(y * scale, t)
        for name in ("slope", "slope_low", "slope_high", "intercept"):
            before[name] *= scale
        assert after == pytest.approx(before, nan_ok=True)

    @given(readings)
    def test_turned_upside_down_it_falls_as_it_rose(self, rows):
        t, y = np.array(rows).T
        up, down = trend_of(y, t), trend_of(-y, t)
        assert down["s"] == -up["s"]
        assert down["p"] == up["p"]
        assert down["slope"] == pytest.approx(-up["slope"], nan_ok=True)
        assert down["slope_low"] == pytest.approx(-up["slope_high"], nan_ok=True)
