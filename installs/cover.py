"""What terms cover on a unit and until when: counted from its first install, following the serial."""

from datetime import date
from typing import NamedTuple

from django.db.models import F

from installs.models import Cover, Install, Terms, Unit
from installs.querysets import TermsQuerySet

__all__ = ["DatedTerms", "dated_terms", "first_install"]


class DatedTerms(NamedTuple):
    """Terms, the install day they count from, and each cover with its last day by months."""

    terms: Terms
    counted_from: date
    rows: list[tuple[Cover, date]]


def first_install(unit: Unit) -> Install | None:
    """Return the install that a unit's terms count from, whichever truck it stands in today.

    One that was undone on its own day has begun nothing.
    """
    stood = Install.objects.filter(unit=unit).exclude(removed_on=F("installed_on"))
    return stood.select_related("unit").first()


def dated_terms(first: Install, terms: TermsQuerySet) -> DatedTerms | None:
    """Return those of these terms (all, or what a person may see) that a first install is under."""
    given = terms.given_to(first).first()
    if given is None:
        return None
    covers = given.covers.order_by("pk")
    rows = [(cover, cover.ends_on(first.installed_on)) for cover in covers]
    return DatedTerms(given, first.installed_on, rows)
