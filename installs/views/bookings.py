"""The board of bookings, a new booking, and what is done with one."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import SHOP_ROLES, Role
from installs.boards import board
from installs.bookings import find_slots, finish, release
from installs.calendars import of_booking
from installs.confirmations import confirm
from installs.forms.boards import BoardForm
from installs.forms.bookings import (
    MOST_A_DAY,
    OFFERED,
    AmendForm,
    AskedForm,
    BookForm,
    CallOffForm,
    HoldForm,
    MoveForm,
    WhenForm,
)
from installs.models import Booking, Commissioning
from installs.openings import free_units

__all__ = [
    "booking_amend",
    "booking_call_off",
    "booking_confirm",
    "booking_detail",
    "booking_done",
    "booking_hold",
    "booking_ics",
    "booking_move",
    "booking_new",
    "booking_release",
    "bookings",
]

MAY_CHANGE = (Role.OFFICE, Role.OWNER)


@require_safe
@may(*SHOP_ROLES)
def bookings(request):
    form = BoardForm(request.user, request.GET)
    asked = form.asked(timezone.localdate())
    seen = Booking.objects.visible_to(request.user)
    context = {
        "form": form,
        "asked": asked,
        "days": board(asked.yard, asked.first, asked.days, seen) if asked.yard else [],
        "today": timezone.localdate(),
        "may_change": request.user.role in MAY_CHANGE,
    }
    return render(request, "installs/booking_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@may(*MAY_CHANGE)
def booking_new(request):
    now, posted = timezone.now(), request.method == "POST"
    user = request.user
    asked = AskedForm(user, request.POST) if posted else AskedForm.of(user, request.GET)
    form = BookForm(asked, request.POST if posted else None) if asked.is_valid() else None
    if form and posted and (booking := form.book(user, now)):
        _say(request, booking, _("Booked."))
        return redirect(booking)
    if form:
        form.slots = form.slots or asked.slots(now) or []
    if not posted and asked.errors:
        form = None
    return render(request, "installs/booking_new.html", {"asked": asked, "form": form})


@require_safe
@may(*SHOP_ROLES)
def booking_detail(request, pk):
    return _page(request, _booking(request, pk))


@require_http_methods(["GET", "HEAD", "POST"])
@may(*MAY_CHANGE)
def booking_move(request, pk):
    booking, now = _booking(request, pk), timezone.now()
    form = MoveForm(booking, request.POST if request.method == "POST" else None)
    if form.is_bound and form.move(request.user, now):
        _say(request, booking, _("Moved."))
        return redirect(booking)
    when = WhenForm(request.user, request.GET)
    if when.is_valid() and booking.is_open and not form.slots:
        form.slots = find_slots(
            booking.job,
            booking.bay.yard,
            booking.tractor,
            booking.unit_model,
            count=OFFERED,
            most_a_day=MOST_A_DAY,
            moved=booking,
            **when.when(now),
        )
    context = {"booking": booking, "form": form, "when": when}
    return render(request, "installs/booking_move.html", context)


@require_POST
@may(*MAY_CHANGE)
def booking_amend(request, pk):
    booking = _booking(request, pk)
    form = AmendForm(booking, request.POST)
    if not form.take(request.user, timezone.now()):
        return _page(request, booking, amend_form=form)
    messages.success(request, _("Written down."))
    return redirect(booking)


@require_POST
@may(*MAY_CHANGE)
def booking_hold(request, pk):
    booking = _booking(request, pk)
    form = HoldForm(booking, request.POST)
    if not form.take(request.user, timezone.now()):
        return _page(request, booking, hold_form=form)
    messages.success(request, _("Unit %(serial)s is held.") % {"serial": booking.unit})
    return redirect(booking)


@require_POST
@may(*MAY_CHANGE)
def booking_release(request, pk):
    return _take(request, pk, release, _("The unit is free again."))


@require_POST
@may(*MAY_CHANGE)
def booking_done(request, pk):
    now = timezone.now()
    return _take(request, pk, lambda one, by: finish(one, by=by, now=now), _("Marked done."))


@require_POST
@may(*MAY_CHANGE)
def booking_call_off(request, pk):
    booking = _booking(request, pk)
    form = CallOffForm(booking, request.POST)
    if not form.take(request.user, timezone.now()):
        return _page(request, booking, call_off_form=form)
    _say(request, booking, _("Called off."))
    return redirect(booking)


@require_POST
@may(*MAY_CHANGE)
def booking_confirm(request, pk):
    booking = _booking(request, pk)
    if booking.contact_email:
        confirm(booking, timezone.now())
    _say(request, booking, "")
    return redirect(booking)


@require_safe
@may(*SHOP_ROLES)
def booking_ics(request, pk):
    booking = _booking(request, pk)
    response = HttpResponse(of_booking(booking), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="booking-{booking.pk}.ics"'
    return response


def _booking(request, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.visible_to(request.user).with_all(), pk=pk)


def _take(request, pk: int, act, done: str):
    """Do something with a booking that asks for no more words, or say why it cannot be."""
    booking = _booking(request, pk)
    try:
        act(booking, by=request.user)
    except ValidationError as refused:
        for words in refused.messages:
            messages.error(request, words)
    else:
        messages.success(request, done)
    return redirect(booking)


def _say(request, booking: Booking, done: str) -> None:
    """Tell what was done, and whether the customer was told of it too."""
    if done:
        messages.success(request, done)
    if not booking.contact_email:
        return
    if booking.mailed_sequence == booking.sequence:
        sent = _("The confirmation went to %(address)s.")
        messages.success(request, sent % {"address": booking.contact_email})
    else:
        messages.warning(
            request, _("The confirmation could not be sent; nothing else is lost. Send it later.")
        )


def _page(request, booking: Booking, **bound):
    """The page of a booking, with a form that was refused in place of an empty one."""
    may_change = request.user.role in MAY_CHANGE
    free = free_units(booking.bay.yard, booking.unit_model).select_related("model")
    commissioning = Commissioning.objects.filter(booking=booking).select_related("certificate")
    begun = commissioning.first()
    context = {
        "booking": booking,
        "commissioning": begun,
        "certificate": begun and getattr(begun, "certificate", None),
        "refused": [error for form in bound.values() for error in form.non_field_errors()],
        "may_change": may_change,
        "may_begin": request.user.role in (Role.TECHNICIAN, Role.OWNER),
        "has_begun": booking.begins_at <= timezone.now(),
        "told": booking.mailed_sequence == booking.sequence,
        "free": free[:5] if may_change and booking.is_open else [],
        "hold_form": HoldForm(booking),
        "amend_form": AmendForm(booking),
        "call_off_form": CallOffForm(booking),
        **bound,
    }
    return render(request, "installs/booking_detail.html", context)
