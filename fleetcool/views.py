"""The pages that belong to no app: the way in, and how a person likes to read quantities."""

import hashlib
import json
from pathlib import Path

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.forms import UnitSystemForm
from fleetcool.models.people import ANYONE

WORKER = Path(__file__).parent / "static" / "fleetcool" / "worker.js"
# What every page looks like; what else a page uses is kept as it is asked for.
SHELL = ("bootstrap/css/bootstrap.min.css", "fleetcool/fleetcool.css", "fleetcool/mark.svg")


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


@require_safe
@login_not_required
def service_worker(request):
    """The script that serves pages without a network; from the root, so that it may serve them all."""
    text = WORKER.read_text(encoding="utf-8")
    shop = {
        "files": [static(name) for name in SHELL],
        "fallback": reverse("no_network"),
        "static": settings.STATIC_URL,
        "doors": [reverse(name) for name in ("login", "logout", "admin:login", "admin:logout")],
        "back_office": reverse("admin:index"),
    }
    shop["version"] = hashlib.sha256((json.dumps(shop) + text).encode()).hexdigest()[:12]
    response = HttpResponse(
        f"const SHOP = {json.dumps(shop)};\n{text}", content_type="text/javascript; charset=utf-8"
    )
    response.headers["Service-Worker-Allowed"] = "/"
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_safe
@login_not_required
def no_network(request):
    """What a phone shows for a page that it does not hold. It names nobody, for it is kept for all."""
    return HttpResponse(render_to_string("fleetcool/offline.html"))


def _back(request) -> str:
    """The page that the form stood on, if it is one of ours."""
    page = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure())
    return page if ours else "home"
