"""The acceptance of an install: each step's measurements against their limits.

Nothing is ticked off: a step is proved by its numbers, by a yes to what only an eye can see, or it
is not. Where a limit has a source it stands beside it; most are the trade's common practice.
"""

from installs.engineering import saturation
from installs.engineering.battery import SURVIVAL_FLOOR_V
from installs.engineering.first_run import CODES as FIRST_RUN_CODES
from installs.engineering.first_run import first_run, usual_cutoff_v
from installs.engineering.proofs import (
    Band,
    Measured,
    Nameplate,
    Place,
    Proof,
    Reason,
    Verdict,
    confirmed,
    graded,
    number,
    overall,
)
from installs.engineering.vacuum import (
    DECAY_MICRON,
    DECAY_MIN,
    LEAST_MICRON,
    TARGET_MICRON,
    Decay,
    Shape,
    judge_decay,
    rise_shape,
)

__all__ = [
    "CODES",
    "Nameplate",
    "Place",
    "Proof",
    "REFRIGERANT_STEPS",
    "Reason",
    "STEPS",
    "Verdict",
    "overall",
    "proofs_of",
]

# The proofs of each step, in the order that keeps people and machines safe.
CODES = {
    "mounting": ("pads_fitted", "torqued", "firm"),
    "hoses": ("routed_clear", "clamped", "pass_through_protected"),
    "pressure_test": ("test_pressure", "test_minutes", "pressure_drop", "no_leak_found"),
    "evacuation": ("pump_minutes", "lowest_micron", "decay", "decay_minutes"),
    "charge": ("charge",),
    "supply": ("positive_from_first", "negative_from_last", "fuse", "fuse_to_battery"),
    "drain": ("water", "ran_out_outside", "no_water_inside"),
    "sealing": ("sealed_inside", "sealed_outside"),
    "first_run": FIRST_RUN_CODES,
    "settings": ("cutoff", "set_point", "shown_to_driver"),
}
STEPS = tuple(CODES)
# Those that open the circuit or put a gauge on it; the first run does the latter.
REFRIGERANT_STEPS = frozenset({"pressure_test", "evacuation", "charge", "first_run"})

# A test stands at least where the low side does on a warm day, at most where the high side is built
# for: ASHRAE 15 and EN 378, from memory. The plate on the unit and the maker's sheet go before.
TEST_LOW_C, TEST_HIGH_C = 27.0, 55.0
# Common practice, no source: short of a quarter of an hour a small leak does not show.
TEST_MIN, TEST_LOOK_MIN = 15.0, 10.0
# Common practice, no source: 1 % of the pressure, and one mark of a 1 psi gauge.
TEST_DROP, GAUGE_KPA = 0.01, 7.0
# Nobody tests in it, and no thermometer of the trade reads it (from memory).
TEST_AIR_C = Band(-40, 60)

# Common practice, no source.
PUMP_MIN = 25.0

# Common practice, no source: scale, hose and cylinder cannot do better than the first.
CHARGE, CHARGE_G, CHARGE_LOOK = 0.03, 10.0, 0.07

# A load of three hours or more takes 125 % (US practice for continuous loads, NEC 210.20, from
# memory). Where nobody gave the cable's ampacity, twice the draw is the most that proves (no source).
FUSE, FUSE_LOOK, FUSE_HIGH, FUSE_HIGH_LOOK = 1.25, 1.0, 2.0, 3.0
# Common practice on vehicles, no source. Marine practice (ABYC E-11, read at second hand) is
# stricter: 18 cm (7 in) bare, and up to 183 cm (72 in) only in a sheath.
FUSE_CM = Band(0, 45, look_high=183)

# Common practice, no source: a cup shows which way the drain runs.
WATER_ML = 250.0

# Common practice, no source: what a driver can sleep in; beyond the second nobody means it.
SET_POINT_C = Band(16, 28, look_low=10, look_high=32)
# Common practice, no source: a 12 V bank cut off above it under load keeps most of its charge, and
# above the second it is cut off nearly full.
HIGH_CUTOFF_V, HIGH_CUTOFF_LOOK_V = 12.2, 12.6


def proofs_of(step: str, measured: Measured, nameplate: Nameplate, place: Place) -> list[Proof]:
    """Return the proofs of a step, from its measurements in internal units.

    A measurement that is missing or None was not taken, and does not prove. Raises ValueError for
    an unknown step, and for a measurement of the wrong kind, naming it.
    """
    match step:
        case "pressure_test":
            return _pressure_test(measured, nameplate, place)
        case "evacuation":
            return _evacuation(measured)
        case "charge":
            return [_charge(measured, nameplate)]
        case "supply":
            return _supply(measured, nameplate)
        case "drain":
            return _drain(measured)
        case "first_run":
            return first_run(measured, nameplate, place)
        case "settings":
            return _settings(measured, nameplate, place)
        case "mounting" | "hoses" | "sealing":
            return [confirmed(code, step, measured) for code in CODES[step]]
    raise ValueError(f"{step!r} is not a step; the steps are {', '.join(STEPS)}")


def _pressure_test(measured: Measured, nameplate: Nameplate, place: Place) -> list[Proof]:
    step = "pressure_test"
    low_kpa, high_kpa = (
        float(saturation.bubble_kpa(celsius, nameplate.refrigerant)) - place.air_kpa
        for celsius in (TEST_LOW_C, TEST_HIGH_C)
    )
    start_kpa, minutes = number(measured, "start_kpa"), number(measured, "minutes")
    return [
        graded(
            "test_pressure",
            step,
            start_kpa,
            "pressure",
            Band(low_kpa, high_kpa, look_low=low_kpa / 2),
            below=Reason.WEAK_TEST,
            above=Reason.ABOVE_TEST_LIMIT,
        ),
        graded(
            "test_minutes",
            step,
            minutes,
            "minutes",
            Band(TEST_MIN, look_low=TEST_LOOK_MIN),
            below=Reason.SHORT,
        ),
        _pressure_drop(measured, place.air_kpa),
        confirmed("no_leak_found", step, measured),
    ]


def _pressure_drop(measured: Measured, air_kpa: float) -> Proof:
    """What the nitrogen lost beyond its cooling: at one volume, p2 = p1 T2 / T1, both absolute."""
    start_kpa, end_kpa = number(measured, "start_kpa"), number(measured, "end_kpa")
    start_c, end_c = number(measured, "start_c"), number(measured, "end_c")
    if None in (start_kpa, end_kpa, start_c, end_c):
        return graded("pressure_drop", "pressure_test", None, "pressure", Band())
    expected_kpa = (start_kpa + air_kpa) * (end_c + 273.15) / (start_c + 273.15) - air_kpa
    limit_kpa = TEST_DROP * max(start_kpa, 0) + GAUGE_KPA
    drop_kpa = expected_kpa - end_kpa
    instead = None
    if any(TEST_AIR_C.verdict(celsius) is not Verdict.PROVED for celsius in (start_c, end_c)):
        instead = (Verdict.LOOK_AGAIN, Reason.CANNOT_BE)
    elif drop_kpa < -limit_kpa:
        # Nothing goes in by itself: a valve was left open or a thermometer was misread.
        instead = (Verdict.LOOK_AGAIN, Reason.UNEXPLAINED_RISE)
    return graded(
        "pressure_drop",
        "pressure_test",
        drop_kpa,
        "pressure",
        Band(high=limit_kpa, look_high=2 * limit_kpa),
        above=Reason.UNEXPLAINED_DROP,
        instead=instead,
    )


def _evacuation(measured: Measured) -> list[Proof]:
    step = "evacuation"
    lowest, minutes = number(measured, "lowest_micron"), number(measured, "decay_minutes")
    too_low = lowest is not None and lowest < LEAST_MICRON
    return [
        graded(
            "pump_minutes",
            step,
            number(measured, "minutes"),
            "minutes",
            Band(PUMP_MIN, look_low=0),
            below=Reason.SHORT,
        ),
        graded(
            "lowest_micron",
            step,
            lowest,
            "micron",
            Band(high=TARGET_MICRON),
            above=Reason.NOT_LOW,
            instead=(Verdict.LOOK_AGAIN, Reason.CANNOT_BE) if too_low else None,
        ),
        _decay(measured),
        graded(
            "decay_minutes",
            step,
            minutes,
            "minutes",
            Band(DECAY_MIN, look_low=0),
            below=Reason.SHORT,
        ),
    ]


def _decay(measured: Measured) -> Proof:
    """The rise after isolating; a reading half way (`midway_micron`, optional) tells its shape."""
    lowest, after = number(measured, "lowest_micron"), number(measured, "after_micron")
    minutes = number(measured, "decay_minutes")
    if None in (lowest, after, minutes):
        instead = (Verdict.NOT_PROVED, Reason.MISSING)
    else:
        instead = {
            Decay.HELD: (Verdict.PROVED, Reason.WITHIN),
            Decay.SHORT: (Verdict.LOOK_AGAIN, Reason.SHORT),
            Decay.ROSE: (Verdict.NOT_PROVED, _why_it_rose(measured)),
            Decay.NOT_LOW: (Verdict.NOT_PROVED, Reason.NOT_LOW),
            Decay.CANNOT_BE: (Verdict.LOOK_AGAIN, Reason.CANNOT_BE),
        }[judge_decay(lowest, after, minutes)]
    return graded("decay", "evacuation", after, "micron", Band(high=DECAY_MICRON), instead=instead)


def _why_it_rose(measured: Measured) -> Reason:
    minutes, midway = number(measured, "decay_minutes"), number(measured, "midway_micron")
    if midway is None or not minutes:
        return Reason.ROSE
    rise = [number(measured, "lowest_micron"), midway, number(measured, "after_micron")]
    shape = rise_shape([0, minutes / 2, minutes], rise)
    return {Shape.MOISTURE: Reason.ROSE_MOISTURE, Shape.LEAK: Reason.ROSE_LEAK}.get(
        shape, Reason.ROSE
    )


def _charge(measured: Measured, nameplate: Nameplate) -> Proof:
    """The weighed charge against the plate, and what the maker adds for longer hoses."""
    charge_g = number(measured, "charge_g")
    wanted_g = nameplate.charge_g + (number(measured, "allowance_g") or 0)
    proved_g = max(CHARGE * wanted_g, CHARGE_G)
    look_g = max(CHARGE_LOOK * wanted_g, CHARGE_G)
    return graded(
        "charge",
        "charge",
        charge_g,
        "mass",
        Band(wanted_g - proved_g, wanted_g + proved_g, wanted_g - look_g, wanted_g + look_g),
        below=Reason.UNDERCHARGED,
        above=Reason.OVERCHARGED,
    )


def _supply(measured: Measured, nameplate: Nameplate) -> list[Proof]:
    step = "supply"
    ends = [confirmed(code, step, measured) for code in CODES[step][:2]]
    if number(measured, "battery_count") == 1:
        # One battery has no first and last: nothing to share.
        ends = [
            Proof(e.code, step, None, None, None, "yes", Verdict.PROVED, Reason.SINGLE_BATTERY)
            for e in ends
        ]
    to_battery = graded(
        "fuse_to_battery",
        step,
        number(measured, "fuse_to_battery_cm"),
        "cm",
        FUSE_CM,
        below=Reason.CANNOT_BE,
        above=Reason.FUSE_FAR,
    )
    return [*ends, _fuse(measured, nameplate.highest_draw_a), to_battery]


def _fuse(measured: Measured, highest_draw_a: float | None) -> Proof:
    """Large enough for the load, small enough for the cable: the cable goes first."""
    fuse_a, ampacity_a = number(measured, "fuse_a"), number(measured, "cable_ampacity_a")
    over_cable = fuse_a is not None and ampacity_a is not None and fuse_a > ampacity_a
    band, instead = Band(high=ampacity_a), None
    if over_cable:
        instead = (Verdict.NOT_PROVED, Reason.FUSE_LARGE)
    elif highest_draw_a is None and fuse_a is not None:
        instead = (Verdict.LOOK_AGAIN, Reason.NO_NAMEPLATE)
    if highest_draw_a is not None:
        band = Band(
            FUSE * highest_draw_a,
            ampacity_a or FUSE_HIGH * highest_draw_a,
            look_low=FUSE_LOOK * highest_draw_a,
            look_high=ampacity_a or FUSE_HIGH_LOOK * highest_draw_a,
        )
    return graded(
        "fuse",
        "supply",
        fuse_a,
        "amps",
        band,
        below=Reason.FUSE_SMALL,
        above=Reason.FUSE_LARGE,
        instead=instead,
    )


def _drain(measured: Measured) -> list[Proof]:
    water = graded(
        "water",
        "drain",
        number(measured, "water_ml"),
        "ml",
        Band(WATER_ML),
        below=Reason.LITTLE_WATER,
    )
    return [water, *(confirmed(code, "drain", measured) for code in CODES["drain"][1:])]


def _settings(measured: Measured, nameplate: Nameplate, place: Place) -> list[Proof]:
    step = "settings"
    return [
        _cutoff(measured, nameplate, place.battery_type),
        graded("set_point", step, number(measured, "set_point_c"), "temperature", SET_POINT_C),
        confirmed("shown_to_driver", step, measured),
    ]


def _cutoff(measured: Measured, nameplate: Nameplate, battery_type: str) -> Proof:
    """The cutoff under load; what the battery type survives goes before what the plate says."""
    cutoff_v = number(measured, "cutoff_v")
    floor_v = SURVIVAL_FLOOR_V[battery_type] * nameplate.blocks
    usual_v = usual_cutoff_v(nameplate, battery_type)
    under_floor = cutoff_v is not None and cutoff_v < floor_v
    return graded(
        "cutoff",
        "settings",
        cutoff_v,
        "volts",
        Band(
            usual_v,
            max(usual_v, HIGH_CUTOFF_V * nameplate.blocks),
            look_low=floor_v,
            look_high=max(usual_v, HIGH_CUTOFF_LOOK_V * nameplate.blocks),
        ),
        below=Reason.BELOW_FLOOR if under_floor else Reason.BELOW_USUAL,
        above=Reason.HIGH_CUTOFF,
    )
