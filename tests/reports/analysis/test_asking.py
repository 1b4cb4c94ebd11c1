"""What to measure next of a unit in doubt."""

import numpy as np
import pytest

from reports.analysis.verdicts import screen
from tests.reports.analysis.fleets import fleet, shift

DOUBTFUL_K, PLAIN_K = 2.6, 4.0


def doubted(depression_k: float = DOUBTFUL_K, expansion: str = ""):
    """A fleet whose unit 3 lately reads a little as a leak does, on its gauges alone."""
    frames = fleet()
    frames.units["expansion"] = expansion
    shift(frames, 3, lift_k=-0.6 * depression_k, depression_k=depression_k, from_t=25.2)
    return frames


def asked_of(frames, unit=3):
    return next((ask for ask in screen(frames, ask=True).asks if ask.unit == unit), None)


@pytest.mark.parametrize("expansion", ["", "valve"])
def test_pipe_temperatures_settle_what_gauges_leave_in_doubt(expansion):
    ask = asked_of(doubted(expansion=expansion))
    assert (ask.measure, ask.cause) == ("pipe_temperatures", "refrigerant_leak")


def test_nothing_is_asked_of_a_unit_that_is_named():
    frames = doubted(PLAIN_K)
    assert 3 in {found.unit for found in screen(frames).findings}
    assert asked_of(frames) is None


def test_hardly_anything_is_asked_of_a_sound_fleet_with_many_readings():
    assert len(screen(fleet(), ask=True).asks) <= 2


def test_no_measurement_tells_more_than_there_is_to_know():
    asks = [ask for k in (2.2, 2.6, 3.2) for ask in screen(doubted(k), ask=True).asks]
    assert asks
    assert all(0 < ask.bits <= ask.doubt_bits for ask in asks)


def test_an_ask_comes_at_a_date_that_is_still_to_come():
    frames = doubted()
    assert frames.as_of_t <= asked_of(frames).by_t <= frames.as_of_t + 0.5 + 1e-9


def test_the_order_of_rows_changes_no_ask():
    frames, mixed = doubted(), doubted()
    mixed.readings = mixed.readings.sample(frac=1, random_state=1)
    one, other = asked_of(frames), asked_of(mixed)
    assert (one.measure, one.by_t) == (other.measure, other.by_t)
    assert one.bits == pytest.approx(other.bits, abs=1e-6)


def test_of_a_unit_with_too_few_readings_a_reading_is_asked():
    frames = fleet(visits=1, years=0.3)
    screened = screen(frames, ask=True)
    assert screened.undecided_units == tuple(range(30))
    assert {ask.unit for ask in screened.asks} == set(range(30))
    assert all(ask.cause == "" and np.isclose(ask.by_t, frames.as_of_t) for ask in screened.asks)
