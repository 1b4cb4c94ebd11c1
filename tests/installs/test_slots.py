"""Free times, as plain computation: property tests, and the days on which the clock changes."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from installs.slots import Diary, Span, WorkingHours, free_slots, moment, working_spans

CHICAGO = ZoneInfo("America/Chicago")
# A Sunday; the clock goes forward on 8 March 2026 and back on 1 November 2026 (15 USC 260a).
SUNDAY = date(2026, 3, 1)
BAYS, TECHNICIANS = (1, 2), (10, 20, 30)
DAYS = 14


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return moment(day, time(hour, minute), CHICAGO)


def every_day(begins: time, ends: time, technician: int = 10) -> list[WorkingHours]:
    return [WorkingHours(technician, weekday, begins, ends) for weekday in range(7)]


def first(diary: Diary, minutes: int, from_: datetime, count: int = 1, **kwargs) -> list:
    slots = free_slots(diary, minutes, from_, DAYS, **kwargs)
    return [slot for slot, _ in zip(slots, range(count), strict=False)]


clocks = st.builds(time, st.integers(0, 22), st.sampled_from([0, 10, 30, 45]))
moments = st.integers(0, DAYS * 24 * 4).map(
    lambda quarters: at(SUNDAY, 0) + timedelta(minutes=15 * quarters)
)
spans = st.builds(
    lambda begin, minutes: Span(begin, begin + timedelta(minutes=minutes)),
    moments,
    st.integers(1, 3000),
)
busy = st.lists(spans, max_size=3)


@st.composite
def working_hours(draw) -> WorkingHours:
    begins = draw(clocks)
    ends = draw(st.sampled_from([time(23, 59), time(begins.hour + 1, begins.minute)]))
    return WorkingHours(draw(st.sampled_from(TECHNICIANS)), draw(st.integers(0, 6)), begins, ends)


@st.composite
def diaries(draw) -> Diary:
    days = st.integers(0, DAYS).map(lambda ahead: SUNDAY + timedelta(days=ahead))
    holidays = draw(st.frozensets(days, max_size=3))
    absences = st.lists(st.tuples(days, days).map(sorted).map(tuple), max_size=2)
    return Diary(
        zone=CHICAGO,
        bays=BAYS,
        hours=draw(st.lists(working_hours(), max_size=8)),
        is_holiday=lambda day: day in holidays,
        days_off=draw(st.dictionaries(st.sampled_from(TECHNICIANS), absences)),
        able_until=draw(st.dictionaries(st.sampled_from(TECHNICIANS), days)),
        bays_busy={bay: draw(busy) for bay in BAYS},
        technicians_busy={technician: draw(busy) for technician in TECHNICIANS},
        truck_busy=draw(busy),
    )


lengths = st.sampled_from([15, 60, 100, 360])


@given(diaries(), lengths, moments)
@settings(deadline=None)
def test_no_slot_overlaps_anything_busy(diary, minutes, from_):
    for slot in free_slots(diary, minutes, from_, DAYS):
        taken = [
            *diary.bays_busy[slot.bay],
            *diary.technicians_busy[slot.technician],
            *diary.truck_busy,
        ]
        assert [
            span
            for span in taken
            if span.begins_at < slot.ends_at and slot.begins_at < span.ends_at
        ] == []


@given(diaries(), lengths, moments)
@settings(deadline=None)
def test_a_slot_lies_inside_the_hours_of_its_technician_by_the_wall_clock(diary, minutes, from_):
    for slot in free_slots(diary, minutes, from_, DAYS):
        day = slot.begins_at.astimezone(CHICAGO).date()
        assert any(
            at(day, hours.begins.hour, hours.begins.minute) <= slot.begins_at
            and slot.ends_at <= at(day, hours.ends.hour, hours.ends.minute)
            for hours in diary.hours
            if (hours.technician, hours.weekday) == (slot.technician, day.weekday())
        )


@given(diaries(), lengths, moments)
@settings(deadline=None)
def test_no_slot_is_on_a_holiday_a_day_off_or_past_a_certificate(diary, minutes, from_):
    for slot in free_slots(diary, minutes, from_, DAYS):
        day = slot.begins_at.astimezone(CHICAGO).date()
        assert not diary.is_holiday(day)
        assert day <= diary.able_until.get(slot.technician, date.max)
        absences = diary.days_off.get(slot.technician, ())
        assert not any(begin <= day <= end for begin, end in absences)


@given(diaries(), lengths, moments)
@settings(deadline=None)
def test_slots_come_earliest_first_after_the_moment_asked_for_and_the_same_again(
    diary, minutes, from_
):
    slots = list(free_slots(diary, minutes, from_, DAYS))
    begins = [slot.begins_at for slot in slots]
    assert begins == sorted(begins)
    assert all(begin >= from_ for begin in begins)
    assert slots == list(free_slots(diary, minutes, from_, DAYS))


@given(diaries(), lengths)
@settings(deadline=None, max_examples=40)
def test_no_free_time_on_the_grid_is_left_out(diary, minutes):
    from_ = at(SUNDAY, 0)
    offered = {
        (slot.begins_at, slot.technician) for slot in free_slots(diary, minutes, from_, DAYS)
    }
    length = timedelta(minutes=minutes)
    for ahead in range(DAYS):
        for technician, working in working_spans(diary, SUNDAY + timedelta(days=ahead)):
            for half_hour in range(48):
                begin = at(SUNDAY + timedelta(days=ahead), half_hour // 2, half_hour % 2 * 30)
                span = Span(begin, begin + length)
                blocked = [*diary.technicians_busy[technician], *diary.truck_busy]
                open_bay = any(
                    not any(map(span.overlaps, diary.bays_busy[bay])) for bay in diary.bays
                )
                if working.covers(span) and open_bay and not any(map(span.overlaps, blocked)):
                    assert (begin, technician) in offered


def test_the_hours_are_the_wall_clocks_on_both_sides_of_the_change_in_spring():
    diary = Diary(CHICAGO, BAYS, every_day(time(8), time(17)))
    saturday, sunday = first(diary, 540, at(date(2026, 3, 7), 0), 2)
    assert saturday.begins_at == datetime(2026, 3, 7, 14, tzinfo=UTC)
    assert sunday.begins_at == datetime(2026, 3, 8, 13, tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 8), 5), (date(2026, 3, 9), 6), (date(2026, 11, 1), 7)]
)
def test_a_night_with_a_change_of_clock_is_an_hour_shorter_or_longer(day, hours):
    diary = Diary(CHICAGO, BAYS, every_day(time(0), time(6)))
    fits = first(diary, hours * 60, at(day, 0))[0]
    assert fits.begins_at.astimezone(CHICAGO).date() == day
    too_long = free_slots(diary, hours * 60 + 15, at(day, 0), 1)
    assert list(too_long) == []


def test_a_job_is_offered_on_the_half_hours_of_the_wall_clock():
    diary = Diary(CHICAGO, BAYS, every_day(time(8, 10), time(12)))
    offered = first(diary, 60, at(SUNDAY, 9, 5), 4)
    local = [f"{slot.begins_at.astimezone(CHICAGO):%H:%M}" for slot in offered]
    assert local == ["09:30", "10:00", "10:30", "11:00"]


def test_the_grid_may_be_quarters_of_an_hour():
    diary = Diary(CHICAGO, BAYS, every_day(time(8), time(9)))
    offered = first(diary, 30, at(SUNDAY, 0), 3, grid_minutes=15)
    local = [f"{slot.begins_at.astimezone(CHICAGO):%H:%M}" for slot in offered]
    assert local == ["08:00", "08:15", "08:30"]


def test_nothing_is_offered_before_the_time_of_day_asked_for():
    diary = Diary(CHICAGO, BAYS, every_day(time(8), time(14)))
    offered = first(diary, 60, at(SUNDAY, 0), 4, not_before=time(12, 30))
    local = [f"{slot.begins_at.astimezone(CHICAGO):%a %H:%M}" for slot in offered]
    assert local == ["Sun 12:30", "Sun 13:00", "Mon 12:30", "Mon 13:00"]


def test_a_booking_that_ends_when_the_next_begins_is_in_nobodys_way():
    morning = Span(at(SUNDAY, 8), at(SUNDAY, 11))
    diary = Diary(CHICAGO, (1,), every_day(time(8), time(14)), technicians_busy={10: [morning]})
    assert first(diary, 180, at(SUNDAY, 0))[0].begins_at == at(SUNDAY, 11)


def test_the_second_bay_is_offered_while_the_first_is_taken():
    all_day = Span(at(SUNDAY, 0), at(SUNDAY, 23))
    diary = Diary(CHICAGO, BAYS, every_day(time(8), time(14)), bays_busy={1: [all_day]})
    assert first(diary, 60, at(SUNDAY, 0))[0].bay == 2


def test_without_a_bay_nothing_is_offered():
    assert first(Diary(CHICAGO, (), every_day(time(8), time(14))), 60, at(SUNDAY, 0)) == []
