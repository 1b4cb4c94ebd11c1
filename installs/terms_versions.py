"""A new version of terms: what it would change, seen before it is saved, and saved whole."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from installs.models import Booking, Cover, Install, PartGroup, Terms, TermsVoid, Unit

__all__ = ["Change", "Preview", "Version", "add_version", "preview", "versions"]


class Version(NamedTuple):
    """What a version is made of: the terms, not saved yet, their covers by group, what voids."""

    terms: Terms
    covers: Mapping[str, Mapping[str, object]]
    voids: Iterable[str]


class Change(NamedTuple):
    """A unit that is in a truck or was, and would come under other terms than it does now."""

    install: Install
    before: Terms | None


class Preview(NamedTuple):
    """What a version would change, and to how many units of tomorrow it would be given."""

    changes: list[Change]
    booked: list[Booking]
    in_stock: int

    @property
    def rewritten(self) -> list[Change]:
        """The changes that would take a promise back: units that have terms already."""
        return [change for change in self.changes if change.before is not None]


def preview(version: Version) -> Preview:
    """Return what a version would change; nothing is kept of it.

    Which terms an install comes under is said by one query only: so the version is written, asked
    after, and taken back.
    """
    terms = version.terms
    firsts = terms.installs_reached().firsts()
    before = dict(firsts.with_terms().values_list("pk", "terms_id"))
    with transaction.atomic():
        saved = _write(version)
        under = firsts.with_terms().filter(terms_id=saved.pk)
        rows = under.select_related("unit__model", "customer", "tractor").order_by("installed_on")
        changed = list(rows)
        transaction.set_rollback(True)
    # What was taken back has no key any more.
    terms.pk, terms._state.adding = None, True
    known = Terms.objects.in_bulk({key for key in before.values() if key})
    changes = [Change(install, known.get(before[install.pk])) for install in changed]
    return Preview(changes, _booked(terms), _in_stock(terms))


@transaction.atomic
def add_version(version: Version) -> Terms:
    """Save a version. Raises ValidationError where it would rewrite one of its own line.

    A line is known by its name: units that were installed under an earlier version keep it.
    """
    terms = version.terms
    kept = [one for one in preview(version).rewritten if one.before.name == terms.name]
    if kept:
        last = max(one.install.installed_on for one in kept)
        raise ValidationError(
            {
                "given_from": _(
                    "%(count)d units were installed under “%(terms)s”, the last on %(day)s, and "
                    "keep it. Give this version from a later day on."
                )
                % {"count": len(kept), "terms": kept[0].before, "day": last}
            }
        )
    return _write(version)


def versions(user) -> list[tuple[Terms, int]]:
    """All versions, line by line and the newest first, with how many units are under each."""
    under: dict[int, int] = {}
    for terms_id in Install.objects.firsts().with_terms().values_list("terms_id", flat=True):
        under[terms_id] = under.get(terms_id, 0) + 1
    rows = Terms.objects.visible_to(user).select_related("model", "customer")
    rows = rows.prefetch_related("covers", "voids").order_by("name", "-given_from")
    return [(terms, under.get(terms.pk, 0)) for terms in rows]


@transaction.atomic
def _write(version: Version) -> Terms:
    terms = version.terms
    terms.full_clean()
    terms.save()
    for part_group in PartGroup:
        if cover := version.covers.get(part_group):
            Cover.objects.create(terms=terms, part_group=part_group, **cover)
    for code in version.voids:
        TermsVoid.objects.create(terms=terms, code=code)
    return terms


def _booked(terms: Terms) -> list[Booking]:
    """Open bookings that put a unit in on or after the first day, and which the terms are for."""
    begins = timezone.make_aware(datetime.combine(terms.given_from, datetime.min.time()))
    rows = Booking.objects.open().filter(job__puts_a_unit_in=True, begins_at__gte=begins)
    if terms.customer_id:
        rows = rows.filter(customer=terms.customer_id)
    if terms.model_id:
        rows = rows.filter(Q(unit_model=terms.model_id) | Q(unit__model=terms.model_id))
    return list(rows.with_all().order_by("begins_at"))


def _in_stock(terms: Terms) -> int:
    units = Unit.objects.in_stock()
    if terms.model_id:
        units = units.filter(model=terms.model_id)
    if terms.made_from:
        units = units.filter(made_on__gte=terms.made_from)
    if terms.made_to:
        units = units.filter(made_on__lte=terms.made_to)
    return units.count()
