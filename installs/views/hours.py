"""Who works when and where, whose certificate holds, and who is away."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from fleetcool.access import may
from fleetcool.models.people import SHOP_ROLES, Role
from installs.forms.hours import DayOffForm
from installs.hours import roster
from installs.models import Booking, DayOff

__all__ = ["day_off_end", "hours"]


@require_http_methods(["GET", "HEAD", "POST"])
@may(*SHOP_ROLES)
def hours(request):
    may_change = request.user.role in (Role.OFFICE, Role.OWNER)
    form = DayOffForm(request.user, request.POST or None) if may_change else None
    if form and form.is_valid():
        away = form.save()
        overlapping = Booking.objects.open().during(away).count()
        messages.success(request, _("Written down: %(who)s.") % {"who": away})
        if overlapping:
            text = ngettext(
                "%(n)d booking lies in these days; move it.",
                "%(n)d bookings lie in these days; move them.",
                overlapping,
            )
            messages.warning(request, text % {"n": overlapping})
        return redirect("hours")
    today = timezone.localdate()
    context = {"form": form, "roster": roster(request.user, today), "today": today}
    return render(request, "installs/hours.html", context)


@require_POST
@may(Role.OFFICE, Role.OWNER)
def day_off_end(request, pk):
    away = get_object_or_404(DayOff.objects.visible_to(request.user), pk=pk)
    away.delete()
    messages.success(request, _("%(who)s is at work on these days.") % {"who": away.technician})
    return redirect("hours")
