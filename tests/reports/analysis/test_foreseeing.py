"""What a measurement still to be made would tell of a unit in doubt, and what is asked for that."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import xlogy
from scipy.stats import norm

from reports.analysis import asking
from reports.analysis.asking import LEAST_BITS, LEAST_SURE, MEASURES, asks, doubt_bits
from reports.analysis.families import weigh_banks, weigh_pressures
from reports.analysis.foreseeing import Foreseen, foreseen
from reports.analysis.toppings import additions
from reports.analysis.verdicts import screen
from tests.reports.analysis.fleets import START_T, fleet, shift, since

ONSET_T = START_T + 0.9
UNIT = 5


def doubtful_leak(lift_k=-1.1, depression_k=1.4, device="valve", **options):
    """A fleet with one unit that drifts as a leak does, too little to be sure of."""
    frames = fleet(**options)
    frames.units["expansion"] = device
    years = since(frames, UNIT, ONSET_T)
    shift(frames, UNIT, lift_k=lift_k * years, depression_k=depression_k * years, from_t=ONSET_T)
    return frames


def doubtful_bank(milliohm=1.1, rest_v=0.035):
    frames = fleet()
    rows = (frames.readings["unit"] == UNIT) & (frames.readings["t"] >= ONSET_T)
    years = since(frames, UNIT, ONSET_T)
    frames.readings.loc[rows, "rest_v"] -= rest_v * years
    frames.readings.loc[rows, "load_v"] -= (rest_v + 36 * milliohm / 1000) * years
    return frames


def asked(frames, unit=UNIT):
    return [ask for ask in screen(frames, ask=True).asks if ask.unit == unit]


def circuit(frames):
    return weigh_pressures(frames, additions(frames))[0]


def two_causes(mean: tuple[float, float], noise: float, share: float = 0.5) -> Foreseen:
    """One value to come of a unit that has one of two causes."""
    return Foreseen(
        mean=np.array(mean)[None, None, None],
        variance=np.full((1, 1, 1, 2), noise**2),
        weight=np.array([[1 - share, share]]),
        cause=np.array([[0, 1]]),
        causes=2,
    )


def bits_of(posterior, at: list[int], read: tuple[str, ...], months=(0,)) -> np.ndarray:
    """What a measure tells of the units in these rows, (units, dates)."""
    ahead = foreseen(posterior, np.array(at), list(read), np.array(months) / 12)
    return asking._bits(ahead, [list(range(len(read)))])[:, 0]


# What is asked.


def test_the_more_likely_the_leak_the_sooner_the_visit():
    [hinted], [likely] = asked(doubtful_leak(-1.1, 1.4)), asked(doubtful_leak(-2.0, 2.5))
    assert likely.probability > hinted.probability
    assert likely.by_t < hinted.by_t


def test_the_bank_is_measured_where_the_bank_is_in_doubt():
    [ask] = asked(doubtful_bank())
    assert (ask.measure, ask.cause) == ("rest_and_load", "battery_wear")


def test_nothing_is_asked_where_no_cause_is_in_question():
    posterior = circuit(fleet())
    sound = posterior.probability.max(axis=1) < LEAST_SURE
    assert sound.sum() > 20
    assert asks(posterior, sound) == []


def test_a_unit_in_no_truck_is_asked_nothing():
    frames = doubtful_leak()
    frames.installs.loc[frames.installs["unit"] == UNIT, "removed_t"] = frames.as_of_t - 0.01
    assert asked(frames) == []


# What a measure tells.


def test_subcooling_tells_of_a_leak_past_a_valve_and_superheat_past_an_orifice():
    """Which moves first: Rossi and Braun 1997; Breuker and Braun 1998, as in causes.py."""
    told = {}
    for device in ("valve", "orifice"):
        posterior = circuit(doubtful_leak(-1.5, 2.0, device))
        told[device] = {
            name: bits_of(posterior, [UNIT], (name,))[0, 0]
            for name in ("subcooling_k", "superheat_k")
        }
    assert told["valve"]["subcooling_k"] > 5 * told["valve"]["superheat_k"]
    assert told["orifice"]["superheat_k"] > told["orifice"]["subcooling_k"]


def test_a_leak_shows_more_the_longer_one_waits():
    posterior = circuit(doubtful_leak())
    now, later = bits_of(posterior, [UNIT], asking.CIRCUIT["gauges"], (0, 6))[0]
    assert later > now


def test_more_is_told_by_more_features():
    posterior = circuit(doubtful_leak())
    at = list(range(30))
    fewer = bits_of(posterior, at, asking.CIRCUIT["gauges"])
    more = bits_of(posterior, at, asking.CIRCUIT["pipe_temperatures"])
    # Within what the draws can tell.
    assert (more > fewer - 0.03).all()


def test_a_weighed_charge_tells_a_leak_from_dirt_but_not_dirt_from_a_restriction():
    ahead = two_causes(mean=(0.15, 0.0), noise=0.03)
    same = two_causes(mean=(0.0, 0.0), noise=0.03)
    assert asking._bits(ahead, [[0]])[0, 0, 0] > 0.95
    assert asking._bits(same, [[0]])[0, 0, 0] == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("apart", "share"), [(0.5, 0.5), (1.0, 0.2), (2.0, 0.35), (4.0, 0.5)])
def test_the_drawn_bits_are_those_of_the_integral(apart, share):
    """Mutual information of two normals' label and value, by its definition (Lindley 1956)."""
    ahead = two_causes(mean=(0.0, apart), noise=1.0, share=share)

    def entropy_after(y):
        joint = np.array([(1 - share) * norm.pdf(y), share * norm.pdf(y, apart)])
        return -xlogy(joint, joint / joint.sum()).sum()

    before = -xlogy([share, 1 - share], [share, 1 - share]).sum()
    bits = (before - quad(entropy_after, -9, 9 + apart)[0]) / np.log(2)
    assert asking._bits(ahead, [[0]])[0, 0, 0] == pytest.approx(bits, abs=0.03)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(-6, 6), min_size=4, max_size=4),
    st.lists(st.floats(0.02, 3), min_size=4, max_size=4),
    st.lists(st.floats(0.01, 1), min_size=4, max_size=4),
)
def test_information_is_never_negative_nor_more_than_the_doubt_there_is(mean, sd, weight):
    weight = np.array(weight) / np.sum(weight)
    ahead = Foreseen(
        mean=np.array(mean)[None, None, None],
        variance=np.array(sd)[None, None, None] ** 2,
        weight=weight[None],
        cause=np.array([[0, 0, 1, 2]]),
        causes=3,
    )
    doubt = doubt_bits(np.array([[weight[:2].sum(), weight[2]]]))
    assert 0 <= asking._bits(ahead, [[0]]) <= doubt + 1e-6


def test_every_ask_tells_something_and_no_more_than_the_doubt_there_is():
    frames = fleet(visits=4, years=2.5)
    told = [ask for ask in screen(frames, ask=True).asks if ask.cause]
    assert told
    for ask in told:
        assert LEAST_BITS * asking.AS_GOOD**2 <= ask.bits <= ask.doubt_bits
        assert ask.measure in MEASURES


# What it hangs on.


def test_no_answer_hangs_on_who_else_is_asked():
    posterior = circuit(doubtful_leak())
    everyone, alone = np.ones(30, dtype=bool), np.arange(30) == UNIT
    [ask] = asks(posterior, alone)
    assert ask in asks(posterior, everyone)


def test_a_sound_unit_is_foreseen_at_its_own_level_drawn_to_its_group():
    posterior = circuit(doubtful_leak())
    told = posterior.told[posterior.told["unit"] == UNIT]
    lift = told[told["feature"] == "condensing_lift_k"]
    ahead = foreseen(posterior, np.array([UNIT]), ["condensing_lift_k"], np.array([0.0]))
    weight = (lift["weight"] / lift["noise"] ** 2).to_numpy()
    precision = weight.sum() + 1 / lift["spread"].iloc[0] ** 2
    # A normal level with a normal prior: Gelman et al., Bayesian Data Analysis, section 2.5.
    assert ahead.mean[0, 0, 0, -1] == pytest.approx((weight * lift["r"]).sum() / precision)
    own_noise = lift["noise"].iloc[0] ** 2
    assert ahead.variance[0, 0, 0, -1] == pytest.approx(own_noise + 1 / precision, rel=0.2)


def test_the_rest_voltage_of_a_flat_bank_is_not_asked_for():
    """The voltage of lithium iron phosphate is flat over most of its charge: common knowledge."""
    frames = fleet()
    frames.banks["battery_type"] = "lifepo4"
    bank = weigh_banks(frames)
    ahead = foreseen(bank, np.array([UNIT]), ["rest_v", "resistance_mohm"], np.array([0.0]))
    noise = np.sqrt(ahead.variance[0, :, 0, -1])
    assert noise[0] > 100 and noise[1] < 1
