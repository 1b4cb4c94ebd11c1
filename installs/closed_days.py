"""The public holidays of the shop's place, on which nobody is booked."""

from datetime import date
from functools import cache

import holidays
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

__all__ = ["holiday_name"]


def holiday_name(day: date) -> str:
    """Name the public holiday of a day, by the shop's `REGION` (`US`, `US-TX`); empty if none."""
    return _holidays(settings.REGION, day.year).get(day, "")


# By year and never changed once made, so that no thread reads a calendar half filled.
@cache
def _holidays(region: str, year: int) -> dict[date, str]:
    country, _dash, subdivision = region.partition("-")
    try:
        return dict(holidays.country_holidays(country, subdivision or None, years=year))
    except NotImplementedError as unknown:
        raise ImproperlyConfigured(
            f"FLEETCOOL_REGION is {region!r}; write a country or a part of one by ISO 3166, "
            f"such as US or US-TX. {unknown}."
        ) from None
