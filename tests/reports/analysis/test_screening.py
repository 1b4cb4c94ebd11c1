"""Screening a whole fleet against the published example, and against fleets with nothing wrong."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control

from reports.analysis.screening import benjamini_hochberg, expected_false, p_from_evidence

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


class TestEvidence:
    def test_twenty_to_one_is_a_twentieth(self):
        assert p_from_evidence(np.log(20)) == pytest.approx(0.05)

    def test_evidence_for_health_gives_no_more_than_certainty(self):
        assert p_from_evidence([-3.0, 0.0]).tolist() == [1, 1]

    def test_no_evidence_taken_stays_unknown(self):
        assert np.isnan(p_from_evidence([np.nan, 1.0])).tolist() == [True, False]

    @pytest.mark.parametrize("alpha", [0.01, 0.05, 0.2])
    def test_a_healthy_unit_looked_at_every_time_is_accused_at_most_alpha_of_the_time(self, alpha):
        # Ville's inequality: 20,000 healthy series of 60 looks, against a drift of one sigma.
        readings = np.random.default_rng(2026).normal(size=(20_000, 60))
        log_ratio = np.cumsum(readings - 0.5, axis=1)
        p = p_from_evidence(np.maximum.accumulate(log_ratio, axis=1))
        assert (p[:, -1] <= alpha).mean() <= alpha

    def test_a_drifting_unit_is_accused(self):
        readings = np.random.default_rng(2026).normal(loc=1, size=(1000, 60))
        log_ratio = np.cumsum(readings - 0.5, axis=1)
        assert (p_from_evidence(log_ratio.max(axis=1)) <= 0.01).mean() > 0.99


def test_ten_findings_at_nine_in_ten_hold_one_false_one():
    assert expected_false([0.9] * 10) == pytest.approx(1.0)
    assert expected_false([]) == 0
