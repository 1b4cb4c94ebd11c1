"""Why a measurement is asked for, in one plain sentence; the same on screen, in print and in sheets."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.wording import NO_BREAK
from reports.models import Ask, Cause, Measure
from reports.wording import told_probability

__all__ = ["ask_text", "when_text"]

CAUSES = {
    Cause.REFRIGERANT_LEAK: gettext_lazy("A refrigerant leak"),
    Cause.BATTERY_WEAR: gettext_lazy("A worn battery bank"),
    Cause.WIRING_RESISTANCE: gettext_lazy("A bad joint or cable"),
    Cause.CONDENSER_AIRFLOW: gettext_lazy("A condenser short of air"),
    Cause.RESTRICTION: gettext_lazy("A restriction in the circuit"),
    Cause.OVERCHARGE: gettext_lazy("An overcharge"),
    Cause.DOUBTFUL_INSTRUMENT: gettext_lazy("A doubtful gauge"),
}
MEASURES = {
    Measure.GAUGES: gettext_lazy("both gauges read again %(when)s"),
    Measure.PIPE_TEMPERATURES: gettext_lazy("gauges and pipe temperatures %(when)s"),
    Measure.WEIGHED_CHARGE: gettext_lazy("the whole charge, recovered and weighed %(when)s,"),
    Measure.REST_AND_LOAD: gettext_lazy("the bank's voltage at rest and under load %(when)s"),
    Measure.NIGHTS: gettext_lazy("a month of logged nights, begun %(when)s,"),
}
# From these parts of the doubt on, it would settle most or a good part of it.
MOST, GOOD_PART = 0.5, 0.25


def ask_text(ask: Ask, today: date) -> str:
    """Return the sentence, such as `A refrigerant leak is 35 % likely; …` with what would tell."""
    if not ask.cause:
        return _(
            "Not enough readings to say anything yet: read both gauges and the pipe temperatures."
        )
    words = {
        "cause": CAUSES[Cause(ask.cause)],
        "percent": f"{round(100 * told_probability(ask.probability))}{NO_BREAK}%",
        "measure": MEASURES[Measure(ask.measure)] % {"when": when_text(ask, today)},
    }
    part = ask.bits / ask.doubt_bits
    if part >= MOST:
        return _("%(cause)s is %(percent)s likely; %(measure)s would settle most of it.") % words
    if part >= GOOD_PART:
        return (
            _("%(cause)s is %(percent)s likely; %(measure)s would settle a good part of it.")
            % words
        )
    return _("%(cause)s is %(percent)s likely; %(measure)s would settle a little of it.") % words


def when_text(ask: Ask, today: date) -> str:
    """Return when it is to be measured, for the middle of a sentence: `now` or `in January`."""
    if ask.by <= today:
        return _("now")
    form = "F" if (ask.by - today).days < 300 else _("F Y")
    return _("in %(month)s") % {"month": date_format(ask.by, form)}
