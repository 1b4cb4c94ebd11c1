"""What the judgements of a visit's values say in words: on the page, and carried to the phone.

Advice says what to look at first, never what it is: a reading or two settle nothing.
"""

from typing import NamedTuple

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service.engineering.judging import (
    AS_EXPECTED,
    CANNOT_BE,
    NOT_JUDGED,
    OUT_OF_BAND,
    Judgement,
)

__all__ = ["ADVICE", "CODES", "Advice", "all_words", "judgement_text"]

VERDICTS = {
    AS_EXPECTED: gettext_lazy("As expected."),
    OUT_OF_BAND: gettext_lazy("Out of the expected band:"),
    CANNOT_BE: gettext_lazy("Cannot be:"),
    NOT_JUDGED: gettext_lazy("Not judged:"),
}
OFF_SATURATION = gettext_lazy(
    "no running unit shows this in such air. Did you swap the hoses, or slip on a key?"
)
CODES = {
    "misread": gettext_lazy("look at the gauge and the decimal point again."),
    "hoses_swapped": gettext_lazy("suction is above discharge. Did you swap the hoses?"),
    "pressures_equal": gettext_lazy(
        "both pressures are nearly the same. Does the compressor run, and are the valves open?"
    ),
    "standing": gettext_lazy(
        "the unit stood. Such a pressure shows how warm the refrigerant is, never the charge."
    ),
    "too_cold": gettext_lazy("in air this cold the pressures are low whatever the charge."),
    "needs_ambient_c": gettext_lazy("type the air outside first."),
    "needs_return_air_c": gettext_lazy("type the return air first."),
    "needs_suction_kpa": gettext_lazy("type the suction pressure first."),
    "needs_discharge_kpa": gettext_lazy("type the discharge pressure first."),
    "needs_rest_h": gettext_lazy("type how long the bank rested."),
    "needs_rest_v": gettext_lazy("type the voltage at rest first."),
    "needs_load_a": gettext_lazy("type the load; below 8 A it says nothing."),
    "not_rested": gettext_lazy("the bank rested less than 8 h, so its voltage still moves."),
    "lift_expected": "",
    "lift_low": gettext_lazy("low for the air outside."),
    "lift_high": gettext_lazy("high for the air outside."),
    "lift_cannot_be": OFF_SATURATION,
    "depression_expected": "",
    "depression_low": gettext_lazy("high for the return air."),
    "depression_high": gettext_lazy("low for the return air."),
    "depression_cannot_be": OFF_SATURATION,
    "superheat_expected": "",
    "superheat_low": gettext_lazy("little superheat; liquid may reach the compressor."),
    "superheat_high": gettext_lazy("much superheat; the coil is short of refrigerant."),
    "superheat_cannot_be": gettext_lazy("look at the clamp, the wrapping and the pressure again."),
    "subcooling_expected": "",
    "subcooling_low": gettext_lazy("little subcooling; the condenser holds little liquid."),
    "subcooling_high": gettext_lazy("much subcooling; liquid stands in the condenser."),
    "subcooling_cannot_be": gettext_lazy("look at the clamp, the wrapping and the pressure again."),
    "air_drop_expected": "",
    "air_drop_low": gettext_lazy("the air is hardly cooled."),
    "air_drop_high": gettext_lazy("the air is cooled much; little of it may pass."),
    "air_drop_cannot_be": gettext_lazy("did you mix up supply and return air?"),
    "rest_expected": "",
    "rest_low": gettext_lazy("the bank is far from full, or tired."),
    "rest_high": gettext_lazy("above a rested bank: is a charger or the engine on?"),
    "load_above_rest": gettext_lazy(
        "the voltage rises under load. Did you mix up the two, or is a charger or the engine on?"
    ),
    "resistance_expected": "",
    "resistance_high": gettext_lazy("the voltage falls much for this load."),
    "resistance_cannot_be": gettext_lazy("look at the voltages, the load and the decimal point."),
    "draw_expected": "",
    "draw_low": gettext_lazy("little for this output level."),
    "draw_high": gettext_lazy("much for this output level."),
}


class Advice(NamedTuple):
    """What it points to, what to check first, and what can hurt someone there."""

    means: str | Promise
    check: str | Promise
    caution: str | Promise = ""


_CIRCUIT = gettext_lazy(
    "Goggles and gloves; only people certified for it, by the local code, open the circuit. Ask "
    "first whether the refrigerant burns."
)
_FAN = gettext_lazy(
    "Switch off and disconnect before reaching near a fan; secure yourself against a fall."
)
_BANK = gettext_lazy(
    "A battery bank can weld a spanner and burst: take off rings, cover the terminals."
)
ADVICE = {
    "as_expected": Advice(
        gettext_lazy("Both pressures fit today's air."),
        gettext_lazy(
            "That is no proof of the charge: gauges hardly move until a tenth of it is gone. Pipe "
            "temperatures show it sooner."
        ),
    ),
    "low_refrigerant": Advice(
        gettext_lazy(
            "Both pressures are low for today's air: it points to too little refrigerant."
        ),
        gettext_lazy(
            "Look for oil at the joints first, then use a detector. Do not just top it up."
        ),
        _CIRCUIT,
    ),
    "condenser_air": Advice(
        gettext_lazy("Only the discharge is high: it points to a condenser short of air."),
        gettext_lazy("Look at the condenser coil and its fan first."),
        _FAN,
    ),
    "restriction": Advice(
        gettext_lazy(
            "Only the suction is low: it points to a restriction, or to little air over the coil."
        ),
        gettext_lazy(
            "Look at the filter and the blower first, then for a cold or frosted spot along the "
            "liquid line."
        ),
        _CIRCUIT,
    ),
    "both_high": Advice(
        gettext_lazy(
            "The discharge is high and the suction low: more than one thing may be wrong."
        ),
        gettext_lazy(
            "Look at both coils, filter and fans first; then for a restriction after the condenser."
        ),
        _FAN,
    ),
    "overcharge": Advice(
        gettext_lazy(
            "Both pressures are high for today's air: it points to too much refrigerant, or to air "
            "in the circuit."
        ),
        gettext_lazy(
            "Look at the condenser coil first and at what was added last. Only the scale tells the "
            "charge."
        ),
        _CIRCUIT,
    ),
    "not_pumping": Advice(
        gettext_lazy(
            "The discharge is low and the suction high: it points to a compressor that pumps little."
        ),
        gettext_lazy("Look first whether the output level is the one you chose, then at the draw."),
        _BANK,
    ),
    "lift_low": Advice(
        gettext_lazy("Only the discharge is low for the air outside."),
        gettext_lazy(
            "Look first whether the thermometer stands in the shade and the unit runs steady. Then "
            "take the pipe temperatures: a charge that shrinks shows there first."
        ),
    ),
    "depression_low": Advice(
        gettext_lazy("Only the suction is high for the return air."),
        gettext_lazy(
            "Look first whether the cab is hot and the unit has just begun; then at the expansion "
            "device."
        ),
        _CIRCUIT,
    ),
    "hoses_swapped": Advice(
        gettext_lazy("Suction is above discharge."),
        gettext_lazy("Look at the hoses: blue belongs to suction, red to discharge, by custom."),
        _CIRCUIT,
    ),
    "pressures_equal": Advice(
        gettext_lazy("Both pressures are nearly the same, as of a unit that stands."),
        gettext_lazy("Look first whether the compressor runs and the valves of the set are open."),
        _CIRCUIT,
    ),
    "standing": Advice(
        gettext_lazy("The unit stood: its pressures say nothing of the charge."),
        gettext_lazy("Let it run until it is steady, about 10 minutes, and read again."),
    ),
    "too_cold": Advice(
        gettext_lazy("It is too cold outside to judge the pressures."),
        gettext_lazy("Read again on a warmer day, or weigh the charge."),
    ),
    "resistance_high": Advice(
        gettext_lazy("The bank's voltage falls much under load: a bad joint, or a tired bank."),
        gettext_lazy(
            "Measure the drop over each joint, cable and fuse under load first, then each battery."
        ),
        _BANK,
    ),
    "rest_low": Advice(
        gettext_lazy("The bank is low after its rest."),
        gettext_lazy(
            "Charge it and measure again after 8 h of rest, each battery by itself; look for what "
            "draws while parked."
        ),
        _BANK,
    ),
}


def judgement_text(judgement: Judgement) -> str:
    """Return a judgement as it stands beside its value, such as `Out of the expected band: low …`."""
    return f"{VERDICTS[judgement.verdict]} {CODES[judgement.code]}".strip()


def all_words() -> dict:
    """Return every word that the phone judges with, in the language of the page."""
    return {
        "verdicts": {verdict: str(text) for verdict, text in VERDICTS.items()},
        "codes": {code: str(text) for code, text in CODES.items()},
        "advice": {
            code: {name: str(text) for name, text in told._asdict().items()}
            for code, told in ADVICE.items()
        },
        "advice_title": _("What this points to"),
        "check_title": _("Check first:"),
    }
