"""How the recurring care of units stands, as far as a person may see their past."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import F, Max, OuterRef, Q, Subquery, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from installs.models import Install, Unit
from service.engineering.care import Care, Rule, due
from service.models import CareDone, CareItem, CareTask, Overnight

__all__ = ["care_caution", "care_of"]


def care_of(units: Iterable[Unit], user, today: date) -> dict[int, list[Care]]:
    """Return how each task stands at each unit that is in a truck now, by the unit's number.

    Counted from when it was last done, else from the first install that the person may see. Care of
    a visit that was logged twice counts: it was done. A fixed number of queries however many units:
    one for each task that is counted in run hours (five at the most), and three more.
    """
    models = {unit.pk: unit.model_id for unit in units}
    installed_on = _installed_on(list(models), user) if models else {}
    if not installed_on:
        return {}
    rules = _rules({models[unit] for unit in installed_on})
    last_done = _last_done(list(installed_on), user)
    counted = {rule.task for of in rules.values() for rule in of if rule.run_hours is not None}
    run_h = {task: _run_h(list(installed_on), task, user) for task in counted}

    def stands(unit: int, rule: Rule) -> Care:
        done_at = last_done.get((unit, rule.task))
        done_on = done_at and timezone.localdate(done_at)
        hours = run_h.get(rule.task, {}).get(unit, 0.0)
        return due(rule, installed_on[unit], done_on, hours, today)

    return {unit: [stands(unit, rule) for rule in rules[models[unit]]] for unit in installed_on}


def care_caution(task: str) -> str:
    """What can hurt someone at a task."""
    return {
        CareTask.FILTER: _(
            "Switch the unit off before you take the filter out: the fan may start by itself."
        ),
        CareTask.COILS: _(
            "Unit off and battery disconnected, the negative side first; wait until the fans stand. "
            "Fins cut: gloves and goggles. Wash with low pressure, never into the electronics; "
            "follow the sheet of the cleaner. Secure yourself against a fall at height."
        ),
        CareTask.FASTENERS: _(
            "Unit off; on the roof secure yourself against a fall. Tighten to the maker's torque. "
            "A spanner across the battery can weld itself and burn you."
        ),
        CareTask.HOSES: _(
            "Hoses are under pressure and may be hot: look, do not loosen. Goggles and gloves; only "
            "people certified for it, by the local code, open the circuit."
        ),
        CareTask.DRAIN: _(
            "Unit off and battery disconnected before water comes near it. Goggles; blow the drain "
            "out with low pressure and never towards anyone, and dry the floor: it is slippery."
        ),
    }[CareTask(task)]


def _installed_on(units: list[int], user) -> dict[int, date]:
    """The first install of each unit that is in a truck now, among those that a person may see."""
    installs = Install.objects.visible_to(user).filter(unit__in=units)
    first: dict[int, date] = {}
    standing = set()
    for unit, day, removed_on in installs.values_list("unit", "installed_on", "removed_on"):
        first[unit] = min(day, first.get(unit, day))
        if removed_on is None:
            standing.add(unit)
    return {unit: day for unit, day in first.items() if unit in standing}


def _rules(models: set[int]) -> dict[int, list[Rule]]:
    """The rules of each model in the order of the tasks; its own row comes before every model's."""
    rows = CareItem.objects.filter(Q(unit_model=None) | Q(unit_model__in=models))
    by_model: dict[int | None, dict[str, Rule]] = defaultdict(dict)
    for row in rows:
        rule = Rule(CareTask(row.task), row.months, row.run_hours)
        by_model[row.unit_model_id][row.task] = rule
    rules = {model: by_model[None] | by_model[model] for model in models}
    return {model: [of[task] for task in CareTask if task in of] for model, of in rules.items()}


def _last_done(units: list[int], user) -> dict[tuple[int, str], datetime]:
    done = CareDone.objects.visible_to(user).filter(visit__unit__in=units)
    rows = done.order_by().values_list("visit__unit", "task").annotate(at=Max("visit__at"))
    return {(unit, task): at for unit, task, at in rows}


def _run_h(units: list[int], task: str, user) -> dict[int, float]:
    """The run hours on record of each unit since a task was last done."""
    done = CareDone.objects.visible_to(user).filter(visit__unit=OuterRef("unit"), task=task)
    done_at = Subquery(done.order_by("-visit__at").values("visit__at")[:1])
    nights = Overnight.objects.visible_to(user).filter(unit__in=units).annotate(done_at=done_at)
    since = nights.filter(Q(done_at=None) | Q(began_at__gt=F("done_at")))
    return dict(since.order_by().values_list("unit").annotate(hours=Sum("run_h")))
