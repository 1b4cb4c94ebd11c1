"""A visit as it was logged, and beside it the visits of others that it did not know of."""

from typing import NamedTuple

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.models import Person
from fleetcool.wording import amount
from installs.models import Technician
from reports.as_read import LABELS
from service.claim_rules import ACTS
from service.models import Claim, Movement, Reading, Settled, Visit

__all__ = ["visit_page"]


class Row(NamedTuple):
    """One thing told, and what each of the visits says of it."""

    label: str
    cells: list[str]


def visit_page(visit: Visit, user: Person) -> dict[str, object]:
    """Return a visit and those logged meanwhile, side by side, as far as a person may see them.

    A fixed number of queries, however many visits stand beside it.
    """
    beside = visit.meanwhile.visible_to(user).values("pk")
    mine = Visit.objects.filter(pk=visit.pk)
    found = _with_all(mine | Visit.objects.filter(pk__in=beside), user)
    visits = sorted(found, key=lambda one: (one.pk != visit.pk, one.at))
    sees_technicians = Technician.objects.visible_to(user).exists()
    told = [_told(one, user, sees_technicians) for one in visits]
    labels = dict.fromkeys(label for one in told for label in one)
    return {
        "visit": visits[0],
        "truck": _truck(visits[0]),
        "visits": visits,
        "rows": [Row(label, [one.get(label, "–") for one in told]) for label in labels],
        "may_settle": user.sees_all and len(visits) > 1,
        "settled_choices": Settled,
        "claim": Claim.objects.visible_to(user).with_state().filter(visit=visit).first(),
        "may_claim": user.role in ACTS,
        "still_counted": _still_counted(visits[0], user),
        "met_by": Visit.objects.visible_to(user).filter(meanwhile=visit),
    }


def _still_counted(visit: Visit, user: Person) -> list[tuple[Movement, str]]:
    """Refrigerant of a visit that was logged a second time, for who can look into the book."""
    if not (visit.is_doubled and user.sees_all):
        return []
    return [(movement, _moved(movement, user)) for movement in visit.movement_set.all()]


def _truck(visit: Visit) -> str:
    """The truck as it was the customer's; one that was sold since shows its VIN alone."""
    tractor = visit.tractor
    if tractor is None:
        return ""
    is_theirs = tractor.customer_id == visit.customer_id
    return (is_theirs and tractor.truck_number) or tractor.vin


def _with_all(visits, user: Person):
    readings = Reading.objects.visible_to(user)
    movements = Movement.objects.visible_to(user).select_related("cylinder")
    return (
        visits.select_related(
            "unit", "tractor", "customer", "technician", "entered_by", "settled_by"
        )
        .prefetch_related("parts", "care", "photos")
        .prefetch_related(Prefetch("reading_set", readings), Prefetch("movement_set", movements))
    )


def _told(visit: Visit, user: Person, sees_technicians: bool) -> dict[str, str]:
    """Everything that is on record of a visit as text, by its label, in the order of the page."""
    told = {_("At"): f"{timezone.localtime(visit.at):%Y-%m-%d %H:%M}"}
    if sees_technicians:
        told[_("Technician")] = _by(visit)
    told |= {
        _("Complaint"): visit.complaint,
        _("Found"): ". ".join(
            filter(None, [capfirst(visit.get_found_kind_display()), visit.found])
        ),
        _("Work done"): visit.done,
        _("Result"): capfirst(visit.get_result_display()),
        _("Next step"): _next_step(visit),
    }
    for reading in visit.reading_set.all():
        told |= _read(reading, user)
    told[_("Parts")] = "; ".join(_part(part) for part in visit.parts.all())
    told[_("Care done")] = ", ".join(str(care) for care in visit.care.all())
    told[_("Refrigerant")] = "; ".join(
        _moved(movement, user) for movement in visit.movement_set.all()
    )
    return {label: text for label, text in told.items() if text}


def _by(visit: Visit) -> str:
    """The technician, or who wrote it down where none is named."""
    if visit.technician or visit.entered_by is None:
        return str(visit.technician or "")
    return visit.entered_by.get_full_name() or visit.entered_by.get_username()


def _read(reading: Reading, user: Person) -> dict[str, str]:
    output = {}
    if reading.is_running:
        output = {_("Output"): reading.get_output_display()}
    elif reading.suction_kpa is not None or reading.discharge_kpa is not None:
        output = {_("Output"): _("it stood, so its pressures say nothing of the charge")}
    values = {
        capfirst(label()): amount(getattr(reading, name), kind, user.unit_system)
        for name, (kind, label) in LABELS.items()
        if getattr(reading, name) is not None
    }
    return {**output, **values, _("Gauge"): reading.gauge}


def _next_step(visit: Visit) -> str:
    day = f"{visit.next_on:%Y-%m-%d}" if visit.next_on else ""
    return ", ".join(filter(None, [visit.next_step, day]))


def _part(part) -> str:
    serials = []
    if part.serial_out:
        serials.append(_("out %(serial)s") % {"serial": part.serial_out})
    if part.serial_in:
        serials.append(_("in %(serial)s") % {"serial": part.serial_in})
    return f"{part.name} ({', '.join(serials)})" if serials else part.name


def _moved(movement: Movement, user: Person) -> str:
    mass = amount(movement.mass_g, "mass", user.unit_system)
    text = f"{capfirst(movement.get_movement_display())}: {mass}"
    if movement.cylinder and user.sees_all:
        text += f", {movement.cylinder.code}"
    return text
