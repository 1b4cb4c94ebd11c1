"""A unit stands in one truck at a time."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from installs.records.intervals import Interval, fit

MARCH, JUNE, SEPTEMBER, DECEMBER = (date(2024, month, 4) for month in (3, 6, 9, 12))


def on_record(start, end=None, unit=1):
    return Interval(unit, start, end, "on record")


def asked(place, start, end=None, unit=1):
    return Interval(unit, start, end, f"row {place}", place)


def left(asked_for, standing=()):
    return [one.place for one, _ in fit(asked_for, standing)]


def test_a_second_truck_waits_until_the_first_is_left():
    assert left([asked(2, SEPTEMBER)], [on_record(MARCH)]) == [2]


def test_an_install_that_the_book_ends_makes_room_for_the_next():
    assert left([asked(2, MARCH, SEPTEMBER), asked(3, SEPTEMBER)], [on_record(MARCH)]) == []


def test_the_order_of_the_rows_does_not_matter():
    assert left([asked(2, SEPTEMBER), asked(3, MARCH, SEPTEMBER)], [on_record(MARCH)]) == []


def test_an_earlier_install_can_wait_for_a_later_one_to_be_undone():
    book = [asked(2, MARCH, DECEMBER), asked(3, SEPTEMBER, SEPTEMBER)]
    assert left(book, [on_record(MARCH, SEPTEMBER), on_record(SEPTEMBER)]) == []


def test_of_two_open_installs_in_a_book_the_earlier_is_taken():
    assert left([asked(2, JUNE), asked(3, MARCH)]) == [2]


def test_the_obstacle_is_named():
    [(one, obstacle)] = fit([asked(2, SEPTEMBER)], [on_record(MARCH)])
    assert obstacle == on_record(MARCH)


def test_units_do_not_stand_in_one_anothers_way():
    assert left([asked(2, MARCH, unit=2)], [on_record(MARCH)]) == []


def test_an_install_undone_on_its_own_day_stands_in_nobodys_way():
    assert left([asked(2, JUNE, JUNE)], [on_record(MARCH)]) == []


days = st.integers(0, 12).map(lambda n: date.fromordinal(MARCH.toordinal() + n))
spans = st.tuples(days, days | st.none()).filter(lambda span: span[1] is None or span[0] <= span[1])


@given(st.dictionaries(days, spans), st.dictionaries(days, spans))
def test_what_is_taken_never_overlaps(standing, book):
    standing = [
        on_record(start, end) for start, end in {s: (s, e) for s, e in standing.values()}.values()
    ]
    kept = []
    for interval in standing:
        if not any(interval.overlaps(other) for other in kept):
            kept.append(interval)
    wanted = {start: asked(n, start, end) for n, (start, end) in enumerate(book.values())}
    refused = {one.place for one, _ in fit(wanted.values(), kept)}
    final = {one.start: one for one in kept}
    final |= {one.start: one for one in wanted.values() if one.place not in refused}
    rows = list(final.values())
    assert not any(a.overlaps(b) for n, a in enumerate(rows) for b in rows[n + 1 :])
