"""The free times of a yard: the rows of its diary laid out for `installs.slots`."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from itertools import islice

from django.core.exceptions import ValidationError
from django.db.models import Count, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from installs.closed_days import holiday_name
from installs.models import (
    Booking,
    Credential,
    DayOff,
    Job,
    Shift,
    Technician,
    Tractor,
    Unit,
    UnitModel,
    Yard,
)
from installs.slots import Diary, Slot, Span, WorkingHours, free_slots, working_spans

__all__ = ["check_slot", "check_unit_model", "find_slots", "free_units", "none_free", "slot_of"]

HORIZON_DAYS = 120


def find_slots(
    job: Job,
    yard: Yard,
    tractor: Tractor,
    unit_model: UnitModel | None,
    from_: datetime,
    count: int = 12,
    *,
    most_a_day: int | None = None,
    not_before: time = time.min,
    technician: Technician | None = None,
    moved: Booking | None = None,
) -> list[Slot]:
    """Return the first free slots, with `Bay` and `Technician`, from a moment on.

    With `most_a_day`, so many beginnings of a day and one slot for each, so that a list shows
    several days. None before a time of day; only those of one technician where one is named. A
    booking to be `moved` is not in its own way, and has its unit. Raises ValidationError where the
    job puts a unit in and none is free in the yard.
    """
    if moved is None:
        check_unit_model(job, tractor, unit_model)
        if job.puts_a_unit_in and not free_units(yard, unit_model).exists():
            raise none_free(yard, unit_model)
    diary = _diary(job, yard, tractor, technician, from_, moved)
    slots = free_slots(diary, job.minutes, from_, HORIZON_DAYS, not_before=not_before)
    if most_a_day:
        slots = _thinned(slots, most_a_day)
    return list(islice(slots, count))


def slot_of(job: Job, begins_at: datetime, bay, technician) -> Slot:
    """The slot that a job takes when it begins at a moment."""
    return Slot(begins_at, begins_at + timedelta(minutes=job.minutes), bay, technician)


def check_slot(job: Job, slot: Slot, now: datetime) -> None:
    """Refuse a time that no one could have offered, with the field and the mend.

    Whether the time is taken by another booking is not asked here.
    """
    technician, yard, day = slot.technician, slot.bay.yard, timezone.localdate(slot.begins_at)
    words = {"name": technician, "yard": yard, "day": day, "holiday": holiday_name(day)}
    if slot.begins_at < now:
        raise _refused("begins_at", _("This time has passed; choose a later one."))
    if yard.customer_id is not None:
        refusal = _("This bay is in a customer's yard; choose a bay of the shop's own.")
        raise _refused("bay", refusal)
    if words["holiday"]:
        refusal = _("%(day)s is a public holiday (%(holiday)s); choose another day.")
        raise _refused("begins_at", refusal % words)
    _check_technician(job, technician, day)
    if not _is_at_work(slot):
        refusal = _(
            "%(name)s does not work in %(yard)s at that time; choose one of the times offered."
        )
        raise _refused("begins_at", refusal % words)


def _check_technician(job: Job, technician: Technician, day: date) -> None:
    words = {"name": technician, "day": day}
    if not Technician.objects.able_to(job).filter(pk=technician.pk).exists():
        words["skills"] = ", ".join(map(str, job.skills.all()))
        refusal = _(
            "%(name)s lacks a skill that this job needs (%(skills)s); choose another technician."
        )
        raise _refused("technician", refusal % words)
    if job.opens_the_circuit and not technician.may_sign_refrigerant(day):
        refusal = _(
            "%(name)s has no refrigerant certificate on record that is valid on %(day)s; choose "
            "another technician, or record the certificate."
        )
        raise _refused("technician", refusal % words)


def _is_at_work(slot: Slot) -> bool:
    day = timezone.localdate(slot.begins_at)
    hours = _hours(slot.bay.yard, [slot.technician.pk])
    diary = Diary(timezone.get_default_timezone(), (), hours, days_off=_days_off(hours, day, day))
    return any(span.covers(slot.span) for _who, span in working_spans(diary, day))


def check_unit_model(job: Job, tractor: Tractor, unit_model: UnitModel | None) -> None:
    """Refuse a job that puts a unit in without a model, or with one of another voltage."""
    if unit_model is None:
        if job.puts_a_unit_in:
            raise _refused("unit_model", _("This job puts a unit in; choose the unit model."))
    elif unit_model.system_v != tractor.system_v:
        raise _refused(
            "unit_model",
            _("The truck has %(truck)s V and the %(model)s needs %(unit)s V; choose another model.")
            % {"truck": tractor.system_v, "model": unit_model, "unit": unit_model.system_v},
        )


def free_units(yard: Yard, unit_model: UnitModel | None):
    """The free units of a yard, of one model if it is known: the oldest first."""
    units = Unit.objects.free().filter(yard=yard)
    if unit_model is not None:
        units = units.filter(model=unit_model)
    return units.order_by("made_on", "pk")


def none_free(yard: Yard, unit_model: UnitModel) -> ValidationError:
    """Say that no unit of a model is free in a yard, and in which yards one is."""
    free = Unit.objects.free().filter(model=unit_model, yard__customer=None)
    elsewhere = free.values_list("yard__name").annotate(units=Count("pk")).order_by("yard__name")
    words = {
        "model": unit_model,
        "yard": yard,
        "yards": ", ".join(f"{name} ({units})" for name, units in elsewhere),
    }
    if not elsewhere:
        refusal = _("No %(model)s is free in any yard; receive one first, or choose another model.")
    else:
        refusal = _(
            "No %(model)s is free in %(yard)s. Free elsewhere: %(yards)s. Move one, or book there."
        )
    return _refused("unit_model", refusal % words)


def _refused(field: str, words: str) -> ValidationError:
    return ValidationError({field: words})


def _thinned(slots: Iterable[Slot], most_a_day: int) -> Iterable[Slot]:
    """The first slot of each of the first few beginnings of a day."""
    beginnings: dict[date, set[datetime]] = defaultdict(set)
    for slot in slots:
        of_day = beginnings[timezone.localdate(slot.begins_at)]
        if slot.begins_at not in of_day and len(of_day) < most_a_day:
            of_day.add(slot.begins_at)
            yield slot


def _diary(
    job: Job,
    yard: Yard,
    tractor: Tractor,
    technician: Technician | None,
    from_: datetime,
    moved: Booking | None,
) -> Diary:
    """What stands in the way of a job in a yard, in a fixed number of queries."""
    able = Technician.objects.able_to(job).order_by("name")
    able = list(able.filter(pk=technician.pk) if technician else able)
    until = _certified_until(able) if job.opens_the_circuit else {}
    if job.opens_the_circuit:
        able = [technician for technician in able if technician in until]
    bays = list(yard.bays.select_related("yard")) if yard.customer_id is None else []
    hours = _hours(yard, [technician.pk for technician in able])
    ends_at = from_ + timedelta(days=HORIZON_DAYS + 1)
    bookings = Booking.objects.standing().between(from_, ends_at)
    bookings = bookings.filter(
        Q(bay__in=bays) | Q(technician__in=able) | Q(tractor=tractor)
    ).exclude(pk=moved and moved.pk)
    by_bay, by_technician, of_truck = defaultdict(list), defaultdict(list), []
    taken = ("bay", "technician", "tractor", "begins_at", "ends_at")
    for bay, technician, truck, *span in bookings.values_list(*taken):
        by_bay[bay].append(Span(*span))
        by_technician[technician].append(Span(*span))
        if truck == tractor.pk:
            of_truck.append(Span(*span))
    return Diary(
        zone=timezone.get_default_timezone(),
        bays=bays,
        hours=hours,
        is_holiday=lambda day: bool(holiday_name(day)),
        days_off=_days_off(hours, timezone.localdate(from_), timezone.localdate(ends_at)),
        able_until=until,
        bays_busy={bay: by_bay[bay.pk] for bay in bays},
        technicians_busy={technician: by_technician[technician.pk] for technician in able},
        truck_busy=of_truck,
    )


def _hours(yard: Yard, technicians: list[int]) -> list[WorkingHours]:
    shifts = Shift.objects.filter(yard=yard, technician__in=technicians)
    return [
        WorkingHours(shift.technician, shift.weekday, shift.begins, shift.ends)
        for shift in shifts.select_related("technician").order_by("technician__name", "begins")
    ]


def _days_off(hours: list[WorkingHours], first: date, last: date) -> dict:
    days_off = defaultdict(list)
    absences = DayOff.objects.filter(
        technician__in={at_work.technician for at_work in hours},
        first_day__lte=last,
        last_day__gte=first,
    )
    for absence in absences.select_related("technician"):
        days_off[absence.technician].append((absence.first_day, absence.last_day))
    return days_off


def _certified_until(technicians: list[Technician]) -> dict[Technician, date]:
    """The last day on which each may open a circuit; those who may on no day are left out.

    The rule is `Technician.may_sign_refrigerant`, for many at once.
    """
    accepted = Credential.accepted()
    return {
        technician: technician.certified_until or date.max
        for technician in technicians
        if technician.may_sign_refrigerant(technician.certified_until or date.max, accepted)
    }
