"""The life of a concern: begun by the screen, taken further by people, settled at the truck."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from reports.concerns import tie_to_concerns
from reports.models import Cause, Concern, ConcernStep, Finding, Step
from tests.factories import (
    ConcernFactory,
    FindingFactory,
    InstallFactory,
    ScreenRunFactory,
    TractorFactory,
    VisitFactory,
)

MORNING = datetime(2025, 9, 2, 15, tzinfo=UTC)
TODAY = date(2025, 9, 2)
TOMORROW = date(2025, 9, 3)


@pytest.fixture
def concern(db):
    return ConcernFactory()


def screened(day: date, *installs, cause=Cause.REFRIGERANT_LEAK, replaces=None) -> list[Finding]:
    """A run for a day that says the same cause of each of these installs."""
    if replaces is not None:
        replaces.delete()
    finished = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    run = ScreenRunFactory(as_of=day, finished_at=finished)
    findings = [FindingFactory.build(run=run, install=one, cause=cause) for one in installs]
    tie_to_concerns(run, findings)
    return Finding.objects.bulk_create(findings)


# What people do with it.


def test_a_concern_is_new_until_someone_takes_it_in_hand(concern, tomas):
    assert concern.last_step is None
    concern.acknowledge(tomas, at=MORNING)
    assert concern.last_step.what == Step.ACKNOWLEDGED
    assert concern.is_open


def test_no_one_takes_in_hand_what_someone_has(concern, tomas, olga):
    concern.acknowledge(tomas, at=MORNING)
    with pytest.raises(ValidationError, match="in hand already"):
        concern.acknowledge(olga, at=MORNING)


def test_it_is_put_off_for_a_reason_until_a_day_to_come(concern, frida):
    step = concern.put_off(frida, "Truck is in Oregon", TOMORROW, at=MORNING)
    assert (step.words, step.until, concern.is_open) == ("Truck is in Oregon", TOMORROW, True)


@pytest.mark.parametrize(("words", "until"), [("", TOMORROW), ("Busy", TODAY), ("Busy", None)])
def test_it_is_not_put_off_without_a_reason_or_a_day_to_come(concern, frida, words, until):
    with pytest.raises(ValidationError):
        concern.put_off(frida, words, until, at=MORNING)
    assert not concern.steps.exists()


def test_it_is_booked_for_today_or_later(concern, olga):
    assert concern.book(olga, TODAY, at=MORNING).booked_for == TODAY
    with pytest.raises(ValidationError, match="today or a day to come"):
        concern.book(olga, TODAY - timedelta(days=1), at=MORNING)


def test_a_cause_found_and_mended_confirms_and_settles_it(concern, tomas):
    concern.found(tomas, concern.cause, TODAY, mended=True, at=MORNING)
    concern.refresh_from_db()
    assert (concern.last_step.what, concern.settled_on) == (Step.CONFIRMED, TODAY)


def test_a_cause_found_and_not_mended_stays_open_until_it_is(concern, tomas):
    concern.found(tomas, concern.cause, TODAY, at=MORNING)
    assert (concern.last_step.what, concern.is_open) == (Step.CONFIRMED, True)
    concern.found(tomas, concern.cause, TODAY, mended=True, at=MORNING + timedelta(hours=3))
    assert not concern.is_open


@pytest.mark.parametrize("found", [Cause.BATTERY_WEAR, "nothing_wrong"])
def test_anything_else_found_refutes_and_settles_it(concern, tomas, found):
    concern.found(tomas, found, TODAY, at=MORNING)
    assert (concern.last_step.what, concern.settled_on) == (Step.REFUTED, TODAY)


def test_something_else_is_said_in_words(concern, tomas):
    with pytest.raises(ValidationError, match="in words what was found"):
        concern.found(tomas, "something_else", TODAY, at=MORNING)
    concern.found(tomas, "something_else", TODAY, words="Bunk vent taped shut", at=MORNING)
    assert concern.last_step.what == Step.REFUTED


def test_what_was_found_at_a_visit_was_found_on_its_day(concern, tomas):
    install = concern.unit.installs.get()
    visit = VisitFactory(install=install, at=datetime(2025, 9, 2, 3, tzinfo=UTC))
    step = concern.found(tomas, concern.cause, visit=visit, at=MORNING)
    # 3 h UTC is the evening before in the shop's own zone, America/Chicago.
    assert step.found_on == date(2025, 9, 1)


def test_a_visit_to_another_unit_settles_nothing(concern, tomas):
    with pytest.raises(ValidationError, match="another unit"):
        concern.found(tomas, concern.cause, visit=VisitFactory(), at=MORNING)


def test_a_settled_concern_takes_no_further_step(concern, tomas, olga):
    late = Concern.objects.get(pk=concern.pk)
    concern.found(tomas, "nothing_wrong", TODAY, at=MORNING)
    with pytest.raises(ValidationError, match="settled in the meantime"):
        late.book(olga, TOMORROW, at=MORNING)


@pytest.mark.parametrize(
    ("person", "may"),
    [
        ("olga", {"acknowledged", "put_off", "booked", "confirmed", "refuted"}),
        ("tomas", {"acknowledged", "put_off", "booked", "confirmed", "refuted"}),
        ("osman", {"acknowledged", "put_off", "booked", "confirmed", "refuted"}),
        ("frida", {"acknowledged", "put_off"}),
        ("clara", set()),
    ],
)
def test_each_role_may_take_its_own_steps(concern, request, person, may):
    assert set(concern.steps_open_to(request.getfixturevalue(person))) == may


def test_a_fleet_manager_does_not_book_the_shops_bay(concern, frida):
    with pytest.raises(PermissionDenied):
        concern.book(frida, TOMORROW, at=MORNING)


def test_a_step_is_never_changed_nor_deleted(concern, tomas):
    step = concern.acknowledge(tomas, at=MORNING)
    for act in (
        step.save,
        step.delete,
        ConcernStep.objects.all().delete,
        lambda: ConcernStep.objects.update(words="no"),
    ):
        with pytest.raises(TypeError):
            act()


@pytest.mark.parametrize(
    "wrong",
    [
        {"what": "put_off", "until": TOMORROW},
        {"what": "put_off", "words": "Busy"},
        {"what": "booked"},
        {"what": "confirmed", "cause_found": "refrigerant_leak"},
        {"what": "confirmed", "cause_found": "overcharge", "found_on": TODAY},
        {"what": "refuted", "cause_found": "refrigerant_leak", "found_on": TODAY},
        {"what": "refuted", "cause_found": "", "found_on": TODAY},
        {"what": "refuted", "cause_found": "something_else", "found_on": TODAY},
        {"what": "acknowledged", "booked_for": TOMORROW},
        {"what": "acknowledged", "by": None},
        {"what": "withdrawn"},
    ],
)
def test_the_database_itself_refuses_a_step_that_cannot_be(concern, tomas, wrong):
    step = ConcernStep(concern=concern, cause=concern.cause, at=MORNING, **{"by": tomas} | wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        ConcernStep.objects.bulk_create([step])


def test_a_unit_has_one_open_concern_of_a_cause(concern):
    with pytest.raises(IntegrityError), transaction.atomic():
        ConcernFactory(unit=concern.unit, customer=concern.customer)
    ConcernFactory(unit=concern.unit, customer=concern.customer, cause=Cause.OVERCHARGE)


def test_a_gauge_has_one_open_concern(db):
    gauge = {"unit": None, "customer": None, "gauge": "G-9", "cause": Cause.DOUBTFUL_INSTRUMENT}
    ConcernFactory(**gauge)
    with pytest.raises(IntegrityError), transaction.atomic():
        ConcernFactory(**gauge)


def test_a_stranger_sees_no_concern_and_no_step_of_another_fleet(frida, frank):
    concern = ConcernFactory(customer=frida.customers.get())
    concern.acknowledge(frida, at=MORNING)
    assert list(Concern.objects.visible_to(frida)) == [concern]
    assert not Concern.objects.visible_to(frank).exists()
    assert not ConcernStep.objects.visible_to(frank).exists()


# What the screen makes of it.


def test_a_first_finding_begins_a_concern_and_the_next_run_goes_on_with_it(db):
    install = InstallFactory()
    [first] = screened(date(2025, 8, 1), install)
    [second] = screened(date(2025, 9, 1), install)
    concern = Concern.objects.get()
    assert first.concern == second.concern == concern
    assert (concern.first_said_on, concern.last_said_on) == (date(2025, 8, 1), date(2025, 9, 1))


def test_screening_a_day_twice_changes_nothing(db, tomas):
    install = InstallFactory()
    screened(date(2025, 8, 1), install)
    before = list(Concern.objects.values())
    [again] = screened(date(2025, 8, 1), install, replaces=Finding.objects.get().run)
    assert list(Concern.objects.values()) == before
    assert again.concern_id == before[0]["id"]


def test_what_was_settled_after_a_run_stays_settled_when_its_day_is_screened_again(db, tomas):
    install = InstallFactory()
    [finding] = screened(date(2025, 9, 1), install)
    finding.concern.found(tomas, finding.cause, TODAY, mended=True, at=MORNING)
    [again] = screened(date(2025, 9, 1), install, replaces=finding.run)
    assert again.concern == finding.concern
    assert Concern.objects.count() == 1


def test_what_only_a_replaced_run_said_is_taken_back(db, tomas):
    known, hasty, answered = InstallFactory(), InstallFactory(), InstallFactory()
    screened(date(2025, 8, 1), known)
    findings = screened(date(2025, 9, 1), known, hasty, answered)
    findings[2].concern.acknowledge(tomas, at=MORNING)
    screened(date(2025, 9, 1), replaces=findings[0].run)
    assert dict(Concern.objects.values_list("unit", "last_said_on")) == {
        known.unit_id: date(2025, 8, 1),
        answered.unit_id: date(2025, 9, 1),
    }


def test_an_earlier_day_screened_late_touches_no_concern(db):
    said, unsaid = InstallFactory(), InstallFactory()
    screened(date(2025, 8, 1), said)
    screened(date(2025, 9, 1), said)
    before = list(Concern.objects.values())
    late = screened(date(2025, 8, 15), said, unsaid)
    assert list(Concern.objects.values()) == before
    assert [finding.concern_id for finding in late] == [before[0]["id"], None]


def test_two_runs_in_a_row_that_do_not_say_it_any_more_withdraw_it(db):
    install = InstallFactory()
    screened(date(2025, 7, 1), install)
    screened(date(2025, 8, 1))
    assert Concern.objects.get().is_open
    screened(date(2025, 9, 1))
    concern = Concern.objects.get()
    assert (concern.last_step.what, concern.settled_on) == (Step.WITHDRAWN, date(2025, 9, 1))
    assert concern.last_step.by is None
    assert "2025-08-01 and 2025-09-01" in concern.last_step.words


def test_one_run_that_does_not_say_it_withdraws_nothing(db):
    install = InstallFactory()
    for day, said in ((1, [install]), (8, []), (15, [install]), (22, [])):
        screened(date(2025, 7, day), *said)
    assert Concern.objects.get().is_open


def test_what_is_booked_waits_for_a_persons_word(db, olga):
    [finding] = screened(date(2025, 7, 1), InstallFactory())
    finding.concern.book(olga, TODAY, at=datetime(2025, 7, 2, 15, tzinfo=UTC))
    screened(date(2025, 8, 1))
    screened(date(2025, 9, 1))
    assert Concern.objects.get().is_open


def test_a_cause_said_again_after_it_was_settled_is_a_new_concern(db, tomas):
    install = InstallFactory()
    [finding] = screened(date(2025, 9, 1), install)
    finding.concern.found(tomas, finding.cause, TODAY, mended=True, at=MORNING)
    [again] = screened(date(2025, 10, 1), install)
    assert again.concern != finding.concern
    assert again.concern.first_said_on == date(2025, 10, 1)


def test_a_unit_in_another_fleets_truck_takes_no_word_of_the_first_fleet_along(frida, frank):
    moved = InstallFactory(tractor=TractorFactory(customer=frida.customers.get()))
    [finding] = screened(date(2025, 8, 1), moved)
    finding.concern.put_off(frida, "Frida's own reason", TODAY, at=datetime(2025, 8, 2, tzinfo=UTC))
    moved.removed_on = date(2025, 8, 20)
    moved.save()
    franks = InstallFactory(
        unit=moved.unit,
        tractor=TractorFactory(customer=frank.customers.get()),
        installed_on=date(2025, 8, 20),
    )
    [again] = screened(date(2025, 9, 1), franks)
    assert list(Concern.objects.visible_to(frank)) == [again.concern]
    assert not ConcernStep.objects.visible_to(frank).exists()
    assert Concern.objects.visible_to(frida).get().last_step.what == Step.WITHDRAWN


def test_a_begun_and_a_settled_concern_are_in_the_history(db, tomas):
    install = InstallFactory()
    screened(date(2025, 8, 1), install)
    [finding] = screened(date(2025, 9, 1), install)
    finding.concern.found(tomas, finding.cause, TODAY, mended=True, at=MORNING)
    kept = finding.concern.history.order_by("history_date")
    assert [row.settled_on for row in kept] == [None, TODAY]
