"""The units: all of them, and one with its whole history."""

from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from installs.models import Certificate, Unit
from reports.care_rows import care_rows
from reports.cautions import unit_cautions
from reports.cover import cover_of
from reports.filters import UnitFilter
from reports.lists import finding_rows, unit_rows
from reports.pictures import unit_pictures
from reports.tables import UnitTable, paged
from reports.timeline import unit_timeline
from reports.visits import asks_of
from service.models import CampaignUnit


@require_safe
@may(*ANYONE)
def unit_list(request):
    narrowed = UnitFilter(request.GET, unit_rows(request.user), request=request)
    context = {"filter": narrowed, "table": paged(UnitTable(narrowed.qs), request)}
    return render(request, "reports/unit_list.html", context)


@require_safe
@may(*ANYONE)
def unit_detail(request, serial):
    user, today = request.user, timezone.localdate()
    units = Unit.objects.visible_to(user).select_related("model", "yard")
    unit = get_object_or_404(units, serial__iexact=serial)
    installs = unit.installs.visible_to(user).current().select_related("customer", "tractor")
    context = {
        "unit": unit,
        "install": installs.first(),
        "cautions": unit_cautions(unit),
        "asks": asks_of(unit, user),
        "campaigns": CampaignUnit.objects.visible_to(user).filter(unit=unit).with_all(),
        "today": today,
        "findings": finding_rows(unit.findings, user),
        "pictures": unit_pictures(unit, user, today),
        "timeline": unit_timeline(unit, user),
        "care": care_rows(unit, user, today),
        "cover": cover_of(unit, user, today),
        "certificates": Certificate.objects.visible_to(user).of_unit(unit),
    }
    return render(request, "reports/unit_detail.html", context)
