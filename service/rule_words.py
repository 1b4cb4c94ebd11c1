"""The rules on refrigerant in plain words, and why each reaches a unit or does not."""

from django.conf import settings
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.quantities import System
from fleetcool.wording import amount
from service.engineering.rules import EU, Reach

__all__ = ["RULE_ASKS", "country_of_shop", "why"]

RULE_ASKS = {
    "us_ozone_leaks": gettext_lazy("Leak repair, for refrigerants that deplete ozone"),
    "us_hfc_leaks": gettext_lazy("Leak repair, for HFC with a GWP above 53"),
    "us_service": gettext_lazy(
        "Work on a vehicle's air conditioner: a certified technician, approved equipment, records"
    ),
    "us_venting": gettext_lazy("Refrigerant is recovered, never let out"),
    "us_flammable": gettext_lazy(
        "Flammable refrigerants in a vehicle's air conditioner are not accepted, R-1234yf aside"
    ),
    "eu_leak_checks": gettext_lazy("Regular leak checks, also of the cabs of heavy vehicles"),
    "eu_certificate": gettext_lazy("Work on F-gases: a trained and certified person"),
    "eu_venting": gettext_lazy("F-gases are recovered, never let out"),
    "eu_cars": gettext_lazy("No GWP above 150 in the air conditioners of new cars"),
}


def country_of_shop() -> str:
    """The country by whose rules the shop works, as the table names it."""
    country = settings.REGION.partition("-")[0]
    return "EU" if country in EU else country


def why(reach: Reach, system: System) -> str:
    """Say why a rule reaches a unit or does not, for a person with these units."""
    rule = reach.rule
    match reach.why:
        case "not_yet":
            return _("It would reach this unit, from %s on.") % date_format(rule.since, "Y-m-d")
        case "over":
            return _("It would have reached this unit, until %s.") % date_format(
                rule.until, "Y-m-d"
            )
        case "kind":
            return _("It is for other refrigerants.")
        case "vehicle":
            return _("It is for cars and light vans.")
        case "charge":
            return _("It is for far larger charges: from %s of this refrigerant on.") % amount(
                reach.least_g, "mass", system
            )
    if rule.country != country_of_shop():
        return _("There it would reach this unit.")
    return _("It reaches this unit.")
