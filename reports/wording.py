"""A finding in plain words: why, how sure, and by when; the same on screen, in print and in sheets."""

from datetime import date

from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from fleetcool.wording import NO_BREAK, amount, number
from reports.analysis.features import FEATURES
from reports.models import Finding, ForecastEvent

__all__ = ["evidence_rows", "feature_label", "forecast_text", "how_sure", "why", "told_probability"]

LABELS = {
    "condensing_lift_k": gettext_lazy("condensing lift"),
    "evaporating_depression_k": gettext_lazy("evaporating depression"),
    "superheat_k": gettext_lazy("superheat"),
    "subcooling_k": gettext_lazy("subcooling"),
    "rest_v": gettext_lazy("rest voltage of a 12 V block"),
    "resistance_mohm": gettext_lazy("bank and joint resistance"),
    "bank_capacity_ah": gettext_lazy("bank capacity seen overnight"),
    "charge_missing_percent": gettext_lazy("charge missing"),
    "added_percent_per_year": gettext_lazy("refrigerant added a year"),
    "gauge_bias_kpa": gettext_lazy("gauge off by"),
}
OF_NIGHTS = "bank_capacity_ah"
OF_TOP_UPS = "added_percent_per_year"
# A change below this, in the feature's own unit, is not worth calling a rise or a fall; common
# practice of reading gauges and meters, no source.
STEADY = {"pressure": 7.0, "difference": 0.5, "volts": 0.05, "mohm": 0.3, "ah": 8.0, "ratio": 1.0}
# A screen of noisy readings is never certain, and rounding must not make it look so.
MOST_SURE = 0.99
# More than so many reasons make no plain sentence; the table of evidence has them all.
MOST_CLAUSES = 3
# A bound further away than this says only that there is none yet.
FAR_YEARS = 15


def why(finding: Finding, unit_system: str) -> str:
    """Return the one plain sentence that gives the reason of a finding with its numbers.

    Reads `finding.run`; fetch it with the finding.
    """
    telling = sorted(_one_a_feature(finding.evidence), key=_is_steady)[:MOST_CLAUSES]
    clauses = [_clause(row, unit_system) for row in telling]
    reason = _while(clauses) or _("its readings taken together point this way")
    if finding.gauge:
        reason = _("gauge %(gauge)s: %(reason)s") % {"gauge": finding.gauge, "reason": reason}
    if counted := _counted(finding.evidence):
        reason = _("%(reason)s, over %(counted)s") % {"reason": reason, "counted": counted}
    if finding.since:
        since = date_format(finding.since, "F Y")
        reason = _("%(reason)s since %(since)s") % {"reason": reason, "since": since}
    if finding.gauge and finding.touched:
        touched = ", ".join(finding.touched)
        reason = _("%(reason)s; it was used on %(units)s") % {"reason": reason, "units": touched}
    if forecast := forecast_text(finding):
        reason = _("%(reason)s; %(forecast)s") % {"reason": reason, "forecast": forecast}
    return capfirst(reason) + "."


def evidence_rows(finding: Finding, unit_system: str) -> list[dict]:
    """Return the evidence as rows of text: label, baseline, now, slope_per_year, each with its unit; and n."""
    return [
        {
            "label": capfirst(feature_label(row["feature"])),
            "baseline": _value(row["feature"], row["baseline"], unit_system),
            "now": _value(row["feature"], row["now"], unit_system),
            "slope_per_year": _value(row["feature"], row["slope_per_year"], unit_system),
            "n": row["n"],
        }
        for row in _one_a_feature(finding.evidence)
    ]


def forecast_text(finding: Finding) -> str:
    """Return when the charge or the bank no longer suffices, as a clause; empty without a forecast."""
    if not finding.forecast_on:
        return ""
    what = {
        ForecastEvent.CHARGE: _("the charge"),
        ForecastEvent.BANK: _("the bank's night at low output"),
    }[finding.forecast_event]
    limit = {ForecastEvent.CHARGE: _("80 %"), ForecastEvent.BANK: _("8 h")}[finding.forecast_event]
    words = {"what": what, "limit": limit, "when": _between(finding)}
    if finding.forecast_high <= finding.run.as_of:
        return _("%(what)s is most likely below %(limit)s already") % words
    return _("at this pace %(what)s falls below %(limit)s %(when)s") % words


def told_probability(probability: float) -> float:
    """Return a probability as people are told it."""
    return min(probability, MOST_SURE)


def how_sure(probability: float) -> str:
    """Return a probability as a number and in words, such as `97 %, nearly sure`."""
    if probability >= 0.95:
        words = _("nearly sure")
    elif probability >= 0.8:
        words = _("likely")
    elif probability >= 0.5:
        words = _("more likely than not")
    else:
        words = _("possible")
    percent = round(100 * told_probability(probability))
    return f"{percent}{NO_BREAK}%, {words}"


def feature_label(name: str) -> str:
    """Return a feature's name in plain words, for the middle of a sentence."""
    return str(LABELS[name])


def _one_a_feature(evidence: list[dict]) -> list[dict]:
    """Of the stretches in which a feature was seen (truck by truck), the one with most points."""
    best: dict[str, dict] = {}
    for row in evidence:
        name = row["feature"]
        if name not in best or row["n"] >= best[name]["n"]:
            best[name] = row
    return [row for row in best.values() if row["now"] or row["slope_per_year"]]


def _is_steady(row: dict) -> bool:
    if row["baseline"] is None:
        return False
    limit = STEADY[FEATURES[row["feature"]]]
    drift = row["slope_per_year"] or 0.0
    return abs(row["now"] - row["baseline"]) < limit and abs(drift) < limit


def _while(clauses: list[str]) -> str:
    """`a, b while c`."""
    first = ", ".join(clauses[:-1])
    return _(" while ").join(filter(None, [first, *clauses[-1:]]))


def _clause(row: dict, unit_system: str) -> str:
    name = row["feature"]
    words = {
        "feature": feature_label(name),
        "baseline": _value(name, row["baseline"], unit_system),
        "now": _value(name, row["now"], unit_system),
    }
    if name == "gauge_bias_kpa":
        words["now"] = _value(name, abs(row["now"]), unit_system)
        if row["now"] < 0:
            return _("it reads %(now)s too low against other gauges") % words
        return _("it reads %(now)s too high against other gauges") % words
    if name == "charge_missing_percent":
        return _missing(row, words, unit_system)
    if name == OF_TOP_UPS:
        return _("refrigerant was added at %(now)s of the charge a year") % words
    if row["baseline"] is None:
        return _("%(feature)s is %(now)s") % words
    if _is_steady(row):
        return _("%(feature)s stayed near %(now)s") % words
    change = row["now"] - row["baseline"]
    if abs(change) < STEADY[FEATURES[name]]:
        return _drifting(row, words, unit_system)
    if change < 0:
        return _("%(feature)s fell from %(baseline)s to %(now)s") % words
    return _("%(feature)s rose from %(baseline)s to %(now)s") % words


def _missing(row: dict, words: dict, unit_system: str) -> str:
    """What is gone of the charge or, right after a filling, how fast it goes."""
    if round(row["now"]) > 0 or not row["slope_per_year"]:
        return _("about %(now)s of the charge is missing") % words
    words["slope"] = _value(row["feature"], row["slope_per_year"], unit_system)
    return _("about %(slope)s of the charge is lost a year") % words


def _drifting(row: dict, words: dict, unit_system: str) -> str:
    """A trend that the newest readings do not show by themselves."""
    slope = row["slope_per_year"]
    words["slope"] = _value(row["feature"], abs(slope), unit_system)
    if slope < 0:
        return _("%(feature)s, now %(now)s, falls by %(slope)s a year") % words
    return _("%(feature)s, now %(now)s, rises by %(slope)s a year") % words


def _value(name: str, value: float | None, unit_system: str) -> str:
    if value is None:
        return "–"
    kind = FEATURES[name]
    if kind == "ratio":
        return f"{number(value, 0)}{NO_BREAK}%"
    return amount(value, kind, unit_system)


def _counted(evidence: list[dict]) -> str:
    """The largest number of readings, and of nights, that any of the evidence rests on."""
    nights = max((row["n"] for row in evidence if row["feature"] == OF_NIGHTS), default=0)
    not_read = (OF_NIGHTS, OF_TOP_UPS)
    readings = max((row["n"] for row in evidence if row["feature"] not in not_read), default=0)
    parts = []
    if readings:
        parts.append(ngettext("%(n)d reading", "%(n)d readings", readings) % {"n": readings})
    if nights:
        parts.append(ngettext("%(n)d night", "%(n)d nights", nights) % {"n": nights})
    return _(" and ").join(parts)


def _between(finding: Finding) -> str:
    low, high = _month(finding.forecast_low), _month(finding.forecast_high)
    if finding.forecast_high.year - finding.run.as_of.year > FAR_YEARS:
        return _("some time after %(month)s") % {"month": low}
    if low == high:
        return _("in %(month)s") % {"month": low}
    if finding.forecast_low <= finding.run.as_of:
        return _("by %(month)s") % {"month": high}
    return _("between %(low)s and %(high)s") % {"low": low, "high": high}


def _month(day: date) -> str:
    return date_format(day, "F Y")
