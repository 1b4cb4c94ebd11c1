"""The records that a rule rests on, by name and with the page each stands on."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.models import Person
from fleetcool.wording import amount
from installs.models import Certificate, Install, StepRecord, Terms, Unit
from service.engineering.coverage import Ref
from service.models import Claim, Movement, Reading, Visit, VisitPhoto

__all__ = ["Link", "links_to"]


class Link(NamedTuple):
    """A record in words; `url` is empty where it stands on no page."""

    text: str
    url: str


def links_to(refs: Iterable[Ref], user: Person) -> dict[Ref, Link]:
    """Return the name and the page of each record that a person may see; one query a kind."""
    keys = defaultdict(set)
    for ref in refs:
        keys[ref.kind].add(ref.key)
    return {
        Ref(kind, key): link
        for kind, wanted in keys.items()
        for key, link in KINDS[kind](wanted, user).items()
    }


def _terms(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Terms.objects.visible_to(user).filter(pk__in=keys)
    return {one.pk: Link(_("Terms: %(terms)s") % {"terms": one}, "") for one in found}


def _installs(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Install.objects.visible_to(user).filter(pk__in=keys).select_related("unit")
    return {
        one.pk: Link(
            _("Install on %(day)s") % {"day": one.installed_on}, one.unit.get_absolute_url()
        )
        for one in found
    }


def _nights(keys: set[int], user: Person) -> Mapping[int, Link]:
    """The nights of a unit, by the unit's key."""
    found = Unit.objects.visible_to(user).filter(pk__in=keys)
    return {one.pk: Link(_("Nights of the unit"), one.get_absolute_url()) for one in found}


def _visits(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Visit.objects.visible_to(user).filter(pk__in=keys)
    return {
        one.pk: Link(_("Visit on %(day)s") % {"day": _day(one.at)}, one.get_absolute_url())
        for one in found
    }


def _certificates(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Certificate.objects.visible_to(user).filter(pk__in=keys)
    return {
        one.pk: Link(_("Certificate %(number)s") % {"number": one.number}, one.get_absolute_url())
        for one in found
    }


def _readings(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Reading.objects.visible_to(user).filter(pk__in=keys).select_related("unit")
    return {
        one.pk: Link(
            _("Reading of %(day)s") % {"day": _day(one.taken_at)},
            reverse("visit", args=[one.visit_id]) if one.visit_id else one.unit.get_absolute_url(),
        )
        for one in found
    }


def _photos(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = VisitPhoto.objects.visible_to(user).filter(pk__in=keys)
    return {
        one.pk: Link(_("Photo %(n)d") % {"n": number}, reverse("visit_photo", args=[one.pk]))
        for number, one in enumerate(found, start=1)
    }


def _movements(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Movement.objects.visible_to(user).filter(pk__in=keys).select_related("unit")
    return {
        one.pk: Link(
            f"{capfirst(one.get_movement_display())}, "
            f"{amount(one.mass_g, 'mass', user.unit_system)}, {_day(one.at)}",
            reverse("unit_refrigerant", args=[one.unit.serial])
            if user.sees_all
            else one.unit.get_absolute_url(),
        )
        for one in found
    }


def _claims(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = Claim.objects.visible_to(user).filter(pk__in=keys)
    return {
        one.pk: Link(_("Claim %(number)s") % {"number": one.number}, one.get_absolute_url())
        for one in found
    }


def _step_records(keys: set[int], user: Person) -> Mapping[int, Link]:
    found = StepRecord.objects.visible_to(user).filter(pk__in=keys)
    return {
        one.pk: Link(
            _("%(step)s, %(day)s") % {"step": one.get_step_display(), "day": _day(one.taken_at)},
            reverse("commissioning", args=[one.commissioning_id]) if user.sees_all else "",
        )
        for one in found
    }


def _day(at: datetime) -> str:
    return f"{timezone.localtime(at, timezone.get_default_timezone()):%Y-%m-%d}"


KINDS: dict[str, Callable[[set[int], Person], Mapping[int, Link]]] = {
    "terms": _terms,
    "install": _installs,
    "nights": _nights,
    "visit": _visits,
    "certificate": _certificates,
    "reading": _readings,
    "visit_photo": _photos,
    "movement": _movements,
    "claim": _claims,
    "step_record": _step_records,
}
