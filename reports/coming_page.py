"""The page of what is coming, put together: what is asked, and each of its tables and sentences."""

from datetime import date

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.wording import number
from installs.models import PartGroup
from reports.analysis.standing_out import Compared
from reports.coming import (
    Ahead,
    Group,
    Lasting,
    groups_of,
    lasting_of,
    narrowed,
    standing_out,
    together,
)
from reports.coming_words import (
    chance_text,
    cost_text,
    count_text,
    law_text,
    lot_or_technician,
    standing_out_text,
    survival_picture,
    too_few_text,
)
from reports.costs import Costs, failure_costs
from reports.forms.coming import ComingForm
from reports.lifetimes import Life, lives

__all__ = ["coming_page"]


def coming_page(user, data, today: date) -> dict:
    """Return what the page shows to a person, as asked by the address."""
    every, costs = lives(user, today), failure_costs(user)
    form = ComingForm(data, every)
    model, lot, part = form.asked("model"), form.asked("lot"), form.asked("part")
    asked = {group: narrowed(rows, model, lot) for group, rows in every.items()}
    groups = groups_of(asked, costs, today)
    chosen = next(group for group in groups if group.part_group == part)
    compared = standing_out(every)
    kinds = [*_kinds(asked[part], "model"), *_kinds(asked[part], "lot")]
    return {
        "filter": {"form": form},
        "today": today,
        "has_lives": any(every.values()),
        "rows": [_ahead_row(group, costs) for group in groups],
        "all_parts": _ahead_cells(together(groups), costs),
        "part": capfirst(PartGroup(part).label),
        "law": _law(chosen.lasting),
        "picture": survival_picture(chosen.lasting, PartGroup(part).label),
        "kinds": [(label, one, law_text(one.law)) for label, one in kinds if one.law],
        "too_few": [_of_few(label, one) for label, one in kinds if not one.law],
        "currency": costs.currency,
        "priced_by_all": _priced_by_all(groups),
        "standing_out": [standing_out_text(one) for one in compared if one.group.stands_out],
        "compared": [
            [
                lot_or_technician(one),
                PartGroup(one.part_group).label,
                *_compared_cells(one.group),
            ]
            for one in compared
        ],
        "tested": sum(not one.group.too_few for one in compared),
    }


def _ahead_row(group: Group, costs: Costs) -> dict:
    return {
        "part": capfirst(PartGroup(group.part_group).label),
        "part_group": group.part_group,
        "units": group.lasting.units,
        "failures": group.lasting.failures,
        "covered": group.covered,
        "too_few": "" if group.ahead else too_few_text(group.lasting.failures),
        "ahead": _ahead_cells(group.ahead, costs),
    }


def _ahead_cells(ahead: list[Ahead], costs: Costs) -> list[tuple[str, str]]:
    return [(count_text(one), cost_text(one, costs.currency)) for one in ahead]


def _law(lasting: Lasting) -> str:
    return law_text(lasting.law) if lasting.law else too_few_text(lasting.failures)


def _kinds(rows: list[Life], name: str) -> list[tuple[str, Lasting]]:
    """Each model, or each lot of a model, with how its parts last."""
    split: dict[str, list[Life]] = {}
    for one in rows:
        split.setdefault(one.model if name == "model" else _lot(one), []).append(one)
    return [(label, lasting_of(some)) for label, some in sorted(split.items())]


def _of_few(label: str, lasting: Lasting) -> str:
    words = _("%(label)s (%(n)d failed of %(units)d)")
    return words % {"label": label, "n": lasting.failures, "units": lasting.units}


def _lot(life: Life) -> str:
    facts = {"model": life.model, "lot": life.lot}
    return _("%(model)s, lot %(lot)s") % facts if life.lot else _("%(model)s, no lot") % facts


def _priced_by_all(groups: list[Group]) -> list[str]:
    """The groups priced by the claims of all groups, for want of their own."""
    return [
        str(PartGroup(group.part_group).label)
        for group in groups
        if group.ahead and group.ahead[0].cost and not group.ahead[0].of_own_claims
    ]


def _compared_cells(group: Compared) -> list[str]:
    low, high = group.rate_bounds
    rate = f"{number(group.rate, 1)} ({number(low, 1)}–{number(high, 1)})"
    chance = _("too few units") if group.too_few else chance_text(group.p_corrected)
    return [str(group.units), str(group.failures), number(group.expected, 1), rate, chance]
