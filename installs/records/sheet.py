"""What a sheet of the record book is: its columns, its key, and how its rows are written."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from django.db import models
from numpy.typing import NDArray
from simple_history.utils import bulk_create_with_history, bulk_update_with_history

from fleetcool.bulk import as_column, as_values, field_of
from installs.records.cells import Choice, Day, Moment, Number, Text, Whole, Yes
from installs.records.checks import is_blank, refuse_the_impossible
from installs.records.lookups import Known
from installs.records.rows import Rows

__all__ = ["Column", "Sheet", "find"]

Stored = dict[str, NDArray]


@dataclass(frozen=True)
class Column:
    """A column of the book.

    name is its header in the unit kept inside (any other unit of the kind may stand in the book);
    path the model's field it fills, empty where it only leads to another row. A required column
    may not be blank. Where `keeps` is set, a blank cell leaves what is on record.
    """

    name: str
    path: str
    kind: Text | Number | Whole | Choice | Yes | Day | Moment
    required: bool = False
    keeps: bool = False

    @property
    def target(self) -> str:
        return self.path or self.name


class Sheet:
    """One sheet of the book, loaded once.

    key names the model's fields that tell rows apart, key_columns the columns that the sheet must
    have for it. `also` are fields read from the records besides those compared. A sheet whose rows
    depend on one another is taken `whole`, others by chunks.
    """

    name: str
    model: type[models.Model]
    key: tuple[str, ...]
    key_columns: tuple[str, ...]
    columns: tuple[Column, ...]
    also: tuple[str, ...] = ()
    whole = False

    def __init__(self, reason: str):
        self.reason = reason
        self.moved_units: set[int] = set()

    def resolve(self, rows: Rows) -> None:
        """Follow keys to other rows and work out what the columns imply; may refuse rows."""

    def derive(self, rows: Rows, where: NDArray, found: NDArray, stored: Stored) -> None:
        """Complete values that depend on what is on record; may refuse rows."""
        for column in self.columns:
            path = column.path
            if column.keeps and path in rows.compared:
                values, field = rows.values[path], field_of(self.model, path)
                kept = where & rows.blank.setdefault(path, is_blank(values))
                default = as_column(field, [field.get_default()])
                values[kept] = np.where(found, stored[path], default)[kept]

    def check(self, rows: Rows, where: NDArray) -> None:
        """Refuse what the database would."""
        refuse_the_impossible(rows, where, self.model)

    def settle(self, rows: Rows, new: NDArray, changed: NDArray, stored: Stored) -> None:
        """Refuse rows that do not go with other rows, of the book or on record."""

    def introduce(self, rows: Rows, where: NDArray) -> None:
        """Put people and things on record that these rows are the first to name."""

    def candidates(self, rows: Rows) -> models.QuerySet:
        """Rows on record among which those of this chunk are found."""
        return self.model.objects.all()

    def insert(self, rows: Rows, places: NDArray) -> None:
        bulk_create_with_history(
            self.objects(self.model, rows, places), self.model, default_change_reason=self.reason
        )

    def update(self, rows: Rows, places: NDArray, stored: Stored, paths: list[str]) -> None:
        """Write these paths of rows on record, with history."""
        objects = self.changed_objects(rows, places, stored["pk"][places], paths)
        bulk_update_with_history(
            objects, self.model, paths, batch_size=500, default_change_reason=self.reason
        )

    def objects(self, model, rows: Rows, places: NDArray, prefix: str = "") -> list[models.Model]:
        """Return new objects of a model from the values whose path begins with prefix."""
        attributes = {field.attname for field in model._meta.concrete_fields}
        paths = {
            path.removeprefix(prefix): values[places]
            for path, values in rows.values.items()
            if path.startswith(prefix) and path.removeprefix(prefix) in attributes
        }
        names = list(paths)
        lists = [as_values(field_of(model, name), values) for name, values in paths.items()]
        return [model(**dict(zip(names, row, strict=True))) for row in zip(*lists, strict=True)]

    def changed_objects(
        self, rows: Rows, places: NDArray, pks: NDArray, paths: list[str]
    ) -> list[models.Model]:
        """Return the rows on record with new values set, in the order of places."""
        pks = pks.astype("int64").tolist()
        on_record = self.model.objects.in_bulk(pks)
        objects = [on_record[pk] for pk in pks]
        for path in paths:
            values = as_values(field_of(self.model, path), rows.values[path][places])
            for item, value in zip(objects, values, strict=True):
                setattr(item, path, value)
        return objects


def find(rows: Rows, column: str, known: Known, words: str) -> pd.DataFrame:
    """Look a column's keys up; refuse rows whose key is not on record, in these words."""
    texts = rows.values[column]
    found = known.find(texts)
    missing = found["pk"].isna().to_numpy() & (texts != "")
    rows.refuse(missing, column, lambda place: words % {"key": texts[place]})
    return found
