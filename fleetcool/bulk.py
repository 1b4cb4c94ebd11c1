"""Whole columns into the database and out of it, where one object a row would be too slow.

A column is a numpy array whose type follows the model's field: float64 for numbers and foreign
keys (NaN is NULL), datetime64[us] in UTC for moments and datetime64[D] for days (NaT is NULL),
objects for text. What `insert_rows` writes reads back as if `bulk_create` had written it; a test
holds the two together.
"""

from collections.abc import Iterator
from datetime import UTC

import numpy as np
from django.db import connections, models, router
from numpy.typing import NDArray

__all__ = ["as_column", "as_values", "fetch_columns", "field_of", "insert_rows"]

FETCH_ROWS = 50_000
WHOLE = (models.IntegerField, models.ForeignKey, models.AutoField)


def insert_rows(model: type[models.Model], columns: dict[str, NDArray]) -> None:
    """Insert rows given as columns by attribute name; a field not given takes its default.

    Writes no history and sends no signal. Raises what the database raises.
    """
    connection = connections[router.db_for_write(model)]
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    height = len(next(iter(columns.values())))
    lists = [
        _stored(field, columns[field.attname], connection)
        if field.attname in columns
        else [field.get_default()] * height
        for field in fields
    ]
    table = connection.ops.quote_name(model._meta.db_table)
    names = ", ".join(connection.ops.quote_name(field.column) for field in fields)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            command = f"COPY {table} ({names}) FROM STDIN"
            with connection.wrap_database_errors, cursor.copy(command) as copy:
                for row in zip(*lists, strict=True):
                    copy.write_row(row)
            return
        marks = ", ".join(["%s"] * len(fields))
        cursor.executemany(
            f"INSERT INTO {table} ({names}) VALUES ({marks})", zip(*lists, strict=True)
        )


def fetch_columns(queryset: models.QuerySet, paths: list[str]) -> Iterator[dict[str, NDArray]]:
    """Read a queryset's values by path (`unit_id`, `bank__battery_ah`), some rows at a time."""
    fields = [field_of(queryset.model, path) for path in paths]
    rows = queryset.order_by().values_list(*paths).iterator(chunk_size=FETCH_ROWS)
    batch = []
    for row in rows:
        batch.append(row)
        if len(batch) == FETCH_ROWS:
            yield _columns(paths, fields, batch)
            batch = []
    yield _columns(paths, fields, batch)


def field_of(model: type[models.Model], path: str) -> models.Field:
    """Return the field that a path such as `bank__battery_ah` or `unit_id` ends in."""
    *steps, last = path.split("__")
    for step in steps:
        model = model._meta.get_field(step).related_model
    return model._meta.pk if last == "pk" else model._meta.get_field(last)


def as_column(field: models.Field, values) -> NDArray:
    """Return values as Django gives them as a column of the field's type."""
    if isinstance(field, models.DateTimeField):
        naive = [value and value.astimezone(UTC).replace(tzinfo=None) for value in values]
        return np.array(naive, dtype="datetime64[us]")
    if isinstance(field, models.DateField):
        return np.array(values, dtype="datetime64[D]")
    if isinstance(field, (*WHOLE, models.FloatField)):
        return np.array(values, dtype=float)
    return np.array(values, dtype=object)


def as_values(field: models.Field, column: NDArray) -> list:
    """Return a column as the values that Django takes: None, int, float, str, date, datetime."""
    if isinstance(field, models.DateTimeField):
        return [value and value.replace(tzinfo=UTC) for value in column.tolist()]
    if isinstance(field, models.DateField) or column.dtype == object:
        return column.tolist()
    empty = np.isnan(column)
    if isinstance(field, WHOLE):
        values = np.where(empty, 0, column).astype("int64").astype(object)
    else:
        values = column.astype(object)
    values[empty] = None
    return values.tolist()


def _columns(paths: list[str], fields: list[models.Field], batch: list[tuple]):
    lists = zip(*batch, strict=True) if batch else ([] for _ in paths)
    return {
        path: as_column(field, list(values))
        for path, field, values in zip(paths, fields, lists, strict=True)
    }


def _stored(field: models.Field, column: NDArray, connection) -> list:
    """Return a column as the values that the database's driver takes."""
    if connection.vendor == "sqlite" and isinstance(field, models.DateField):
        # Django keeps days and moments, in UTC, as this text there.
        return [value and str(value) for value in column.tolist()]
    return as_values(field, column)
