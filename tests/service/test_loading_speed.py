"""A large book of readings loads about as fast as the database takes the rows."""

from datetime import UTC, datetime, timedelta
from time import perf_counter

import pytest

from installs.records.loader import load_book
from service.models import Reading
from tests.books import a_fleet, a_reading, load_rows, write_folder

pytestmark = pytest.mark.django_db


def seconds(act) -> float:
    began = perf_counter()
    act()
    return perf_counter() - began


def test_a_load_takes_at_most_three_times_a_bare_bulk_insert_of_its_rows(tmp_path):
    load_rows(tmp_path, a_fleet())
    start = datetime(2020, 1, 1, tzinfo=UTC)
    rows = [
        a_reading(taken_at=(start + timedelta(hours=hour)).isoformat()) for hour in range(20_000)
    ]
    book = write_folder(tmp_path / "readings", {"readings": rows})
    load = seconds(lambda: load_book(book))
    readings = list(Reading.objects.all())
    assert len(readings) == len(rows)
    Reading.objects.all().delete()
    for reading in readings:
        reading.pk = None
    bare = seconds(lambda: Reading.objects.bulk_create(readings))
    assert load <= 3 * bare
