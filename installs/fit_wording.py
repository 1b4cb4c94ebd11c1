"""A fit check in words: what is refused and how to mend it, the verdict, its reasons, what would change it."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from fleetcool.quantities import Kind, System
from fleetcool.wording import amount, number
from installs.engineering.battery import in_series
from installs.engineering.fit import Fit, Mend, Reason
from installs.engineering.fit_asked import Asked, Problem

__all__ = [
    "LEVEL_WORDS",
    "VERDICT_SIGNS",
    "cable_line",
    "mend_lines",
    "problem_text",
    "reason_text",
    "verdict_line",
    "wiring_line",
]

LEVEL_WORDS = {
    "low": gettext_lazy("low output"),
    "mid": gettext_lazy("mid output"),
    "high": gettext_lazy("high output"),
}
# A sign beside the word, so that the verdict is told by more than a colour.
VERDICT_SIGNS = {"carries": "✓", "marginal": "≈", "does_not_carry": "✗"}

KINDS: dict[str, Kind] = {
    "night_c": "temperature",
    "set_point_c": "temperature",
    "cable_c": "temperature",
    "one_way_m": "length",
    "charged": "ratio",
}

REFUSALS = {
    "missing": gettext_lazy("Needed for this check."),
    "unknown": gettext_lazy("Choose one of the list."),
    "mixed_types": gettext_lazy(
        "A bank of mixed battery types is not checked: they charge and rest at different voltages and "
        "one type ruins the other. Make the bank of one type, one size and one age."
    ),
    "odd_on_24": gettext_lazy(
        "On a 24 V truck 12 V batteries stand in pairs: give an even number. A single battery tapped "
        "for 12 V is always overcharged or undercharged."
    ),
    "draws_out_of_order": gettext_lazy(
        "A unit draws most at high output: look at the three currents again."
    ),
}


def problem_text(problem: Problem, system: System) -> str:
    """Return why a field cannot be as it is, and how to mend it."""
    if problem.code in REFUSALS:
        return str(REFUSALS[problem.code])
    if problem.code == "voltage_differs":
        return _(
            "A %(unit)d V unit does not run on a %(truck)d V truck. Choose a unit for %(truck)d V."
        ) % {"unit": problem.low, "truck": problem.high}
    if problem.code == "cutoff_below_floor":
        return _(
            "Below %(floor)s under load this battery type is harmed. Set the cutoff at that or higher."
        ) % {"floor": amount(problem.low, "volts", system)}
    if problem.code == "cutoff_takes_nothing":
        return _(
            "At this cutoff the unit stops almost at once: a loaded bank sinks below it with the charge "
            "still in it. Common practice is 11 V on a 12 V bank."
        )
    kind = KINDS.get(problem.field)
    low, high = (
        amount(end, kind, system) if kind else f"{end:g}" for end in (problem.low, problem.high)
    )
    return _("Give a number from %(low)s to %(high)s.") % {"low": low, "high": high}


def verdict_line(fit: Fit, asked: Asked, system: System) -> str:
    """The verdict in one sentence, with the hours and the end of them that decides."""
    words = {
        "wanted": amount(asked.hours_wanted, "hours", system),
        "middle": amount(fit.hours.middle, "hours", system),
        "low": number(fit.hours.low, 1),
        "high": amount(fit.hours.high, "hours", system),
    }
    if fit.verdict == "carries":
        sentence = _("Carries %(wanted)s: about %(middle)s, nine banks in ten %(low)s to %(high)s.")
    elif fit.verdict == "marginal":
        sentence = _(
            "Marginal for %(wanted)s: about %(middle)s, nine banks in ten %(low)s to %(high)s."
        )
    else:
        sentence = _(
            "Does not carry %(wanted)s: about %(middle)s, nine banks in ten %(low)s to %(high)s."
        )
    return sentence % words


def reason_text(reason: Reason, system: System) -> str:
    """Return a reason, or what to know beside the verdict, as a sentence."""
    told, kind = REASONS[reason.code]
    value = amount(reason.value, kind, system) if kind else f"{reason.value:g}"
    return str(told) % {"value": value}


# The words of each reason, and the kind of its number; None is a bare one.
REASONS: dict[str, tuple[str, Kind | None]] = {
    "low_end_reaches": (
        gettext_lazy("Even a weak bank of this type and age gives %(value)s."),
        "hours",
    ),
    "low_end_falls_short": (
        gettext_lazy(
            "A good bank carries the night; a weak one of this type and age gives %(value)s."
        ),
        "hours",
    ),
    "middle_falls_short": (
        gettext_lazy("An ordinary bank of this type and age gives only %(value)s."),
        "hours",
    ),
    "start_not_kept": (
        gettext_lazy(
            "This bank starts the engine too, and at the cutoff only %(value)s of it is left: the engine "
            "may not start in the morning. Set the cutoff higher."
        ),
        "ratio",
    ),
    "running_engine": (
        gettext_lazy(
            "%(value)s is high output: on this bank that is for a running engine, to cool the cab before "
            "the rest. Sleep at a lower output."
        ),
        "amps",
    ),
    "load_beyond_unit": (
        gettext_lazy(
            "The cab asks for more than the unit can do at %(value)s: it runs at high output all night "
            "and the cab stays warmer than the set-point."
        ),
        "amps",
    ),
    "cold_bank": (
        gettext_lazy("At %(value)s a bank gives less than its rating; that is counted in."),
        "temperature",
    ),
    "no_charge_below_0_c": (
        gettext_lazy(
            "At %(value)s a LiFePO4 battery must not be charged: its own electronics or a heater must "
            "see to that."
        ),
        "temperature",
    ),
    "old_bank": (
        gettext_lazy(
            "A lead-acid bank %(value)s years old may be near its end. Test its capacity before you "
            "promise a night on it."
        ),
        None,
    ),
    "not_refilled": (
        gettext_lazy(
            "The way back to full takes %(value)s, longer than a day's driving: the next night begins "
            "with less than a full bank."
        ),
        "hours",
    ),
    "no_cable": (
        gettext_lazy(
            "No stocked cable carries %(value)s that far with a small enough drop: shorten the run."
        ),
        "amps",
    ),
}


def mend_lines(mend: Mend, asked: Asked, system: System) -> list[str]:
    """Return what alone would make it carry, each as a sentence; says so where nothing alone does."""
    lines = []
    if mend.battery_count and mend.battery_count != asked.battery_count:
        more = ngettext(
            "A bank of %(n)d such battery.", "A bank of %(n)d such batteries.", mend.battery_count
        )
        lines.append(more % {"n": mend.battery_count})
    if mend.cutoff_v:
        line = _("A cutoff of %(volts)s, the highest at which it carries.")
        lines.append(line % {"volts": amount(mend.cutoff_v, "volts", system)})
    if mend.set_point_c:
        line = _("A set-point of %(point)s, the coolest at which it carries.")
        lines.append(line % {"point": amount(mend.set_point_c, "temperature", system)})
    if mend.output:
        line = _("The whole night at %(level)s, the highest at which it carries.")
        lines.append(line % {"level": LEVEL_WORDS[mend.output]})
    return lines or [
        _("No single change makes it carry: try a bigger bank together with a lower output.")
    ]


def cable_line(fit: Fit, system: System) -> str:
    """The cable and its fuse, and whether the drop or the heat asked for the gauge."""
    if fit.cable is None:
        return _("none will do")
    why = {"drop": _("by the voltage drop"), "ampacity": _("by the current it must bear")}
    return _("AWG %(awg)s (%(area)s mm²), %(why)s") % {
        "awg": fit.cable.awg,
        "area": number(fit.cable.area_mm2, 0),
        "why": why[fit.cable.decided_by],
    }


def wiring_line(asked: Asked) -> str:
    """How the batteries stand together: side by side, or side by side in strings of two."""
    each = in_series(asked.battery_type, asked.truck_v)
    strings = asked.battery_count // each
    if each == 1:
        line = ngettext("%(n)d battery alone", "%(n)d batteries in parallel", strings)
    else:
        line = ngettext(
            "%(n)d string of %(each)d in series",
            "%(n)d strings in parallel, each of %(each)d in series",
            strings,
        )
    return line % {"n": strings, "each": each}
