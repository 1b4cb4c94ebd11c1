"""What the database would refuse, said in words before it is asked.

The models' own check constraints are read, so the two cannot come apart.
"""

import operator
from functools import reduce

import numpy as np
from django.db import models
from django.db.models import F, Q
from numpy.typing import NDArray

from fleetcool.bulk import as_column, field_of
from installs.records.rows import Rows

__all__ = ["is_blank", "refuse_the_impossible"]

COMPARE = {
    "gt": operator.gt,
    "gte": operator.ge,
    "lt": operator.lt,
    "lte": operator.le,
    "exact": operator.eq,
}


def refuse_the_impossible(rows: Rows, where: NDArray, model, prefix: str = "") -> None:
    """Refuse rows, of those in the mask, that break a check constraint of the model.

    A constraint over a column that the sheet does not have is left to the database; so is one of
    a kind that no column of figures needs (a pattern, a length). `prefix` leads from the sheet's
    model to this one.
    """
    for constraint in model._meta.constraints:
        if not isinstance(constraint, models.CheckConstraint):
            continue
        names = _names(constraint.condition)
        if not all(
            prefix + name in rows.values and operation in (*COMPARE, "in")
            for name, operation in names
        ):
            continue
        holds = _holds(constraint.condition, rows.values, model, prefix)
        column = prefix + names[0][0]
        rows.refuse(where & ~holds, column, constraint.get_violation_error_message())


def is_blank(column: NDArray) -> NDArray:
    """Return where a column is empty."""
    if column.dtype == object:
        return column == ""
    return np.isnat(column) if column.dtype.kind == "M" else np.isnan(column)


def _names(condition: Q) -> list[tuple[str, str]]:
    names = []
    for child in condition.children:
        if isinstance(child, Q):
            names += _names(child)
            continue
        name, _, operation = child[0].partition("__")
        names.append((name, operation or "exact"))
        if isinstance(child[1], F):
            names.append((child[1].name, "exact"))
    return names


def _holds(condition: Q, values: dict[str, NDArray], model, prefix: str) -> NDArray:
    """As the database does: what is empty cannot break a rule."""
    join = np.logical_and if condition.connector == Q.AND else np.logical_or
    parts = [
        _holds(child, values, model, prefix)
        if isinstance(child, Q)
        else _compares(*child, values, model, prefix)
        for child in condition.children
    ]
    return reduce(join, parts)


def _compares(lookup: str, wanted, values: dict[str, NDArray], model, prefix: str) -> NDArray:
    name, _, operation = lookup.partition("__")
    column = values[prefix + name]
    empty = is_blank(column)
    if wanted is None:
        return empty
    if operation == "in":
        return empty | np.isin(column, list(wanted))
    if isinstance(wanted, F):
        other = values[prefix + wanted.name]
        empty = empty | is_blank(other)
    else:
        other = as_column(field_of(model, name), [wanted])[0]
    return empty | COMPARE[operation or "exact"](column, other)
