"""What a proof is: one number or one yes of an install, its limits, and what follows from it.

The words for its code and reason are elsewhere; here is only what was measured and what it means.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

__all__ = [
    "Band",
    "Measured",
    "Nameplate",
    "Place",
    "Proof",
    "Reason",
    "Verdict",
    "confirmed",
    "graded",
    "number",
    "overall",
]

Measured = Mapping[str, float | bool | str | None]


class Verdict(StrEnum):
    """From best to worst."""

    PROVED = "proved"
    LOOK_AGAIN = "look_again"
    NOT_PROVED = "not_proved"


class Reason(StrEnum):
    """Why a verdict is what it is."""

    WITHIN = "within"
    YES = "yes"
    NO = "no"
    MISSING = "missing"
    BELOW = "below"
    ABOVE = "above"
    CANNOT_BE = "cannot_be"
    SHORT = "short"
    WEAK_TEST = "weak_test"
    ABOVE_TEST_LIMIT = "above_test_limit"
    UNEXPLAINED_DROP = "unexplained_drop"
    UNEXPLAINED_RISE = "unexplained_rise"
    NOT_LOW = "not_low"
    ROSE = "rose"
    ROSE_MOISTURE = "rose_moisture"
    ROSE_LEAK = "rose_leak"
    UNDERCHARGED = "undercharged"
    OVERCHARGED = "overcharged"
    SINGLE_BATTERY = "single_battery"
    NO_NAMEPLATE = "no_nameplate"
    FUSE_SMALL = "fuse_small"
    FUSE_LARGE = "fuse_large"
    FUSE_FAR = "fuse_far"
    LITTLE_WATER = "little_water"
    STANDING = "standing"
    SWAPPED = "swapped"
    TOO_COLD = "too_cold"
    LOW_OUTPUT = "low_output"
    NOT_RUN = "not_run"
    ENGINE_RUNNING = "engine_running"
    NEAR_CUTOFF = "near_cutoff"
    BELOW_CUTOFF = "below_cutoff"
    DROP_AT_HIGH = "drop_at_high"
    BELOW_FLOOR = "below_floor"
    BELOW_USUAL = "below_usual"
    HIGH_CUTOFF = "high_cutoff"


@dataclass(frozen=True)
class Proof:
    """One proof of a step; `low` and `high` bound what proves, None where there is no bound.

    `kind` is one of `fleetcool.quantities`, or 'yes', 'micron', 'minutes', 'cm', 'ml'.
    """

    code: str
    step: str
    measured: float | bool | None
    low: float | None
    high: float | None
    kind: str
    verdict: Verdict
    reason: Reason


@dataclass(frozen=True)
class Nameplate:
    """What the unit's own plate says; None where it says nothing."""

    refrigerant: str
    charge_g: float
    system_v: float
    draw_low_a: float | None = None
    draw_mid_a: float | None = None
    draw_high_a: float | None = None
    cutoff_v: float | None = None

    @property
    def blocks(self) -> float:
        """How many 12 V batteries stand in series."""
        return self.system_v / 12

    @property
    def highest_draw_a(self) -> float | None:
        return max(filter(None, (self.draw_low_a, self.draw_mid_a, self.draw_high_a)), default=None)


@dataclass(frozen=True)
class Place:
    """Where the unit was put: the bank's type, and the local air that gauges read against, kPa."""

    battery_type: str
    air_kpa: float


@dataclass(frozen=True)
class Band:
    """What proves, and how far beyond it one looks again; both ends belong to the band."""

    low: float | None = None
    high: float | None = None
    look_low: float | None = None
    look_high: float | None = None

    def verdict(self, value: float) -> Verdict:
        if _between(value, self.low, self.high):
            return Verdict.PROVED
        look_low = self.low if self.look_low is None else self.look_low
        look_high = self.high if self.look_high is None else self.look_high
        return Verdict.LOOK_AGAIN if _between(value, look_low, look_high) else Verdict.NOT_PROVED


def number(measured: Measured, key: str) -> float | None:
    """Return a measured number, None where it was not taken.

    Raises ValueError, naming the key, for what is no number at all.
    """
    value = measured.get(key)
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        raise ValueError(f"{key} is a number, not yes or no")
    try:
        value = float(value)
    except ValueError:
        raise ValueError(f"{key} is a number, not {value!r}") from None
    return value if math.isfinite(value) else None


def confirmed(code: str, step: str, measured: Measured) -> Proof:
    """Return the proof of something that is so or is not, found under its own code."""
    value = measured.get(code)
    if value is None or value == "":
        verdict, reason, value = Verdict.NOT_PROVED, Reason.MISSING, None
    elif value is True:
        verdict, reason = Verdict.PROVED, Reason.YES
    elif value is False:
        verdict, reason = Verdict.NOT_PROVED, Reason.NO
    else:
        raise ValueError(f"{code} is yes or no, not {value!r}")
    return Proof(code, step, value, None, None, "yes", verdict, reason)


def graded(
    code: str,
    step: str,
    value: float | None,
    kind: str,
    band: Band,
    *,
    below: Reason = Reason.BELOW,
    above: Reason = Reason.ABOVE,
    instead: tuple[Verdict, Reason] | None = None,
) -> Proof:
    """Return the proof of a number against a band; `instead` replaces the verdict if given."""
    if instead is not None:
        verdict, reason = instead
    elif value is None:
        verdict, reason = Verdict.NOT_PROVED, Reason.MISSING
    else:
        verdict, reason = band.verdict(value), above
        if verdict is Verdict.PROVED:
            reason = Reason.WITHIN
        elif band.low is not None and value < band.low:
            reason = below
    return Proof(code, step, value, band.low, band.high, kind, verdict, reason)


def overall(proofs: Iterable[Proof]) -> Verdict:
    """Return the worst verdict; of no proof at all nothing is proved."""
    order = list(Verdict)
    return max((proof.verdict for proof in proofs), key=order.index, default=Verdict.NOT_PROVED)


def _between(value: float, low: float | None, high: float | None) -> bool:
    """A hair beyond a limit is the rounding of a conversion, not the instrument's reading."""
    hair = 1e-9 * max(abs(value), 1.0)
    return (low is None or value >= low - hair) and (high is None or value <= high + hair)
