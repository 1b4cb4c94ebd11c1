"""Survival and Weibull against published examples and scipy, late entry by hand, and what must hold."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import CensoredData, ecdf, weibull_min

from reports.analysis.reliability import (
    Lifetimes,
    TooFew,
    cumulative_hazard,
    foreseen_failures,
    kaplan_meier,
    weibull,
)


def marked(text: str, censored: str = "", failed: str = "") -> Lifetimes:
    """Lifetimes as printed: a mark behind those that are censored, or behind those that failed."""
    words = text.split()
    fell = [word.endswith(failed) if failed else not word.endswith(censored) for word in words]
    return Lifetimes.of([float(word.strip("+F")) for word in words], fell)


# Freireich et al. 1963 as in Cox & Oakes 1984, table 4.1: weeks in remission.
SIX_MP = marked(
    "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+", censored="+"
)
PLACEBO = Lifetimes.of(
    [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23], [True] * 21
)
# O'Connor 1985, Meeker & Escobar 1998: km of shock absorbers, F failed.
SHOCK_ABSORBERS = marked(
    "6700F 6950 7820 8790 9120F 9660 9820 11310 11690 11850 11880 12140 12200F 12870 13150F 13330 "
    "13470 14040 14300F 17520F 17540 17890 18450 18960 18980 19410 20100F 20100 20150 20320 20900F "
    "22700F 23490 26510F 27410 27490F 27890 28100",
    failed="F",
)


def test_the_remissions_of_freireich_survive_as_published():
    survival = kaplan_meier(SIX_MP)
    assert survival.t.tolist() == [6, 7, 10, 13, 16, 22, 23]
    shares = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    assert survival.share == pytest.approx(shares, abs=5e-5)
    errors = [0.076, 0.087, 0.096, 0.107, 0.114, 0.128, 0.135]
    assert survival.error == pytest.approx(errors, abs=5e-4)
    assert survival.median == 23


def test_the_bounds_are_of_the_log_log_form():
    survival = kaplan_meier(SIX_MP)
    # lifelines' log-log bounds at six weeks; the linear form would give 0.7075 to 1.
    assert (survival.low[0], survival.high[0]) == pytest.approx((0.6197, 0.9516), abs=5e-5)


def test_with_no_censoring_the_median_is_that_of_the_sample():
    survival = kaplan_meier(PLACEBO)
    assert survival.median == 8
    assert survival.at(8) == pytest.approx(0.3810, abs=5e-5)
    assert survival.at(0.5) == 1
    # All are gone at 23 weeks: no bound of that form, so from zero to the last one.
    assert (survival.share[-1], survival.low[-1]) == (0, 0)
    assert survival.high[-1] == survival.high[-2]


def test_with_no_late_entry_it_is_scipys_own_curve():
    ours = kaplan_meier(SHOCK_ABSORBERS)
    data = CensoredData.right_censored(SHOCK_ABSORBERS.exit, ~SHOCK_ABSORBERS.failed)
    theirs = ecdf(data).sf
    bounds = theirs.confidence_interval(0.95, method="log-log")
    at = np.searchsorted(theirs.quantiles, ours.t)
    assert ours.share == pytest.approx(theirs.probabilities[at])
    assert ours.low == pytest.approx(bounds.low.probabilities[at])
    assert ours.high == pytest.approx(bounds.high.probabilities[at])


def test_the_shock_absorbers_survive_as_published():
    shares = [
        0.9737,
        0.9450,
        0.9087,
        0.8708,
        0.8273,
        0.7838,
        0.7184,
        0.6286,
        0.5388,
        0.4311,
        0.2874,
    ]
    assert kaplan_meier(SHOCK_ABSORBERS).share == pytest.approx(shares, abs=5e-5)


def test_one_who_enters_late_is_at_risk_from_then_on():
    # By hand. At 1: A, B at risk, A fails: 1/2. At 3: B, C, D: C fails: 1/2 x 2/3 = 1/3.
    late = Lifetimes.of([1, 4, 3, 5], [True, False, True, False], entry=[0, 0, 2, 2])
    survival = kaplan_meier(late)
    assert survival.at_risk.tolist() == [2, 3]
    assert survival.share == pytest.approx([1 / 2, 1 / 3])


def test_the_shock_absorbers_follow_the_published_weibull_law():
    law = weibull(SHOCK_ABSORBERS)
    assert law.scale == pytest.approx(27718.7, rel=1e-5)
    assert law.shape == pytest.approx(3.1605, rel=1e-4)
    assert law.log_likelihood == pytest.approx(-123.995, abs=1e-3)
    assert law.age_failed(0.10) == pytest.approx(13600, rel=1e-3)
    assert float(law.survival(20000)) == pytest.approx(0.7001, rel=1e-3)


def test_the_errors_of_the_law_are_those_of_meeker_and_escobar():
    law = weibull(SHOCK_ABSORBERS)
    # Table 8.1 of Meeker & Escobar 1998 gives 0.1099 for mu and 0.0731 for sigma (from memory).
    assert law.scale_error_log == pytest.approx(0.1099, abs=1e-4)
    assert law.shape_error_log / law.shape == pytest.approx(0.0731, abs=1e-4)
    assert (law.shape_low, law.shape_high) == pytest.approx((2.01, 4.97), abs=0.01)


@pytest.mark.parametrize(
    ("lifetimes", "scale", "shape", "log_likelihood"),
    [(SIX_MP, 33.765, 1.3537, -41.6587), (PLACEBO, 9.4821, 1.3705, -64.9201)],
)
def test_the_remissions_follow_the_law_that_lifelines_finds(
    lifetimes, scale, shape, log_likelihood
):
    law = weibull(lifetimes)
    assert (law.scale, law.shape) == pytest.approx((scale, shape), rel=1e-4)
    assert law.log_likelihood == pytest.approx(log_likelihood, abs=1e-4)


def test_with_no_late_entry_it_is_scipys_own_fit():
    data = CensoredData.right_censored(SIX_MP.exit, ~SIX_MP.failed)
    shape, _zero, scale = weibull_min.fit(data, floc=0)
    law = weibull(SIX_MP)
    assert (law.scale, law.shape) == pytest.approx((scale, shape), rel=1e-3)


def test_late_entry_left_out_would_make_parts_seem_to_live_longer():
    rng = np.random.default_rng(5)
    t, entry = 4 * rng.weibull(2.0, 20_000), rng.uniform(0, 6, 20_000)
    seen = t > entry
    told = weibull(Lifetimes.of(t[seen], np.ones(seen.sum(), bool), entry[seen]))
    fooled = weibull(Lifetimes.of(t[seen], np.ones(seen.sum(), bool)))
    assert (told.scale, told.shape) == pytest.approx((4, 2), rel=0.03)
    assert fooled.scale > 4.5


@pytest.mark.parametrize("failures", [0, 1, 2])
def test_of_fewer_than_three_failures_nothing_is_said(failures):
    few = Lifetimes.of([1.0, 2.0, 3.0, 3.0], [True] * failures + [False] * (4 - failures))
    with pytest.raises(TooFew):
        weibull(few)
    with pytest.raises(TooFew):
        foreseen_failures(few, few.exit, [few.exit], np.random.default_rng(1))


def test_a_lifetime_of_no_length_is_refused():
    with pytest.raises(ValueError, match="ends after it enters"):
        Lifetimes.of([2.0], [True], entry=[2.0])


def test_the_whole_of_the_lifetimes_was_to_expect_what_failed():
    late = Lifetimes.of([1, 4, 3, 5, 2], [True, False, True, True, False], entry=[0, 0, 2, 2, 1])
    assert cumulative_hazard(late, late).sum() == pytest.approx(3)


def shop(shape: float, scale: float, n: int = 4000, seed: int = 2) -> Lifetimes:
    rng = np.random.default_rng(seed)
    t, seen = scale * rng.weibull(shape, n), rng.uniform(0.1, 3, n)
    return Lifetimes.of(np.minimum(t, seen), t <= seen)


def test_a_large_shop_foresees_what_its_law_says():
    ages, year = np.full(1000, 2.0), np.full(1000, 1.0)
    (coming,) = foreseen_failures(shop(2.0, 6.0), ages, [year], np.random.default_rng(3))
    # 1 - S(3)/S(2) of that law is 12.97 %, and of the new parts one more in a thousand.
    assert coming.mean == pytest.approx(131, rel=0.1)
    assert coming.low < 131 < coming.high


def test_the_new_part_may_fail_in_the_same_window():
    # By hand, at one failure a year by chance: 1 - 1/e for the first, 1 - 2/e for the next.
    ages, year = np.zeros(500), np.ones(500)
    (coming,) = foreseen_failures(shop(1.0, 1.0), ages, [year], np.random.default_rng(5))
    assert coming.mean / 500 == pytest.approx(2 - 3 / np.e, rel=0.05)


def test_a_longer_window_holds_no_fewer_and_none_holds_none():
    parts = shop(1.3, 8.0)
    ages = np.linspace(0.1, 3, 300)
    windows = [np.zeros(300), np.full(300, 0.25), np.full(300, 0.5), np.full(300, 1.0)]
    told = foreseen_failures(parts, ages, windows, np.random.default_rng(4))
    assert told[0].high == 0
    draws = np.array([coming.draws for coming in told])
    assert (np.diff(draws, axis=0) >= 0).all()
    assert told[1].mean < told[2].mean < told[3].mean


def test_less_evidence_gives_wider_bounds():
    parts, ages = shop(1.5, 8.0), np.full(400, 1.0)
    few = parts.take(np.arange(100))
    wide, narrow = (
        foreseen_failures(of, ages, [ages], np.random.default_rng(6))[0] for of in (few, parts)
    )
    assert wide.high - wide.low > narrow.high - narrow.low


ages = st.floats(0.01, 20)
histories = st.lists(st.tuples(ages, ages, st.booleans()), min_size=1, max_size=40)


@settings(max_examples=100, deadline=None)
@given(histories)
def test_survival_falls_inside_its_bounds_from_one_towards_none(rows):
    entry, length, failed = map(np.array, zip(*rows, strict=True))
    survival = kaplan_meier(Lifetimes.of(entry + length, failed, entry))
    assert (survival.at_risk >= survival.failures).all()
    assert (np.diff(survival.share) <= 0).all()
    assert ((survival.low <= survival.share) & (survival.share <= survival.high)).all()
    assert ((survival.low >= 0) & (survival.high <= 1)).all()


@settings(max_examples=40, deadline=None)
@given(histories.filter(lambda rows: sum(row[2] for row in rows) >= 3), st.floats(0.01, 100))
def test_the_unit_of_time_changes_the_scale_alone(rows, unit):
    entry, length, failed = map(np.array, zip(*rows, strict=True))
    try:
        one = weibull(Lifetimes.of(entry + length, failed, entry))
    except TooFew:
        return
    other = weibull(Lifetimes.of((entry + length) * unit, failed, entry * unit))
    assert other.shape == pytest.approx(one.shape, rel=1e-3)
    assert other.scale == pytest.approx(one.scale * unit, rel=1e-2)


def test_lifetimes_that_settle_no_shape_are_too_few():
    with pytest.raises(TooFew):
        weibull(Lifetimes.of([1.25, 1.125, 3], [True] * 3, entry=[1, 1, 2]))
