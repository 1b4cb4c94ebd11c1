"""The job packet: what a technician takes to the truck, and where to write when there is no phone."""

from collections.abc import Sequence
from datetime import date
from os import PathLike
from typing import IO

from django.conf import settings
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from reportlab.platypus import Flowable, Spacer, Table

from fleetcool.wording import amount, number
from installs.engineering.saturation import SAFETY_CLASS, designation
from installs.models import BatteryBank, Booking, FitCheck, SheetLine, UnitModel
from reports.cautions import refrigerant_cautions
from reports.exports.packet_steps import signature_lines, step_sections
from reports.exports.paper import (
    GAP_PT,
    QR_PT,
    Paper,
    beside,
    boxed,
    facts,
    grid,
    listing,
    paragraph,
    qr_drawing,
    styles,
)

__all__ = ["write_job_packet"]

LOOK = styles(7.9)
Facts = Sequence[tuple[str, str]]


def write_job_packet(
    target: str | PathLike | IO[bytes], booking: Booking, user, *, printed_on: date | None = None
) -> None:
    """Write the packet of a booking in a person's units: Letter with US units, else A4.

    `booking` is one of `with_all()`. The same records give the same bytes on the same day
    (`printed_on`, today if not given).
    """
    paper = Paper(
        title=_("Job packet, truck %(truck)s") % {"truck": _truck_name(booking)},
        subject=_("%(job)s on %(day)s")
        % {"job": booking.job, "day": _moment(booking.begins_at, "Y-m-d")},
        unit_system=user.unit_system,
        printed_on=printed_on or timezone.localdate(),
    )
    paper.write(target, _story(booking, user, paper.width))


def _story(booking: Booking, user, width: float) -> list[Flowable]:
    system, half = user.unit_system, (width - 2 * GAP_PT) / 2
    model = booking.unit.model if booking.unit else booking.unit_model
    refrigerant = model.refrigerant if model else None
    cautions = [_("Caution: %s") % text for text in refrigerant_cautions(refrigerant)]
    left = [
        paragraph(_("The job"), LOOK.heading),
        facts(_job(booking), half, LOOK),
        paragraph(_("The truck"), LOOK.heading),
        facts([*_truck(booking), *_bank(booking, user)], half, LOOK),
    ]
    right = [
        paragraph(_("The unit"), LOOK.heading),
        facts(_unit(booking, model, system), half, LOOK),
    ]
    return [
        _head(booking, width),
        boxed([paragraph(text, LOOK.strong) for text in cautions], width),
        beside(left, right, half),
        paragraph(_("Parts, holes and torques of the maker's sheet"), LOOK.heading),
        _sheet(model, width),
        Spacer(0, GAP_PT),
        *step_sections(refrigerant, system, width, LOOK),
        signature_lines(width, LOOK),
        Spacer(0, GAP_PT),
        paragraph(
            _(
                "Local codes, the makers' instructions and licensed practice come before this "
                "paper, which records and computes, and certifies no one."
            ),
            LOOK.small,
        ),
    ]


def _head(booking: Booking, width: float) -> Table:
    address = settings.SITE_URL + booking.get_absolute_url()
    words = [
        paragraph(_("Job packet"), LOOK.label),
        paragraph(_("Truck %s") % _truck_name(booking), LOOK.title),
        paragraph(f"{booking.customer}, {booking.job}", LOOK.strong),
        Spacer(0, GAP_PT),
        paragraph(_("The code opens this booking's page: %s") % address, LOOK.small),
    ]
    return grid([[words, qr_drawing(address, QR_PT)]], [width - QR_PT, QR_PT])


def _truck_name(booking: Booking) -> str:
    return booking.tractor.truck_number or booking.tractor.vin


def _truck(booking: Booking) -> Facts:
    tractor = booking.tractor
    return [
        (_("Customer"), booking.customer.name),
        (_("Truck number"), tractor.truck_number),
        (_("VIN"), tractor.vin),
        (_("Model year"), str(tractor.model_year or _("not on record"))),
        (_("System"), tractor.get_system_v_display()),
    ]


def _bank(booking: Booking, user) -> Facts:
    bank = BatteryBank.objects.visible_to(user).filter(tractor=booking.tractor).first()
    if bank is None:
        told = [(_("Battery bank"), _("not on record: write them down before you cut a cable"))]
    else:
        since = bank.installed_on
        told = [
            (_("Battery bank"), str(bank)),
            (_("Batteries of"), date_format(since, "Y-m-d") if since else _("not on record")),
        ]
    return [*told, (_("Fit check"), _fit(booking, user))]


def _fit(booking: Booking, user) -> str:
    """What the last kept fit check of this truck said, of the booked model if one is booked."""
    checks = FitCheck.objects.visible_to(user).filter(tractor=booking.tractor)
    model_id = booking.unit.model_id if booking.unit else booking.unit_model_id
    if model_id:
        checks = checks.filter(unit_model=model_id)
    check = checks.order_by("-made_at").first()
    if check is None:
        return _("none was kept for this truck")
    return _("%(verdict)s: %(hours)s h, %(low)s h to %(high)s h; checked on %(day)s") % {
        "verdict": check.get_verdict_display(),
        "hours": number(check.hours, 1),
        "low": number(check.hours_low, 1),
        "high": number(check.hours_high, 1),
        "day": _moment(check.made_at, "Y-m-d"),
    }


def _job(booking: Booking) -> Facts:
    not_said = _("not said: ask the customer")
    begins, ends = _moment(booking.begins_at, "Y-m-d H:i"), _moment(booking.ends_at, "H:i")
    told = [
        (_("When"), _("%(begins)s to %(ends)s") % {"begins": begins, "ends": ends}),
        (_("Bay"), str(booking.bay)),
        (_("Technician"), booking.technician.name),
        (_("Refrigerant certificate"), _certificate(booking)),
        (_("Hoses go"), booking.get_pass_through_display() or not_said),
        (_("Side of mounting"), booking.get_mounting_side_display() or not_said),
    ]
    return [*told, (_("Note"), booking.note)] if booking.note else told


def _certificate(booking: Booking) -> str:
    technician = booking.technician
    day = timezone.localtime(booking.begins_at, timezone.get_default_timezone()).date()
    if not technician.may_sign_refrigerant(day):
        return _("none that counts this day: leave the refrigerant steps to someone who has one")
    return f"{technician.certification_scheme}, {technician.certification_number}"


def _unit(booking: Booking, model: UnitModel | None, system: str) -> Facts:
    serial = booking.unit.serial if booking.unit else _("to be held")
    if model is None:
        return [(_("Serial"), serial), (_("Model"), _("to be chosen"))]
    refrigerant = designation(model.refrigerant)
    charge = ", ".join(amount(model.charge_g, "mass", one) for one in ("si", "us"))
    draws = [
        (_("Draw, low output"), model.draw_low_a),
        (_("Draw, mid output"), model.draw_mid_a),
        (_("Draw, high output"), model.draw_high_a),
    ]
    return [
        (_("Serial"), serial),
        (_("Model"), model.name),
        (
            _("Refrigerant"),
            _("%(refrigerant)s, safety class %(class)s")
            % {"refrigerant": refrigerant, "class": SAFETY_CLASS[refrigerant]},
        ),
        (_("Nameplate charge"), charge),
        (_("System"), model.get_system_v_display()),
        *((label, _stated(draw_a, "amps", system)) for label, draw_a in draws),
        (_("Cutoff"), _stated(model.cutoff_v, "volts", system)),
    ]


def _stated(value: float | None, kind: str, system: str) -> str:
    return _("not stated") if value is None else amount(value, kind, system)


def _sheet(model: UnitModel | None, width: float) -> Flowable:
    lines = SheetLine.objects.filter(model=model) if model else SheetLine.objects.none()
    if not lines:
        missing = _("The maker's sheet was not entered; read it before drilling.")
        return boxed([paragraph(missing, LOOK.strong)], width)
    rows = [(capfirst(line.get_part_display()), line.what, line.value) for line in lines]
    header = (_("Kind"), _("What"), _("Size, torque"))
    half, middle = (width - 2 * GAP_PT) / 2, (len(rows) + 1) // 2
    columns = [rows[:middle], rows[middle:]]
    return beside(
        *(listing(header, column, half, LOOK, parts=(2, 6, 3)) for column in columns), half
    )


def _moment(at, form: str) -> str:
    return date_format(timezone.localtime(at, timezone.get_default_timezone()), form)
