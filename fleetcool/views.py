"""The pages that belong to no app: the way in, and how a person likes to read quantities."""

from django.contrib import messages
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.forms import UnitSystemForm
from fleetcool.models.people import ANYONE


@require_safe
@may(*ANYONE)
def home(request):
    return redirect("findings")


@require_POST
@may(*ANYONE)
def set_unit_system(request):
    form = UnitSystemForm(request.POST, instance=request.user)
    if form.is_valid():
        form.save()
    else:
        messages.error(request, _("Choose one of the two unit systems."))
    return redirect(_back(request))


def _back(request) -> str:
    """The page that the form stood on, if it is one of ours."""
    page = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure())
    return page if ours else "home"
