"""What a step asks for is all that its proofs need, and nothing that they do not know."""

import pytest

from installs.engineering.acceptance import STEPS, Reason, proofs_of
from installs.engineering.proofs import Nameplate, Place
from service.measures import MEASURES, unit_label

PLATE = Nameplate("R-134a", 550, 12, 22, 36, 58, 11.2)
PLACE = Place("agm", 101.325)
ANSWERS = {"yes": True, "output": "high", "temperature": 30.0, "pressure": 300.0}


def measures(step):
    return [measure for group in MEASURES[step] for measure in group.measures]


def test_every_step_has_its_measures_in_the_order_of_the_steps():
    assert tuple(MEASURES) == STEPS


@pytest.mark.parametrize("step", STEPS)
def test_with_all_that_a_step_asks_for_no_proof_misses_anything(step):
    answered = {one.key: ANSWERS.get(one.kind, 10.0) for one in measures(step)}
    # The form counts the minutes from the two times.
    answered |= {"minutes": 30.0} if step == "evacuation" else {}
    proofs = proofs_of(step, answered, PLATE, PLACE)
    assert [proof.code for proof in proofs if proof.reason is Reason.MISSING] == []


@pytest.mark.parametrize("step", STEPS)
def test_with_nothing_answered_something_is_missing(step):
    assert Reason.MISSING in {proof.reason for proof in proofs_of(step, {}, PLATE, PLACE)}


def test_every_number_says_its_unit_and_has_bounds():
    numbers = [
        one
        for step in STEPS
        for one in measures(step)
        if one.kind not in ("yes", "text", "time", "output", "cylinder")
    ]
    assert len(numbers) > 25
    assert all(unit_label(one.kind, system) for one in numbers for system in ("us", "si"))
    assert all(one.low < one.high for one in numbers)


def test_no_name_is_asked_for_twice_in_a_step():
    for step in STEPS:
        keys = [one.key for one in measures(step)]
        assert len(keys) == len(set(keys))
