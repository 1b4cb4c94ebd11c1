"""What a clerk would say of each case, and what the rules say."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from installs.models import PartGroup
from service.engineering.coverage import EVIDENCE, Cover, Covered, Dated, assess, overall
from tests.service.coverage_cases import BASE, CASES, INSTALL, SHOP_TERMS, VOIDS, C, F, H, void

OUTCOME = {H: Covered.COVERED, F: Covered.NOT_COVERED, C: Covered.CANNOT_SAY}


def test_there_are_forty_cases_and_each_is_its_own():
    sentences = [sentence for sentence, *_rest in CASES]
    assert len(set(sentences)) == len(sentences) >= 40


@pytest.mark.parametrize(
    ("change", "code", "verdict"), [case[1:] for case in CASES], ids=[c[0] for c in CASES]
)
def test_a_case_is_as_the_clerk_says(change, code, verdict):
    assessment = assess(replace(BASE, **change))
    verdicts = {rule.code: rule.verdict for rule in assessment.rules}
    assert verdicts[code] == verdict
    # What the sentence does not name stands as in the base case, so the outcome follows from it.
    assert assessment.covered == OUTCOME[verdict]


def test_every_rule_that_fails_in_some_case_names_the_record_it_rests_on():
    silent = set()
    for _sentence, change, code, verdict in CASES:
        for rule in assess(replace(BASE, **change)).rules:
            if rule.code == code and verdict == F and not rule.rests_on:
                silent.add(code)
    # No terms are no record; what the parts came to stands on their own lines.
    assert silent == {"terms", "with_part"}


def test_one_that_fails_goes_before_one_that_cannot_be_said():
    facts = replace(BASE, **void("overcharge", None), meter_h=9000.0)
    assert assess(facts).covered == Covered.NOT_COVERED


def test_the_last_day_and_the_deadline_come_with_it():
    assessment = assess(BASE)
    assert assessment.ends_on == date(2027, 3, 4)
    assert assessment.deadline == date(2025, 7, 10)
    assert assessment.days_left(date(2025, 7, 12)) == -2


def test_every_group_of_parts_says_what_it_is_shown_with():
    assert set(EVIDENCE) == set(PartGroup.values)


@pytest.mark.parametrize(
    ("each", "of_all"),
    [
        (["covered", "covered"], "covered"),
        (["covered", "cannot_say"], "cannot_say"),
        (["cannot_say", "not_covered"], "not_covered"),
        ([], "cannot_say"),
    ],
)
def test_a_claim_is_covered_where_all_of_it_is(each, of_all):
    assert overall([Covered(one) for one in each]) == of_all


@given(
    start=st.dates(date(2000, 1, 1), date(2060, 12, 31)),
    months=st.integers(1, 120),
    late=st.booleans(),
)
def test_months_end_as_dateutil_counts_them_and_the_day_after_is_out(start, months, late):
    ends_on = start + relativedelta(months=months)
    facts = replace(
        BASE,
        installed=Dated(start, INSTALL),
        terms=replace(SHOP_TERMS, covers={"compressor": Cover(months)}),
        failed_on=ends_on + timedelta(days=late),
    )
    [rule] = [rule for rule in assess(facts).rules if rule.code == "months"]
    assert rule.numbers["ends_on"] == ends_on
    assert rule.verdict == (F if late else H)


@given(st.data())
def test_knowing_more_never_turns_an_answer_round(data):
    """A rule that cannot be said may come to hold or fail; one that is said stays as it is."""
    code = data.draw(st.sampled_from(VOIDS))
    unknown = assess(replace(BASE, **void(code, None)))
    known = assess(replace(BASE, **void(code, data.draw(st.booleans()))))
    for before, after in zip(unknown.rules, known.rules, strict=True):
        assert before.code == after.code
        if before.verdict != C:
            assert after.verdict == before.verdict
