"""What the page of what is coming says: sentences, table rows and the picture of survival."""

from typing import NamedTuple

import numpy as np
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetcool.curves import Curve, curve_chart
from fleetcool.wording import NO_BREAK, number
from installs.models import PartGroup
from reports.analysis.reliability import FEWEST_FAILURES, Survival, Weibull
from reports.coming import Ahead, Lasting, StandingOut

__all__ = [
    "SurvivalPicture",
    "chance_text",
    "cost_text",
    "count_text",
    "law_text",
    "lot_or_technician",
    "standing_out_text",
    "survival_picture",
    "too_few_text",
]

MONTHS = 12
ONE_IN_TEN = 0.1


class SurvivalPicture(NamedTuple):
    """The curve as SVG, and its numbers as header and rows of text."""

    title: str
    svg: SafeString
    header: list[str]
    rows: list[list[str]]


def too_few_text(failures: int) -> str:
    words = ngettext(
        "Too few: %(n)d failure on record, and at least %(least)d are needed.",
        "Too few: %(n)d failures on record, and at least %(least)d are needed.",
        failures,
    )
    return words % {"n": failures, "least": FEWEST_FAILURES}


def count_text(ahead: Ahead) -> str:
    """Such as `about 4 (1 to 8)`: the mean and the interval that holds the count in 9 of 10 cases."""
    told = ahead.failures
    mean = number(told.mean, 0 if told.mean >= 10 else 1)
    return _("about %(mean)s (%(low)d to %(high)d)") % {
        "mean": mean,
        "low": told.low,
        "high": told.high,
    }


def cost_text(ahead: Ahead, currency: str) -> str:
    if ahead.cost is None:
        return _("no price yet")
    mean, low, high = (number(cents / 100, 0) for cents in ahead.cost[:3])
    words = _("%(mean)s (%(low)s to %(high)s)") % {"mean": mean, "low": low, "high": high}
    return f"{currency}{NO_BREAK}{words}"


def law_text(law: Weibull) -> str:
    """What a Weibull law says, in words: how it fails, when, and how surely that is known."""
    if law.shape_low > 1:
        kind = _("Wears out: the older, the likelier to fail")
    elif law.shape_high < 1:
        kind = _("Fails young: what has run for a while is likely to go on")
    else:
        kind = _("It cannot be told yet whether it fails young, by chance, or by wear")
    shape = _("shape %(shape)s, between %(low)s and %(high)s") % {
        "shape": number(law.shape, 1),
        "low": number(law.shape_low, 1),
        "high": number(law.shape_high, 1),
    }
    scale = _(
        "One in ten fails within about %(tenth)s years; scale %(scale)s years, between %(low)s and "
        "%(high)s."
    ) % {
        "tenth": number(law.age_failed(ONE_IN_TEN), 1),
        "scale": number(law.scale, 1),
        "low": number(law.scale_low, 1),
        "high": number(law.scale_high, 1),
    }
    return f"{kind} ({shape}). {scale}"


def lot_or_technician(one: StandingOut) -> str:
    if one.kind == "technician":
        return _("Put in by %(name)s") % {"name": one.group.name}
    return _("Lot %(name)s of %(model)s") % {"name": one.group.name, "model": one.model}


def standing_out_text(one: StandingOut) -> str:
    """One sentence of what stands out, with the number of units behind it."""
    group = one.group
    facts = {
        "who": lot_or_technician(one),
        "part": PartGroup(one.part_group).label,
        "n": group.failures,
        "units": group.units,
        "expected": number(group.expected, 1),
        "ratio": number(group.ratio, 1),
        "low": number(group.ratio_low, 1),
        "high": number(group.ratio_high, 1) if np.isfinite(group.ratio_high) else "∞",
        "chance": chance_text(group.p_corrected),
    }
    words = _(
        "%(who)s, %(part)s: %(n)d failures in %(units)d units, where %(expected)s were to expect. "
        "That is %(ratio)s times as often as the rest (%(low)s to %(high)s; corrected p %(chance)s)."
    )
    return words % facts


def chance_text(p: float) -> str:
    """How likely chance alone does as much; NaN where nothing could be compared."""
    if np.isnan(p):
        return "–"
    return _("below 0.001") if p < 0.001 else number(p, 3)


def survival_picture(lasting: Lasting, what: str) -> SurvivalPicture | None:
    """Return the curve of survival with its bounds; None where nothing failed yet."""
    survival = lasting.survival
    if survival is None:
        return None
    last = float(lasting.lifetimes.exit.max())
    x, middle, low, high = _steps(survival, last)
    title = _("%(what)s: share still whole, by age") % {"what": capfirst(what)}
    described = _(
        "Of parts %(last)s months old, %(share)s %% are still whole by this curve, between %(low)s "
        "and %(high)s; %(n)d of %(units)d units failed."
    ) % {
        "last": number(x[-1], 0),
        "share": number(middle[-1], 0),
        "low": number(low[-1], 0),
        "high": number(high[-1], 0),
        "n": lasting.failures,
        "units": lasting.units,
    }
    curve = Curve(
        title,
        _("age, months"),
        x,
        low,
        middle,
        high,
        (x[-1], middle[-1]),
        100 * (1 - ONE_IN_TEN),
        (_("whole, %"), _("95 % bounds"), _("oldest now"), _("nine in ten")),
        described,
    )
    header = [_("Months"), _("At risk"), _("Failed"), _("Whole, %"), _("Between, %")]
    # The drawing escapes all text it is given.
    return SurvivalPicture(title, mark_safe(curve_chart(curve)), header, _rows(survival))


def _steps(survival: Survival, last: float) -> tuple[list[float], ...]:
    """The curve as it is: level up to each failure, then down. Months, per cent."""
    ages = np.concatenate([[0.0], np.repeat(survival.t, 2), [max(last, survival.t[-1])]])
    columns = [MONTHS * ages]
    for values in (survival.share, survival.low, survival.high):
        levels = np.concatenate([[1.0], values])
        columns.append(100 * np.repeat(levels, 2))
    return tuple(column.tolist() for column in columns)


def _rows(survival: Survival) -> list[list[str]]:
    return [
        [
            number(MONTHS * t, 1),
            str(at_risk),
            str(failures),
            number(100 * share, 1),
            f"{number(100 * low, 0)}–{number(100 * high, 0)}",
        ]
        for t, at_risk, failures, share, low, high in zip(
            survival.t,
            survival.at_risk,
            survival.failures,
            survival.share,
            survival.low,
            survival.high,
            strict=True,
        )
    ]
