"""Run hours from the nights on record."""

from datetime import date, timedelta

import numpy as np
import pytest

from service.engineering.run_hours import Night, RunHours, run_hours

START = date(2025, 1, 1)


def at(*hours: float, every: int = 1) -> list[Night]:
    return [Night(START + timedelta(days=every * n), run_h) for n, run_h in enumerate(hours)]


def test_nights_that_are_all_on_record_are_summed_and_certain():
    assert run_hours(at(8, 9, 10), START, START + timedelta(days=2)) == (27, 27, 27, 3, 0)


def test_two_rests_of_one_day_are_one_day():
    nights = [Night(START, 4.0), Night(START, 5.0)]
    assert run_hours(nights, START, START) == (9, 9, 9, 1, 0)


def test_nights_before_and_after_do_not_count():
    nights = [Night(START - timedelta(days=1), 9.0), *at(8), Night(START + timedelta(days=1), 9.0)]
    assert run_hours(nights, START, START).low_h == 8


def test_unseen_days_may_be_nights_off_or_at_the_mean_rate():
    """By hand: mean 9, s = 1, 3 seen and 7 unseen; t(0.95, 2) = 2.920 (any table of Student's t).

    27 + 7 × 9 = 90, and 2.920 × sqrt(7 + 49 / 3) = 14.10 beyond it.
    """
    ran = run_hours(at(8, 9, 10), START, START + timedelta(days=9))
    assert (ran.low_h, ran.middle_h, ran.seen_days, ran.unseen_days) == (27, 90, 3, 7)
    assert ran.high_h == pytest.approx(104.10, abs=0.01)


def test_two_nights_are_no_rate():
    ran = run_hours(at(8, 9), START, START + timedelta(days=9))
    assert (ran.low_h, ran.middle_h, ran.high_h) == (17, None, 17 + 8 * 24)


def test_a_unit_does_not_run_more_than_a_day_has_hours():
    ran = run_hours(at(24, 24, 12), START, START + timedelta(days=3))
    assert ran.high_h == 60 + 24


def test_a_meter_bounds_what_the_nights_leave_open():
    ran = RunHours(10, 50, 90, 5, 20).at_most(40)
    assert (ran.low_h, ran.middle_h, ran.high_h) == (10, 40, 40)


def test_what_it_ran_is_above_the_upper_bound_once_in_twenty():
    """Simulated: nights alike, a third of them on record."""
    rng = np.random.default_rng(6)
    end, above = START + timedelta(days=59), 0
    for _trial in range(1000):
        hours = np.clip(rng.normal(9, 2, size=60), 0, 24)
        seen = rng.choice(60, size=20, replace=False)
        nights = [Night(START + timedelta(days=int(day)), float(hours[day])) for day in seen]
        above += hours.sum() > run_hours(nights, START, end).high_h
    # Binomial: 50 in 1000, and three standard deviations of 6.9.
    assert 29 <= above <= 71
