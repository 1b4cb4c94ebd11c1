"""Screening a whole fleet against the published example, and against fleets with nothing wrong."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control

from reports.analysis.screening import benjamini_hochberg, surest

# Benjamini and Hochberg 1995, the 15 p-values of their example.
P_1995 = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240]
P_1995 += [0.4262, 0.5719, 0.6528, 0.7590, 1.0000]
ADJUSTED = [0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765, 0.4860]
ADJUSTED += [0.581182, 0.714875, 0.753231, 0.813214, 1.0]

many_p = st.lists(st.floats(0, 1), min_size=1, max_size=30)


class TestFalseDiscoveryRate:
    def test_the_published_p_values(self):
        assert benjamini_hochberg(P_1995) == pytest.approx(ADJUSTED, abs=1e-4)

    def test_four_of_the_fifteen_are_named_where_bonferroni_names_three(self):
        assert (benjamini_hochberg(P_1995) <= 0.05).sum() == 4
        assert (np.array(P_1995) * 15 <= 0.05).sum() == 3

    @given(many_p)
    def test_it_agrees_with_scipy(self, p):
        assert benjamini_hochberg(p) == pytest.approx(false_discovery_control(p))

    @given(many_p)
    def test_it_is_the_least_rate_at_which_the_step_up_rule_names_it(self, p):
        p = np.array(p)
        least = [
            min((len(p) * other / (p <= other).sum() for other in p if other >= one), default=1)
            for one in p
        ]
        assert benjamini_hochberg(p) == pytest.approx(np.minimum(least, 1))

    def test_a_test_not_made_is_not_counted(self):
        with_gaps = benjamini_hochberg([np.nan, *P_1995, np.nan])
        assert np.isnan(with_gaps[[0, -1]]).all()
        assert with_gaps[1:-1] == pytest.approx(ADJUSTED, abs=1e-4)

    def test_a_fleet_without_a_single_test(self):
        assert benjamini_hochberg([]).shape == (0,)
        assert np.isnan(benjamini_hochberg([np.nan])).all()

    def test_what_is_no_probability_is_refused(self):
        with pytest.raises(ValueError, match="between 0 and 1"):
            benjamini_hochberg([0.1, 1.2])

    def test_among_the_named_no_more_than_a_tenth_are_false_on_average(self):
        # 40 of 200 units truly drift; the share of false ones, averaged over 400 fleets.
        rng = np.random.default_rng(8)
        shares = []
        for _ in range(400):
            p = rng.uniform(size=200)
            p[:40] = rng.beta(0.1, 5, 40)
            named = benjamini_hochberg(p) <= 0.1
            shares.append(named[40:].sum() / max(named.sum(), 1))
        assert np.mean(shares) < 0.1


class TestSurest:
    def test_the_surest_are_named_while_their_mean_doubt_is_small(self):
        # Doubts 1, 5, 20 and 40 %: their running means are 1, 3, 8.7 and 16.5 %.
        assert surest([0.6, 0.99, 0.8, 0.95], 0.10).tolist() == [False, True, True, True]

    def test_nothing_below_the_least_is_named_however_sure_the_others(self):
        assert surest([0.999] * 9 + [0.45], 0.20).tolist() == [True] * 9 + [False]

    def test_a_test_not_made_is_not_named(self):
        assert surest([np.nan, 0.99], 0.10).tolist() == [False, True]

    def test_a_fleet_without_a_single_test(self):
        assert surest([], 0.10).tolist() == []

    def test_the_share_of_false_ones_is_held_where_probabilities_are_true(self):
        # Two normals a known distance apart, 1 in 10 drifting: Sun and Cai 2007, setting of 5.1.
        rng = np.random.default_rng(5)
        shares = []
        for _ in range(200):
            drifts = rng.uniform(size=500) < 0.1
            z = rng.normal(np.where(drifts, 2.5, 0.0))
            odds = 0.1 / 0.9 * np.exp(2.5 * z - 2.5**2 / 2)
            named = surest(odds / (1 + odds), 0.10, least=0.0)
            shares.append((named & ~drifts).sum() / max(named.sum(), 1))
        assert np.mean(shares) == pytest.approx(0.10, abs=0.02)
