"""Every proof and every reason has words, and the cautions stand at their step."""

import pytest

from installs.engineering.acceptance import (
    CODES,
    REFRIGERANT_STEPS,
    STEPS,
    Nameplate,
    Place,
    Reason,
    Verdict,
    proofs_of,
)
from installs.models import InstallStep
from installs.proof_mends import MENDS, mend_text
from installs.proof_words import (
    LABELS,
    REASONS,
    limits_text,
    measured_text,
    proof_label,
    reason_text,
    step_cautions,
    step_how,
    step_label,
    verdict_label,
)

PLATE = Nameplate("R-134a", 550, 12)
PLACE = Place("flooded", 101.325)


def proof(step, code, **measured):
    return next(p for p in proofs_of(step, measured, PLATE, PLACE) if p.code == code)


def test_every_proof_is_called_something_and_nothing_else_is():
    assert set(LABELS) == {code for codes in CODES.values() for code in codes}
    assert all(proof_label(code) for code in LABELS)
    assert len({proof_label(code) for code in LABELS}) == len(LABELS)


def test_every_reason_has_its_words_and_nothing_else_has():
    assert set(REASONS) == set(Reason)
    assert len({str(text) for text in REASONS.values()}) == len(Reason)


def test_where_to_look_is_said_of_proofs_that_are_and_only_once_they_fail():
    assert {code for code, _side in MENDS} <= set(LABELS)
    # 12.1 V at the bank and 11.4 V at the unit: 0.7 V are lost on the way.
    run = {"output": "high", "draw_high_a": 60, "bank_v": 12.1, "engine_running": False}
    assert "take the fuse out" in mend_text(proof("first_run", "cable_drop", **run, unit_v=11.4))
    assert mend_text(proof("first_run", "cable_drop", **run, unit_v=12.0)) == ""


def test_every_verdict_has_its_word():
    assert [verdict_label(v) for v in Verdict] == ["Proved", "Look again", "Not proved"]


def test_the_computation_and_the_record_have_the_same_steps():
    assert list(STEPS) == InstallStep.values
    assert step_label("first_run") == "First run"


def test_a_reason_gives_its_number_and_its_limit():
    short = proof("charge", "charge", charge_g=470)
    assert reason_text(short, "si") == (
        "Less than the nameplate asks for. Measured: 470\xa0g. Proves: 534\xa0g to 566\xa0g."
    )
    assert "16.6\xa0oz" in reason_text(short, "us")


def test_a_difference_of_temperatures_stays_a_difference():
    # 12 K are 21.6 °F of difference, not 53.6.
    run = proof("first_run", "supply_air_drop", output="mid", return_air_c=29, supply_air_c=17)
    assert measured_text(run, "us") == "21.6\xa0°F"


def test_a_temperature_and_a_pressure_come_in_the_person_s_units():
    assert measured_text(proof("settings", "set_point", set_point_c=20), "us") == "68.0\xa0°F"
    tested = proof("pressure_test", "test_pressure", start_kpa=1_034.2)
    assert measured_text(tested, "us") == "150.0\xa0psi"


def test_limits_say_which_side_they_bound():
    pumped = proof("evacuation", "pump_minutes", minutes=30)
    assert limits_text(pumped, "si") == "25\xa0min or more"
    vacuum = {"lowest_micron": 380, "after_micron": 620, "decay_minutes": 10}
    assert (
        limits_text(proof("evacuation", "lowest_micron", **vacuum), "us") == "500\xa0micron or less"
    )
    assert limits_text(proof("evacuation", "decay", **vacuum), "us").startswith("less than 1")
    assert limits_text(proof("mounting", "firm", firm=True), "us") == ""


def test_a_yes_a_no_and_a_blank_read_as_such():
    assert measured_text(proof("mounting", "firm", firm=True), "si") == "yes"
    assert measured_text(proof("mounting", "firm", firm=False), "si") == "no"
    assert measured_text(proof("mounting", "firm"), "si") == "not taken"


@pytest.mark.parametrize("step", STEPS)
def test_each_step_says_how_it_is_done_with_its_numbers_filled_in(step):
    how = step_how(step)
    assert len(how) >= 3
    assert not [text for text in how if "%" in text]


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("refrigerant", ["R-134a", "R-1234yf", "R-290"])
def test_each_step_warns_and_defers_to_local_codes(step, refrigerant):
    cautions = step_cautions(step, refrigerant)
    assert len(cautions) >= 2
    assert "Local codes" in cautions[-1]
    assert any("certificate" in text for text in cautions) == (step in REFRIGERANT_STEPS)


@pytest.mark.parametrize("step", sorted(REFRIGERANT_STEPS))
def test_what_burns_is_said_first(step):
    assert "burns" in step_cautions(step, "R-1234yf")[0]
    assert "burns: no flame" not in " ".join(step_cautions(step, "R-134a"))


@pytest.mark.parametrize(
    ("step", "word"),
    [
        ("mounting", "airbags"),
        ("mounting", "height"),
        ("hoses", "wiring, fuel"),
        ("pressure_test", "Never oxygen"),
        ("pressure_test", "goggles"),
        ("charge", "goggles"),
        ("supply", "negative of the battery first"),
        ("sealing", "height"),
    ],
)
def test_the_caution_stands_where_the_danger_is(step, word):
    assert word in " ".join(step_cautions(step, "R-134a"))


def test_the_order_of_work_is_safe():
    how = step_how("supply")
    assert "Disconnect the negative" in how[0]
    assert "negative last" in how[-1]
    assert "isolate the pump before you stop it" in " ".join(step_how("evacuation"))
