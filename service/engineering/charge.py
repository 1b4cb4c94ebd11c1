"""The refrigerant account: yearly leak rate, and what lost refrigerant does to the climate.

The two published leak-rate formulas serve as measures of a unit. The law's own thresholds are set
for far larger charges than the half kilogram of a sleeper cab, so a rate here is engineering
information and no finding of a breach; local codes and a certified technician decide.
"""

from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

from installs.engineering.saturation import designation

__all__ = [
    "GWP100",
    "co2e_kg",
    "gwp",
    "leak_rate_annualizing",
    "leak_rate_rolling",
    "legal_threshold_applies",
]

YEAR_DAYS = 365
LB_G = 453.59237

# Global warming potential over 100 years, by IPCC report. AR4: 40 CFR 98 table A-1 (R-1234yf: EU
# 517/2014; R-290 from memory). AR5: WG1 table 8.A.1 (components from memory; R-1234yf printed as
# '<1'). AR6: WG1 table 7.SM.7.
GWP100 = {
    "AR4": {"32": 675, "125": 3500, "134a": 1430, "143a": 4470, "1234yf": 4, "290": 3},
    "AR5": {"32": 677, "125": 3170, "134a": 1300, "143a": 4800, "1234yf": 1, "290": 3},
    "AR6": {"32": 771, "125": 3740, "134a": 1530, "143a": 5810, "1234yf": 0.501, "290": 0.02},
}

# Mass percent of each component: ANSI/ASHRAE Standard 34.
COMPOSITION = {
    "R-134a": {"134a": 100},
    "R-1234yf": {"1234yf": 100},
    "R-32": {"32": 100},
    "R-290": {"290": 100},
    "R-410A": {"32": 50, "125": 50},
    "R-407C": {"32": 23, "125": 25, "134a": 52},
    "R-404A": {"125": 44, "143a": 52, "134a": 4},
    "R-454B": {"32": 68.9, "1234yf": 31.1},
    "R-513A": {"1234yf": 56, "134a": 44},
}


def leak_rate_annualizing(
    added_g: ArrayLike, full_charge_g: ArrayLike, days_since_last_addition: ArrayLike
) -> NDArray:
    """Return the leak rate, % of full charge a year, that one top-up shows.

    40 CFR 82.152 'leak rate', annualizing method: added / full charge x 365 / days x 100, the
    days counted from the last time refrigerant was added and never more than 365. Additions that
    make good one leak belong together. Raises ValueError unless every charge and every number of
    days is above zero and no addition below.
    """
    added_g, full_charge_g = _masses(added_g, full_charge_g)
    days = np.asarray(days_since_last_addition, dtype=float)
    if (days <= 0).any():
        raise ValueError("the days since the last addition must be above zero")
    return added_g / full_charge_g * (YEAR_DAYS / np.minimum(days, YEAR_DAYS)) * 100


def leak_rate_rolling(
    unit: ArrayLike,
    added_g: ArrayLike,
    days_ago: ArrayLike,
    full_charge_g: ArrayLike,
    verified_days_ago: ArrayLike = np.inf,
) -> NDArray:
    """Return each unit's leak rate, % of full charge a year, from a year's additions.

    40 CFR 82.152 'leak rate', rolling average method: all that was added within the last 365
    days, or since the last follow-up test that proved the repair if that is later, over the full
    charge x 100. What was added on the day of that test went in before it.

    unit, added_g, days_ago: (N,) the additions, with the index 0 to U-1 of the unit of each;
    additions after the day asked about (days_ago below 0) are left out. full_charge_g: (U,).
    verified_days_ago: (U,) or one number; infinite where no repair was proved. Raises ValueError
    for a charge that is not above zero or an addition below.
    """
    added_g, full_charge_g = _masses(added_g, np.atleast_1d(full_charge_g))
    unit, days_ago = np.asarray(unit, dtype=int), np.asarray(days_ago, dtype=float)
    verified = np.broadcast_to(verified_days_ago, full_charge_g.shape)[unit]
    counts = (days_ago >= 0) & (days_ago <= YEAR_DAYS) & (days_ago < verified)
    year_g = np.bincount(unit, weights=np.where(counts, added_g, 0), minlength=len(full_charge_g))
    return year_g / full_charge_g * 100


def legal_threshold_applies(charge_g: float, refrigerant: str, on: date) -> tuple[str, ...]:
    """Name the United States leak-repair rules whose charge threshold a unit reaches on a day.

    40 CFR 82.157 is for 50 lb or more of ozone-depleting refrigerant; of those known here none
    is, and only from 1 January 2019 (from memory) to 9 April 2020 did it reach to others. 40 CFR
    84.106 (89 FR 82682) is for 15 lb or more of HFC or substitute with a GWP (AR4) above 53, from
    1 January 2026. Exemptions by kind of equipment are not weighed: an empty answer says only
    that the charge is too small. Both rules may have been amended; look them up.
    """
    rules = []
    if charge_g >= 50 * LB_G and date(2019, 1, 1) <= on < date(2020, 4, 10):
        rules.append("40 CFR 82.157")
    if charge_g >= 15 * LB_G and gwp(refrigerant) > 53 and on >= date(2026, 1, 1):
        rules.append("40 CFR 84.106")
    return tuple(rules)


def co2e_kg(mass_g: ArrayLike, refrigerant: str, report: str = "AR4") -> NDArray:
    """Return the mass of carbon dioxide, kg, that warms as much over 100 years.

    Name the report (AR4, AR5, AR6) wherever the figure is shown: lists differ by it.
    """
    return np.asarray(mass_g, dtype=float)[()] / 1000 * gwp(refrigerant, report)


def gwp(refrigerant: str, report: str = "AR4") -> float:
    """Return the 100-year warming potential, a blend's by mass (EU 2024/573 Annex VI method)."""
    parts = COMPOSITION[designation(refrigerant)]
    return sum(percent * GWP100[report][part] for part, percent in parts.items()) / 100


def _masses(added_g: ArrayLike, full_charge_g: ArrayLike) -> tuple[NDArray, NDArray]:
    added_g, full_charge_g = (np.asarray(mass, dtype=float) for mass in (added_g, full_charge_g))
    if (full_charge_g <= 0).any():
        raise ValueError("the full charge must be above zero")
    if (added_g < 0).any():
        raise ValueError("an addition cannot be below zero; refrigerant taken out is no addition")
    return added_g, full_charge_g
