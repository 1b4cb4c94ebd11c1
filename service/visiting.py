"""What is done with a visit: logged whole, in one transaction and once, and settled against another.

A phone sends a visit when it has signal, perhaps hours later and perhaps more than once. The
`sent_id` that its page made tells one visit from another; `seen_at` tells what its page knew.
"""

import hashlib
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile, File
from django.db import transaction
from django.utils.translation import gettext as _

from installs.engineering.saturation import air_kpa
from installs.models import Install, Tractor, Unit
from installs.photos import redrawn
from service.book import By, move
from service.models import (
    CareDone,
    Cylinder,
    Movement,
    Reading,
    ReadingKind,
    Settled,
    Visit,
    VisitPart,
    VisitPhoto,
)

__all__ = ["Moved", "Told", "air_of", "log_visit", "sent_before", "settle"]

# Two rows of one unit never have the same time; a phone's clock may give them one.
APART = timedelta(milliseconds=1)


@dataclass(frozen=True)
class Moved:
    """Refrigerant into or out of the unit, as it is told."""

    kind: str
    mass_g: float
    cylinder: Cylinder | None


@dataclass(frozen=True)
class Told:
    """What is told of a visit: words and reading by the fields of their models, in internal units.

    An empty `reading` is none taken.
    """

    words: dict[str, object] = field(default_factory=dict)
    reading: dict[str, object] = field(default_factory=dict)
    parts: list[dict[str, str]] = field(default_factory=list)
    moved: Moved | None = None
    photos: list[File] = field(default_factory=list)
    care_done: list[str] = field(default_factory=list)


def log_visit(unit: Unit, told: Told, by: By, sent_id: UUID, seen_at: datetime | None) -> Visit:
    """Write down a visit with its reading, parts, care, refrigerant and photos, all or nothing.

    Sent again under the same `sent_id` it is the visit that stands already. Visits of others that
    were written down after `seen_at` are kept beside it as `meanwhile`. Raises ValidationError for
    what is no photo and for refrigerant that cannot have been moved so.
    """
    if sent := _sent(unit, sent_id):
        return sent
    # Outside the transaction: it takes its time, and nobody else has to wait for it.
    pictures = [redrawn(photo) for photo in told.photos]
    with transaction.atomic():
        Unit.objects.select_for_update().get(pk=unit.pk)
        if sent := _sent(unit, sent_id):
            return sent
        by.check()
        visit = _write_visit(unit, told, by, sent_id, seen_at)
        if told.reading:
            _write_reading(visit, told.reading)
        for part in told.parts:
            _checked(VisitPart(visit=visit, **part)).save()
        for task in told.care_done:
            _checked(CareDone(visit=visit, task=task)).save()
        if told.moved:
            _write_movement(visit, told.moved, by)
        for picture in pictures:
            _keep_photo(visit, picture)
    return visit


def sent_before(unit: Unit, sent_id: str) -> Visit | None:
    """The visit to a unit that a form with this id has logged already, if any."""
    try:
        return Visit.objects.filter(unit=unit, sent_id=UUID(sent_id)).first()
    except ValueError:
        return None


@transaction.atomic
def settle(visit: Visit, how: str, person, at: datetime) -> Visit:
    """Say how a visit stands beside those logged meanwhile; said again, the newest word counts.

    The same visit logged twice counts once: its readings are withdrawn, and stay on its page.
    Refrigerant stays in the book, where a movement told twice is corrected by hand.
    """
    visit = Visit.objects.select_for_update().get(pk=visit.pk)
    if not visit.meanwhile.exists():
        raise ValidationError(_("Nobody else logged a visit to this unit meanwhile."))
    visit.settled, visit.settled_by, visit.settled_at = Settled(how), person, at
    visit.save()
    for reading in visit.reading_set.all():
        reading.withdrawn_at = at if visit.is_doubled else None
        reading.save()
    return visit


def air_of(tractor: Tractor | None) -> float:
    """Return the local air, kPa, that gauges read against at a truck: its yard's, else the shop's."""
    if tractor and tractor.yard:
        return tractor.yard.air_kpa
    return float(air_kpa(settings.SHOP_ELEVATION_M))


def _sent(unit: Unit, sent_id: UUID) -> Visit | None:
    visit = Visit.objects.filter(sent_id=sent_id).first()
    if visit and visit.unit_id != unit.pk:
        raise ValidationError(
            _("This form was sent for another unit already; open the page of this unit again.")
        )
    return visit


def _write_visit(unit: Unit, told: Told, by: By, sent_id: UUID, seen_at) -> Visit:
    install = Install.objects.on(by.day).filter(unit=unit).select_related("tractor__yard").first()
    visit = Visit(
        unit=unit,
        tractor=install and install.tractor,
        customer=install and install.customer,
        at=_free(unit, by.at),
        entered_at=by.entered_at,
        technician=by.technician,
        entered_by=by.person,
        sent_id=sent_id,
        seen_at=seen_at,
        **told.words,
    )
    _checked(visit).save()
    if seen_at:
        others = Visit.objects.filter(unit=unit, entered_at__gt=seen_at).exclude(pk=visit.pk)
        visit.meanwhile.set(others.exclude(entered_by=by.person))
    return visit


def _write_reading(visit: Visit, taken: dict[str, object]) -> None:
    reading = Reading(
        unit=visit.unit,
        tractor=visit.tractor,
        customer=visit.customer,
        entered_at=visit.entered_at,
        visit=visit,
        taken_at=visit.at,
        kind=ReadingKind.VISIT,
        air_kpa=air_of(visit.tractor),
        taken_by=visit.technician,
        **taken,
    )
    _checked(reading).save()


def _write_movement(visit: Visit, moved: Moved, by: By) -> None:
    told_at = By(visit.at, by.entered_at, by.technician, by.person)
    movement = move(visit.unit, moved.kind, moved.mass_g, moved.cylinder, told_at)
    movement.visit = visit
    # It is the same act: its history need not say it twice.
    movement.save_without_historical_record(update_fields=["visit"])


def _keep_photo(visit: Visit, picture: bytes) -> None:
    sha256 = hashlib.sha256(picture).hexdigest()
    if not visit.photos.filter(sha256=sha256).exists():
        name = f"{sha256[:32]}.jpg"
        VisitPhoto.objects.create(visit=visit, sha256=sha256, file=ContentFile(picture, name=name))


def _free(unit: Unit, at: datetime) -> datetime:
    """The time of a visit, or just before it where the unit has a row of that time already."""
    while (
        Visit.objects.filter(unit=unit, at=at).exists()
        or Reading.objects.filter(unit=unit, taken_at=at).exists()
        or Movement.objects.filter(unit=unit, at=at).exists()
    ):
        at -= APART
    return at


def _checked(row):
    """The row, once the model's own rules hold."""
    row.full_clean()
    return row
