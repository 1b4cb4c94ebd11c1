"""A dated table of rules on refrigerant, country by country, and which would reach a unit.

It says what to look up, not what to do: rules change, exemptions by kind of equipment are not all
weighed, and this is not legal advice. The thresholds of the leak rules are set for charges far
larger than the half kilogram of a sleeper cab. As known on 2026-11-25; a row that says 'secondary'
or 'from memory' was not read in its primary text.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from installs.engineering.saturation import designation, is_flammable
from service.engineering.charge import COMPOSITION, LB_G, co2e_kg, gwp

__all__ = [
    "EU",
    "KEPT_YEARS",
    "RULES",
    "Charge",
    "Reach",
    "Rule",
    "kept_years",
    "reach",
]

EU = frozenset(
    (
        *("AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU"),
        *("IE", "IT", "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK"),
    )
)
# How long records of refrigerant are kept, years. US: 40 CFR 82.42 and 84 subpart C (3 years, from
# memory for 82.42). EU: Regulation (EU) 2024/573 article 7. Elsewhere the longer of the two.
KEPT_YEARS = {"US": 3, "EU": 5}
LONGEST_KEPT = 5

Why = Literal["reaches", "not_yet", "over", "kind", "charge", "vehicle"]


class Charge(NamedTuple):
    """A unit in a truck's cab, as far as a rule asks: its refrigerant and its full charge."""

    refrigerant: str
    charge_g: float


class Reach(NamedTuple):
    """Whether a rule reaches a unit on a day, and why or why not.

    `kind`: it is for other refrigerants. `charge`: it is for larger charges, from `least_g` of
    this refrigerant on. `vehicle`: it is for other vehicles. `not_yet`, `over`: its dates.
    """

    rule: "Rule"
    why: Why
    least_g: float | None = None

    @property
    def reaches(self) -> bool:
        return self.why == "reaches"


@dataclass(frozen=True)
class Rule:
    """A row of the table. `asks` returns why it does not reach a unit, and from which charge on."""

    code: str
    country: str
    source: str
    asks: Callable[[Charge], tuple[Why, float | None]]
    since: date
    until: date | None = None


def kept_years(region: str) -> int:
    """Return for how many years a shop of this place (ISO 3166) keeps its records of refrigerant."""
    country = region.partition("-")[0]
    return KEPT_YEARS.get("EU" if country in EU else country, LONGEST_KEPT)


def reach(charge: Charge, on: date) -> list[Reach]:
    """Return every rule of the table with whether it reaches a unit on a day."""
    charge = charge._replace(refrigerant=designation(charge.refrigerant))
    return [_reach(rule, charge, on) for rule in RULES]


def _reach(rule: Rule, charge: Charge, on: date) -> Reach:
    why, least_g = rule.asks(charge)
    if why == "reaches" and on < rule.since:
        why = "not_yet"
    elif why == "reaches" and rule.until is not None and on > rule.until:
        why = "over"
    return Reach(rule, why, least_g)


def _parts(charge: Charge) -> set[str]:
    return set(COMPOSITION[charge.refrigerant])


def _every(charge: Charge) -> tuple[Why, float | None]:
    return "reaches", None


def _ozone_depleting(charge: Charge) -> tuple[Why, float | None]:
    """None of the refrigerants known here is of class I or II."""
    return "kind", None


def _other_vehicles(charge: Charge) -> tuple[Why, float | None]:
    return "vehicle", None


def _us_hfc(charge: Charge) -> tuple[Why, float | None]:
    if gwp(charge.refrigerant, "AR4") <= 53:
        return "kind", None
    least_g = 15 * LB_G
    return ("reaches" if charge.charge_g >= least_g else "charge"), least_g


def _burning_but_r1234yf(charge: Charge) -> tuple[Why, float | None]:
    burns = is_flammable(charge.refrigerant) and charge.refrigerant != "R-1234yf"
    return ("reaches" if burns else "kind"), None


def _eu_leak_checks(charge: Charge) -> tuple[Why, float | None]:
    """From 5 t CO2e of an HFC or a blend with one; from 1 kg of an HFO alone."""
    parts = _parts(charge)
    if parts == {"290"}:
        return "kind", None
    hfo_alone = parts == {"1234yf"}
    least_g = 1_000.0 if hfo_alone else 5_000 / float(co2e_kg(1, charge.refrigerant, "AR4"))
    return ("reaches" if charge.charge_g >= least_g else "charge"), least_g


def _fluorinated(charge: Charge) -> tuple[Why, float | None]:
    return ("kind" if _parts(charge) == {"290"} else "reaches"), None


RULES = (
    # 40 CFR 82.157: 50 lb or more of ozone-depleting refrigerant.
    Rule("us_ozone_leaks", "US", "40 CFR 82.157", _ozone_depleting, date(2019, 1, 1)),
    # 89 FR 82682 (11 October 2024), secondary: 15 lb or more, GWP above 53. May be amended since.
    Rule("us_hfc_leaks", "US", "40 CFR 84.106", _us_hfc, date(2026, 1, 1)),
    # The date from memory.
    Rule("us_service", "US", "40 CFR 82.30 – 82.42", _every, date(1992, 8, 13)),
    # Venting: Clean Air Act 608(c) and 609; the date for substitutes from memory.
    Rule("us_venting", "US", "40 CFR 82.154", _every, date(1995, 11, 15)),
    # SNAP: flammable refrigerants in vehicles but HFC-152a and R-1234yf; the date from memory.
    Rule("us_flammable", "US", "40 CFR 82 subpart G", _burning_but_r1234yf, date(1995, 6, 13)),
    # Extended to the cabs of heavy vehicles from 12 March 2027 (secondary; the day from memory).
    Rule("eu_leak_checks", "EU", "(EU) 2024/573 art. 5", _eu_leak_checks, date(2027, 3, 12)),
    # From memory.
    Rule("eu_certificate", "EU", "(EU) 2024/573 art. 10", _fluorinated, date(2024, 3, 11)),
    Rule("eu_venting", "EU", "(EU) 2024/573 art. 4", _fluorinated, date(2024, 3, 11)),
    # Cars and light vans (M1, N1) only; from memory.
    Rule("eu_cars", "EU", "2006/40/EC", _other_vehicles, date(2011, 1, 1)),
)
