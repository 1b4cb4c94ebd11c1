"""A visit: the day's list, opening a unit by what can be read on it, logging, and what was logged."""

from datetime import datetime

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleetcool.access import may, wants_json
from fleetcool.models.people import ANYONE, SHOP_ROLES
from fleetcool.signing_in import sign_in_first
from installs.models import Install, InstallStep, Unit
from reports.first_screen import first_screen, install_of, last_gauge, physics_at
from reports.unit_search import find_units
from reports.visit_day import day_page
from reports.visit_page import visit_page
from service.forms.visit import VisitForm, moment_of
from service.models import Settled, Visit, VisitPhoto
from service.signing import may_sign, technician_of
from service.visit_script import carried
from service.visiting import settle


@require_safe
@may(*SHOP_ROLES)
def visit_day(request):
    return render(request, "reports/visit_day.html", day_page(request.user, timezone.localdate()))


@require_safe
@may(*SHOP_ROLES)
def visit_open(request):
    typed = request.GET.get("q", "").strip()
    hits = find_units(typed, request.user)
    if len(hits.exact) == 1:
        return redirect("visit_log", hits.exact[0].serial)
    return render(request, "reports/visit_open.html", {"typed": typed, "hits": hits})


@require_http_methods(["GET", "HEAD", "POST"])
@may(*SHOP_ROLES)
def visit_log(request, serial):
    units = Unit.objects.visible_to(request.user).select_related("model", "yard")
    unit = get_object_or_404(units, serial__iexact=serial)
    install, now = install_of(unit, request.user), timezone.now()
    form = _form(request, unit, install, now)
    if request.method == "POST":
        if form.is_of_another:
            return sign_in_first(request)
        if visit := form.save(technician_of(request.user)):
            return _logged(request, visit, is_new=visit.entered_at == now)
        if wants_json(request):
            return JsonResponse({"errors": form.all_errors()}, status=422)
    today = timezone.localdate(now)
    page = first_screen(unit, install, request.user, form.physics, today, request.GET)
    page["form"], page["physics"] = form, carried(form.physics)
    page["barred"] = may_sign(technician_of(request.user), InstallStep.CHARGE, today)
    return render(request, "reports/visit_log.html", page)


@require_safe
@may(*ANYONE)
def visit_detail(request, pk):
    visit = get_object_or_404(Visit.objects.visible_to(request.user), pk=pk)
    return render(request, "reports/visit_detail.html", visit_page(visit, request.user))


@require_POST
@may(*SHOP_ROLES)
def visit_meanwhile(request, pk):
    visit = get_object_or_404(Visit.objects.visible_to(request.user), pk=pk)
    how = request.POST.get("settle")
    try:
        if how not in Settled.values:
            raise ValidationError(_("Say whether both visits stand, or are the same one."))
        settle(visit, how, request.user, timezone.now())
    except ValidationError as refused:
        for message in refused.messages:
            messages.error(request, message)
    return redirect(visit)


@require_safe
@may(*ANYONE)
def visit_photo(request, pk):
    photo = get_object_or_404(VisitPhoto.objects.visible_to(request.user), pk=pk)
    try:
        response = FileResponse(photo.file.open(), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404 from None
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _form(request, unit: Unit, install: Install | None, now: datetime) -> VisitForm:
    """The form as it was sent, judged by what was known when its page was made; else a new one."""
    seen_at = moment_of(request.POST.get("seen_at", ""))
    physics = physics_at(unit, install, seen_at or now)
    if request.method == "POST":
        return VisitForm(unit, request.user, physics, now, request.POST, request.FILES)
    gauge = last_gauge(technician_of(request.user))
    return VisitForm(unit, request.user, physics, now, gauge=gauge)


def _logged(request, visit: Visit, is_new: bool):
    meanwhile = visit.meanwhile.count()
    if wants_json(request):
        said = {"visit": visit.pk, "url": visit.get_absolute_url(), "meanwhile": meanwhile}
        return JsonResponse(said, status=201 if is_new else 200)
    messages.success(request, _("The visit is saved."))
    return redirect(visit)
