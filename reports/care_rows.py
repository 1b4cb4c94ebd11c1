"""Recurring care in words: what is due at a stop, how it is done safely, and when it comes next."""

from datetime import date
from typing import NamedTuple

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from installs.models import Unit
from service.care import care_caution, care_of
from service.engineering.care import Care

__all__ = ["CareRow", "care_rows", "due_words"]


class CareRow(NamedTuple):
    """A task at a unit: its value in a form and its name, how it stands, and what can hurt someone."""

    task: str
    name: str
    stands: str
    is_due: bool
    caution: str


def care_rows(unit: Unit, user, today: date) -> list[CareRow]:
    """Return the care of a unit that is in a truck, in the order of the tasks; else none."""
    return [
        CareRow(
            care.task,
            capfirst(str(care.task.label)),
            _stands(care),
            care.is_due,
            care_caution(care.task),
        )
        for care in care_of([unit], user, today).get(unit.pk, [])
    ]


def due_words(units: list[Unit], user, today: date) -> dict[int, str]:
    """Return what care is due now at each unit, in a few words; empty where none is."""
    return {
        unit: ", ".join(str(care.task.label) for care in cares if care.is_due)
        for unit, cares in care_of(units, user, today).items()
    }


def _stands(care: Care) -> str:
    """Such as: now due; due on 2026-03-04; 120 h left; last done 2025-12-04."""
    words = [_("now due")] if care.is_due else []
    if care.due_on:
        words.append(_("due on %(day)s") % {"day": f"{care.due_on:%Y-%m-%d}"})
    if care.left_h is not None:
        words.append(
            _("%(hours)s run hours left, by the nights on record") % {"hours": f"{care.left_h:.0f}"}
        )
    if care.last_done:
        words.append(_("last done %(day)s") % {"day": f"{care.last_done:%Y-%m-%d}"})
    else:
        words.append(_("counted from the install"))
    return "; ".join(words)
