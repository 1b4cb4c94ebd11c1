"""What stands behind a claim on record: certificate, movements of refrigerant, photos."""

from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.db.models import QuerySet
from django.db.models.fields.files import FieldFile
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.models import Person
from fleetcool.wording import amount
from installs.certificate_words import let_pass_lines
from installs.models import Certificate, Photo
from service.models import Claim, Movement, VisitPhoto

__all__ = [
    "ClaimPhoto",
    "MovementLine",
    "certificate_facts",
    "certificate_of",
    "movement_lines",
    "photos_of",
]

MOST_MOVEMENTS = 20
MOST_PHOTOS = 12


class MovementLine(NamedTuple):
    """One movement of refrigerant as text; who moved it by which certificate is the shop's own."""

    day: str
    movement: str
    mass: str
    cylinder: str
    certificate: str


class ClaimPhoto(NamedTuple):
    """A photo of the visit, or of the install; `file` may be gone from the disk."""

    title: str
    url: str
    file: FieldFile


def certificate_of(claim: Claim, user: Person) -> Certificate | None:
    """The certificate of the install that the claim is on; the one that stands before others."""
    if claim.install_id is None:
        return None
    given = Certificate.objects.visible_to(user).filter(commissioning__install=claim.install_id)
    given = given.select_related("commissioning__install")
    return given.order_by("withdrawn_at", "-issued_at").filter(withdrawn_at=None).first() or (
        given.order_by("-issued_at").first()
    )


def certificate_facts(certificate: Certificate | None, user: Person) -> list[tuple[str, str]]:
    """What it says of the install, as pairs of a label and a text."""
    if certificate is None:
        return []
    says, system = certificate.says, user.unit_system
    technician = says["technician"]
    signed = (technician["name"], technician["scheme"], technician["number"])
    issued = timezone.localtime(certificate.issued_at, timezone.get_default_timezone())
    facts = [
        (_("Number"), certificate.number),
        (_("Given on"), f"{issued:%Y-%m-%d}"),
        (_("Installed on"), says["installed_on"]),
        (_("Signed by"), ", ".join(filter(None, signed))),
        (_("Charged by weight"), amount(says["charge_g"], "mass", system)),
        (_("Nameplate charge"), amount(says["nameplate"]["charge_g"], "mass", system)),
        (_("Cutoff, under load"), amount(says["cutoff_v"], "volts", system)),
    ]
    if certificate.withdrawn_at:
        facts.append((_("Withdrawn"), certificate.withdrawn_why))
    passed = let_pass_lines(says["steps"])
    return [*facts, (_("Let pass"), " ".join(passed))] if passed else facts


def movement_lines(claim: Claim, user: Person) -> list[MovementLine]:
    """What went into the unit and came out of it up to the day of the claim's visit, newest first."""
    moved = Movement.objects.visible_to(user).filter(unit=claim.unit_id)
    moved = moved.filter(at__lt=_end_of(claim.visit.at)).select_related("cylinder", "moved_by")
    return [
        MovementLine(
            day=f"{timezone.localtime(one.at, timezone.get_default_timezone()):%Y-%m-%d}",
            movement=capfirst(one.get_movement_display()),
            mass=amount(one.mass_g, "mass", user.unit_system),
            cylinder=one.cylinder.code if one.cylinder and user.sees_all else "",
            certificate=_certified(one) if user.sees_all else "",
        )
        for one in moved.order_by("-at")[:MOST_MOVEMENTS]
    ]


def photos_of(claim: Claim, user: Person) -> list[ClaimPhoto]:
    """The photos of the visit, then those of the install, as many as a packet carries."""
    visit = VisitPhoto.objects.visible_to(user).filter(visit=claim.visit_id)
    found = [
        ClaimPhoto(
            _("Visit, photo %(n)d") % {"n": number}, reverse("visit_photo", args=[one.pk]), one.file
        )
        for number, one in enumerate(visit[:MOST_PHOTOS], start=1)
    ]
    if user.sees_all and claim.install_id:
        found += [
            _of_install(photo) for photo in _install_photos(claim)[: MOST_PHOTOS - len(found)]
        ]
    return found


def _install_photos(claim: Claim) -> QuerySet[Photo]:
    return Photo.objects.filter(commissioning__install=claim.install_id).order_by("added_at", "pk")


def _of_install(photo: Photo) -> ClaimPhoto:
    words = {"step": photo.get_step_display()}
    title = _("Install, %(step)s") % words
    if photo.caption:
        title = f"{title}: {photo.caption}"
    return ClaimPhoto(title, reverse("photo", args=[photo.pk]), photo.file)


def _certified(movement: Movement) -> str:
    by = movement.moved_by.name if movement.moved_by else ""
    return ", ".join(filter(None, (by, movement.certified_by)))


def _end_of(moment: datetime) -> datetime:
    """The end of the moment's day by the shop's clock: a movement of the visit belongs to it."""
    day: date = timezone.localtime(moment, timezone.get_default_timezone()).date()
    midnight = datetime.combine(day + timedelta(days=1), datetime.min.time())
    return timezone.make_aware(midnight, timezone.get_default_timezone())
