"""The first run: draw, voltages, pressures and air of a unit at work, judged against that day.

Pressures go through saturation temperature, with the local air added to the gauge, so that one
band serves every day and every refrigerant. With the unit standing they are the air's temperature
and say nothing of the charge: then no pressure, air or voltage is proved. With the engine running
the alternator carries the load, and the bank proves nothing.

Good pressures do not prove the charge either: gauges hardly move until a tenth of it is gone. The
scale proves it, and superheat and subcooling show more than the gauges.
"""

import math
from functools import partial

from installs.engineering import battery, saturation
from installs.engineering.proofs import (
    Band,
    Measured,
    Nameplate,
    Place,
    Proof,
    Reason,
    Verdict,
    graded,
    number,
)

__all__ = ["CODES", "first_run", "usual_cutoff_v"]

STEP = "first_run"
CODES = (
    "draw_low_a",
    "draw_mid_a",
    "draw_high_a",
    "cable_drop",
    "bank_under_load",
    "bank_resistance",
    "condensing_lift",
    "evaporating_depression",
    "supply_air_drop",
    "superheat",
    "subcooling",
)
OUTPUTS = ("low", "mid", "high")

# Common practice, no source: on a hot day (32-38 °C, the cab at 26-32 °C) R-134a shows 40-50 psi
# of suction and 150-180 psi of discharge. That is a lift of 6-19 K and a depression of 14-25 K.
# The ends stand where the circuit itself would: a condenser hardly above the air passes no heat, a
# coil more than 26 K under 26 °C air freezes; 22 K over the air is a condenser short of air.
LIFT_K = Band(6, 22, look_low=3, look_high=28)
DEPRESSION_K = Band(12, 26, look_low=8, look_high=30)
# Common practice, no source; a valve keeps the narrower middle of it, an orifice wanders.
SUPERHEAT_K = Band(3, 15, look_low=1, look_high=22)
SUBCOOLING_K = Band(3, 12, look_low=1, look_high=18)
# Common practice, no source: with less ambient heat the pressures are low whatever the charge.
COLD_C = 15.0
# Common practice, no source: 15-20 °F across a coil is taken for sound. More than the upper end is
# a blower that moves too little air.
AIR_DROP_K = Band(8, 22, look_low=6, look_high=28)

# Common practice, no source: meter, voltage and speed of the day move a draw so far.
DRAW, DRAW_LOOK = 0.15, 0.30
# Marine practice (ABYC E-11, read at second hand): 3 % of the system voltage for circuits that
# must work; 5 % is ours.
CABLE_DROP, CABLE_DROP_LOOK = 0.03, 0.05
# Two meters read one voltage so far apart (from memory).
METER_V = 0.05
# Joints, cables and the batteries' own sag at a steady load, 12 V; from memory of healthy banks.
BANK_MOHM, BANK_MOHM_LOOK = 20.0, 35.0
# Common practice, no source: 11 V under load on a 12 V bank, and a margin over it on a full bank.
USUAL_CUTOFF_V, CUTOFF_MARGIN_V = 11.0, 0.3

STANDING = (Verdict.NOT_PROVED, Reason.STANDING)
CANNOT_BE = (Verdict.NOT_PROVED, Reason.CANNOT_BE)
judged = partial(graded, step=STEP)


def usual_cutoff_v(nameplate: Nameplate, battery_type: str) -> float:
    """Return the cutoff to set, V: the nameplate's or 11 V a 12 V block; the bank's floor wins."""
    usual_v = nameplate.cutoff_v or USUAL_CUTOFF_V * nameplate.blocks
    return max(usual_v, battery.SURVIVAL_FLOOR_V[battery_type] * nameplate.blocks)


def first_run(measured: Measured, nameplate: Nameplate, place: Place) -> list[Proof]:
    """Return the proofs of a first run, in the order of CODES.

    Superheat and subcooling are there only where a pipe was measured.
    """
    return [
        *_draws(measured, nameplate),
        _cable_drop(measured, nameplate),
        *_bank(measured, nameplate, place),
        *_pressures(measured, nameplate.refrigerant, place.air_kpa),
        _air_drop(measured),
        *_pipes(measured, nameplate.refrigerant, place.air_kpa),
    ]


def _draws(measured: Measured, nameplate: Nameplate) -> list[Proof]:
    return [
        _draw(level, number(measured, f"draw_{level}_a"), getattr(nameplate, f"draw_{level}_a"))
        for level in OUTPUTS
    ]


def _draw(level: str, draw_a: float | None, rated_a: float | None) -> Proof:
    instead = None
    if draw_a is None:
        # High output may be more than a bank carries with the engine off: then it is not run.
        if level == "high" or rated_a is None:
            instead = (Verdict.LOOK_AGAIN, Reason.NOT_RUN)
    elif draw_a < 0:
        instead = CANNOT_BE
    elif rated_a is None:
        instead = (Verdict.LOOK_AGAIN, Reason.NO_NAMEPLATE)
    band = Band()
    if rated_a is not None:
        band = Band(
            rated_a * (1 - DRAW),
            rated_a * (1 + DRAW),
            rated_a * (1 - DRAW_LOOK),
            rated_a * (1 + DRAW_LOOK),
        )
    return judged(f"draw_{level}_a", value=draw_a, kind="amps", band=band, instead=instead)


def _cable_drop(measured: Measured, nameplate: Nameplate) -> Proof:
    system_v = nameplate.system_v
    drop_v = _difference(measured, "bank_v", "unit_v")
    band = Band(high=CABLE_DROP * system_v, look_high=CABLE_DROP_LOOK * system_v)
    instead = None
    if not _runs(measured):
        instead = STANDING
    elif drop_v is not None and drop_v < -METER_V * nameplate.blocks:
        instead = CANNOT_BE
    elif drop_v is not None and band.verdict(drop_v) is Verdict.PROVED:
        # A drop grows with the current: a small one at low output may be too much at high.
        draw_a, highest_a = _draw_now(measured), nameplate.highest_draw_a
        at_highest_v = drop_v * highest_a / draw_a if draw_a and highest_a else drop_v
        if at_highest_v > CABLE_DROP_LOOK * system_v:
            instead = (Verdict.LOOK_AGAIN, Reason.DROP_AT_HIGH)
    return judged("cable_drop", value=drop_v, kind="volts", band=band, instead=instead)


def _bank(measured: Measured, nameplate: Nameplate, place: Place) -> list[Proof]:
    blocks = nameplate.blocks
    bank_v, draw_a = number(measured, "bank_v"), _draw_now(measured)
    sag_v = _difference(measured, "rest_v", "bank_v")
    mohm = None
    if sag_v is not None and draw_a:
        mohm = float(battery.internal_mohm(sag_v, 0, draw_a))
    instead = None
    if not _runs(measured):
        instead = STANDING
    elif measured.get("engine_running") and mohm is not None:
        instead = (Verdict.LOOK_AGAIN, Reason.ENGINE_RUNNING)
    cutoff_v = usual_cutoff_v(nameplate, place.battery_type)
    under_load = Band(low=cutoff_v + CUTOFF_MARGIN_V * blocks, look_low=cutoff_v)
    low = Reason.BELOW_CUTOFF if bank_v is not None and bank_v < cutoff_v else Reason.NEAR_CUTOFF
    # The same batteries at twice the voltage and half the current: four times the resistance.
    resistance = Band(high=BANK_MOHM * blocks**2, look_high=BANK_MOHM_LOOK * blocks**2)
    rises = (Verdict.LOOK_AGAIN, Reason.CANNOT_BE) if sag_v is not None and sag_v <= 0 else None
    return [
        judged(
            "bank_under_load",
            value=bank_v,
            kind="volts",
            band=under_load,
            below=low,
            instead=instead,
        ),
        judged(
            "bank_resistance", value=mohm, kind="mohm", band=resistance, instead=instead or rises
        ),
    ]


def _pressures(measured: Measured, refrigerant: str, air_kpa: float) -> list[Proof]:
    condensing_c, evaporating_c = _saturation(measured, refrigerant, air_kpa)
    ambient_c, return_air_c = number(measured, "ambient_c"), number(measured, "return_air_c")
    # At low output a sound circuit too passes less heat, over smaller differences.
    below = Reason.LOW_OUTPUT if measured.get("output") == "low" else Reason.BELOW
    lift = ("condensing_lift", condensing_c, ambient_c, LIFT_K)
    depression = ("evaporating_depression", return_air_c, evaporating_c, DEPRESSION_K)
    return [_thermal(*difference, measured, below) for difference in (lift, depression)]


def _pipes(measured: Measured, refrigerant: str, air_kpa: float) -> list[Proof]:
    condensing_c, evaporating_c = _saturation(measured, refrigerant, air_kpa)
    suction_c, liquid_c = number(measured, "suction_line_c"), number(measured, "liquid_line_c")
    proofs = []
    if suction_c is not None:
        proofs.append(_thermal("superheat", suction_c, evaporating_c, SUPERHEAT_K, measured))
    if liquid_c is not None:
        proofs.append(_thermal("subcooling", condensing_c, liquid_c, SUBCOOLING_K, measured))
    return proofs


def _thermal(
    code: str,
    warm_c: float | None,
    cold_c: float | None,
    band: Band,
    measured: Measured,
    below: Reason = Reason.BELOW,
) -> Proof:
    """Return the proof of a difference, K, one side of which comes from a pressure."""
    ambient_c = number(measured, "ambient_c")
    value = None if warm_c is None or cold_c is None else warm_c - cold_c
    instead = None
    if not _runs(measured):
        value, instead = None, STANDING
    elif _swapped(measured):
        value, instead = None, (Verdict.NOT_PROVED, Reason.SWAPPED)
    elif value is not None and math.isnan(value):
        value, instead = None, CANNOT_BE
    elif value is not None and ambient_c is not None and ambient_c < COLD_C:
        instead = (Verdict.LOOK_AGAIN, Reason.TOO_COLD)
    return judged(code, value=value, kind="difference", band=band, below=below, instead=instead)


def _air_drop(measured: Measured) -> Proof:
    drop_k = _difference(measured, "return_air_c", "supply_air_c")
    instead = None if _runs(measured) else STANDING
    return judged(
        "supply_air_drop", value=drop_k, kind="difference", band=AIR_DROP_K, instead=instead
    )


def _saturation(
    measured: Measured, refrigerant: str, air_kpa: float
) -> tuple[float | None, float | None]:
    """Return condensing (bubble) and evaporating (dew) °C; None not taken, NaN off the table."""
    suction_kpa, discharge_kpa = number(measured, "suction_kpa"), number(measured, "discharge_kpa")
    condensing_c = evaporating_c = None
    if discharge_kpa is not None:
        condensing_c = float(saturation.bubble_c(discharge_kpa + air_kpa, refrigerant))
    if suction_kpa is not None:
        evaporating_c = float(saturation.dew_c(suction_kpa + air_kpa, refrigerant))
    return condensing_c, evaporating_c


def _runs(measured: Measured) -> bool:
    return measured.get("output") in OUTPUTS


def _swapped(measured: Measured) -> bool:
    suction_kpa, discharge_kpa = number(measured, "suction_kpa"), number(measured, "discharge_kpa")
    return suction_kpa is not None and discharge_kpa is not None and suction_kpa > discharge_kpa


def _draw_now(measured: Measured) -> float | None:
    """The draw at the output at which voltages and pressures were read."""
    return number(measured, f"draw_{measured['output']}_a") if _runs(measured) else None


def _difference(measured: Measured, key: str, less: str) -> float | None:
    value, other = number(measured, key), number(measured, less)
    return None if value is None or other is None else value - other
