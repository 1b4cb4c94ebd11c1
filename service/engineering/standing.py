"""What the pressure of a standing circuit says: the temperature, while any liquid is left in it.

It is never read as a charge. R-134a at 25 °C stands at 665 kPa absolute with 500 g in a circuit of
2 litres, with 300 g, with 100 g; only below 65 g, with 87 % gone, does the pressure begin to fall
(check values of the project, from CoolProp 8.0.0).
"""

from typing import Literal, NamedTuple

from installs.engineering.saturation import bubble_kpa, dew_kpa
from service.engineering.density import vapour_g_per_l

__all__ = ["Standing", "says"]

# A gauge and a thermometer together are trusted to this part of the pressure: about 1.5 K of
# R-134a. Common practice, no source.
DOUBT = 0.05

State = Literal["liquid", "vapour", "too_high", "unknown"]


class Standing(NamedTuple):
    """What a standing pressure says.

    `liquid`: there is liquid, and the pressure says the temperature only; each litre of the
    circuit holds at least `vapour_g_per_l`, and how much more cannot be known. `vapour`: no liquid
    is left, and each litre holds at most `vapour_g_per_l`. `too_high`: above what this refrigerant
    can have at this temperature (air in it, another refrigerant, or the circuit is warmer than the
    air). `unknown`: outside the tables.
    """

    state: State
    vapour_g_per_l: float


def says(pressure_kpa: float, temperature_c: float, refrigerant: str, air_kpa: float) -> Standing:
    """Say what a gauge pressure of a circuit that has stood at one temperature means.

    pressure_kpa is gauge, air_kpa the local air it was read against. There is no function that
    turns it into a charge, for there is no such charge.
    """
    absolute_kpa = pressure_kpa + air_kpa
    bubble, dew = (float(f(temperature_c, refrigerant)) for f in (bubble_kpa, dew_kpa))
    full = float(vapour_g_per_l(temperature_c, refrigerant))
    # Comparisons with NaN, outside the tables, are false.
    if not (bubble > 0 and full > 0 and absolute_kpa >= 0):
        return Standing("unknown", float("nan"))
    if absolute_kpa > bubble * (1 + DOUBT):
        return Standing("too_high", full)
    if absolute_kpa >= dew * (1 - DOUBT):
        return Standing("liquid", full)
    # A vapour below its saturation pressure is at most as dense as in proportion to it, since its
    # compressibility only grows as the pressure falls.
    return Standing("vapour", full * absolute_kpa / dew)
