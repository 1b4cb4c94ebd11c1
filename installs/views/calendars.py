"""The addresses of calendar feeds, and the feeds themselves."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import Role
from installs.calendars import feed
from installs.feeds import feeds_of, open_anew
from installs.models import CalendarFeed

__all__ = ["calendar_change", "calendar_feed", "calendars"]

MAY_HAVE = (Role.OFFICE, Role.OWNER, Role.TECHNICIAN)


@require_safe
@may(*MAY_HAVE)
def calendars(request):
    return render(request, "installs/calendars.html", {"feeds": feeds_of(request.user)})


@require_POST
@may(*MAY_HAVE)
def calendar_change(request):
    """Give a feed its first address, or another in place of one that is known to too many."""
    for one in feeds_of(request.user):
        if one.key == request.POST.get("whose"):
            open_anew(one)
            messages.success(
                request, _("%(whose)s has a new address; an old one is closed.") % {"whose": one.of}
            )
            return redirect("calendars")
    raise Http404


@require_safe
@login_not_required
def calendar_feed(request, token):
    """The feed of whoever knows its address. The one check is the token."""
    of = get_object_or_404(
        CalendarFeed.objects.select_related("technician", "bay__yard"), token=token
    )
    response = HttpResponse(feed(of, timezone.now()), content_type="text/calendar; charset=utf-8")
    response["Cache-Control"] = "private, no-store"
    response["X-Robots-Tag"] = "noindex"
    return response
