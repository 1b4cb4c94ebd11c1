"""Whole columns written fast are the same rows as Django would have written."""

from datetime import UTC, datetime

import numpy as np
import pytest
from django.db import IntegrityError, connection, transaction

from fleetcool.bulk import as_column, fetch_columns, insert_rows
from service.models import Reading
from tests.factories import InstallFactory, ReadingFactory, TechnicianFactory

pytestmark = pytest.mark.django_db
FIELDS = [field for field in Reading._meta.concrete_fields if not field.primary_key]


def columns_of(readings):
    return {
        field.attname: as_column(field, [getattr(one, field.attname) for one in readings])
        for field in FIELDS
    }


@pytest.fixture
def readings():
    """Readings full, sparse and odd, none of them saved."""
    install = InstallFactory()
    technician = TechnicianFactory()
    built = [
        ReadingFactory.build(
            install=install,
            unit=install.unit,
            tractor=install.tractor,
            customer=install.customer,
            taken_at=datetime(2024, 6, 4, 15, minute, 0, micros, tzinfo=UTC),
            **changes,
        )
        for minute, micros, changes in [
            (0, 0, {"taken_by": technician}),
            (1, 123_456, {"suction_kpa": 0.1 + 0.2, "ambient_c": -40.0}),
            (2, 120_000, {"output": "", "rest_v": None, "load_a": 1e-9}),
            (3, 0, {"gauge": "Ü 'quoted' \\ \t, tab", "load_v": 5e-324}),
        ]
    ]
    built[2].tractor = built[2].customer = None
    return built


def raw_rows():
    names = ", ".join(field.column for field in FIELDS)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {names} FROM service_reading ORDER BY taken_at")
        return cursor.fetchall()


def test_rows_are_stored_as_bulk_create_stores_them(readings):
    Reading.objects.bulk_create(readings)
    expected = raw_rows()
    Reading.objects.all().delete()
    insert_rows(Reading, columns_of(readings))
    assert raw_rows() == expected


def test_a_field_not_given_takes_its_default(readings):
    columns = columns_of(readings)
    for name in ("gauge", "air_kpa", "visit_id"):
        del columns[name]
    insert_rows(Reading, columns)
    one = Reading.objects.by_time().first()
    assert (one.gauge, one.air_kpa, one.visit) == ("", 101.325, None)


def test_what_is_written_is_read_back_in_columns(readings):
    columns = columns_of(readings)
    insert_rows(Reading, columns)
    [part] = fetch_columns(Reading.objects, list(columns))
    order = np.argsort(part["taken_at"])
    for name, column in columns.items():
        np.testing.assert_array_equal(part[name][order], column)


def test_many_rows_are_read_in_parts(readings, monkeypatch):
    monkeypatch.setattr("fleetcool.bulk.FETCH_ROWS", 2)
    insert_rows(Reading, columns_of(readings[:3]))
    parts = list(fetch_columns(Reading.objects, ["pk"]))
    assert [len(part["pk"]) for part in parts] == [2, 1]


def test_what_the_database_refuses_is_raised(readings):
    readings[1].taken_at = readings[0].taken_at
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_rows(Reading, columns_of(readings))
