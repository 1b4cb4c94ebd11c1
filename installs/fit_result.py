"""What a fit check's page shows of its result: words, numbers, and two curves with their tables."""

from typing import NamedTuple

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from fleetcool.curves import Curve as Drawn
from fleetcool.curves import curve_chart
from fleetcool.quantities import System
from fleetcool.wording import amount, number
from installs.engineering import fit as engineering
from installs.engineering.fit import Curve, Fit
from installs.engineering.fit_asked import Asked
from installs.fit_wording import (
    VERDICT_SIGNS,
    cable_line,
    mend_lines,
    reason_text,
    verdict_line,
    wiring_line,
)

__all__ = ["FitResult", "Picture", "fit_result"]


class Picture(NamedTuple):
    """A curve as SVG, and its numbers as header and rows of text."""

    title: str
    svg: SafeString
    header: list[str]
    rows: list[list[str]]


class FitResult(NamedTuple):
    verdict: str
    sign: str
    line: str
    reasons: list[str]
    mends: list[str]
    facts: list[tuple[str, str]]
    pictures: list[Picture]


def fit_result(asked: Asked, fit: Fit, system: System) -> FitResult:
    """Return the result in a person's language and units."""
    return FitResult(
        verdict=fit.verdict,
        sign=VERDICT_SIGNS[fit.verdict],
        line=verdict_line(fit, asked, system),
        reasons=[reason_text(reason, system) for reason in fit.reasons],
        mends=mend_lines(fit.mend, asked, system) if fit.mend else [],
        facts=_facts(asked, fit, system),
        pictures=[
            _picture(
                _("Hours against cutoff"),
                _("cutoff under load, V"),
                engineering.curve_of_cutoff(asked),
                (asked.cutoff_v, fit.hours.middle),
                asked.hours_wanted,
            ),
            _picture(
                _("Hours against age of the bank"),
                _("age, years"),
                engineering.curve_of_age(asked),
                (asked.age_years, fit.hours.middle),
                asked.hours_wanted,
            ),
        ],
    )


def _facts(asked: Asked, fit: Fit, system: System) -> list[tuple[str, str]]:
    kept = {
        "ah": amount(fit.kept_ah, "ah", system),
        "part": amount(fit.kept_fraction, "ratio", system),
    }
    facts = [
        (_("Bank at 20 h when new"), amount(fit.capacity_ah, "ah", system)),
        (_("Wired as"), wiring_line(asked)),
        (_("Average draw of the night"), amount(fit.draw_a, "amps", system)),
        (
            _("Left at the cutoff, to start the engine")
            if asked.starts_engine
            else _("Left at the cutoff"),
            _("%(ah)s, %(part)s of the bank") % kept,
        ),
        (
            _("Back to full after it, at %(spare)s")
            % {"spare": amount(asked.spare_a, "amps", system)},
            amount(fit.charging_h, "hours", system),
        ),
        (_("Cable"), cable_line(fit, system)),
    ]
    if fit.load is not None:
        facts.insert(2, (_("Heat to move"), f"{number(fit.load.heat_w, -1)} W"))
    if fit.cable is not None:
        drop = amount(fit.cable.drop_v, "volts", system)
        part = number(fit.cable.drop_fraction * 100, 1)
        facts += [
            (
                _("Drop there and back at %(most)s") % {"most": amount(fit.most_a, "amps", system)},
                f"{drop} ({part} %)",
            ),
            (_("The cable may carry"), amount(fit.cable.ampacity_a, "amps", system)),
            (_("Fuse at the battery"), f"{fit.cable.fuse_a} A"),
        ]
    return facts


def _picture(
    title: str, x_title: str, curve: Curve, asked: tuple[float, float], wanted_h: float
) -> Picture:
    low, middle, high = (end.tolist() for end in curve.hours)
    first, last = number(curve.x[0], 1), number(curve.x[-1], 1)
    described = _(
        "From %(first)s to %(last)s (%(x)s) the hours go from %(from)s to %(to)s; asked for: %(wanted)s."
    ) % {
        "first": first,
        "last": last,
        "x": x_title,
        "from": number(middle[0], 1),
        "to": number(middle[-1], 1),
        "wanted": number(wanted_h, 1),
    }
    drawn = Drawn(
        title=title,
        x_title=x_title,
        x=curve.x.tolist(),
        low=low,
        middle=middle,
        high=high,
        asked=asked,
        limit=wanted_h,
        words=(_("hours"), _("nine banks in ten"), _("as asked"), _("hours wanted")),
        description=described,
    )
    rows = [
        [number(value, 1) for value in row] for row in zip(curve.x, low, middle, high, strict=True)
    ]
    header = [x_title, _("low end, h"), _("middle, h"), _("high end, h")]
    # The helper escapes all text it is given.
    return Picture(title, mark_safe(curve_chart(drawn)), header, rows)
