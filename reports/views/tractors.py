"""The trucks: all of them, and one with its bank, its units over time and its findings."""

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from installs.models import Tractor
from reports.filters import TractorFilter
from reports.lists import finding_rows, tractor_rows
from reports.tables import TractorTable, paged


@require_safe
@may(*ANYONE)
def tractor_list(request):
    rows = tractor_rows(Tractor.objects, request.user)
    narrowed = TractorFilter(request.GET, rows, request=request)
    context = {"filter": narrowed, "table": paged(TractorTable(narrowed.qs), request)}
    return render(request, "reports/tractor_list.html", context)


@require_safe
@may(*ANYONE)
def tractor_detail(request, vin):
    user = request.user
    tractors = Tractor.objects.visible_to(user).select_related("customer", "yard", "bank")
    tractor = get_object_or_404(tractors, vin__iexact=vin)
    installs = tractor.installs.visible_to(user).select_related("unit__model", "customer")
    context = {
        "tractor": tractor,
        "installs": installs.order_by("-installed_on"),
        "findings": finding_rows(tractor.findings, user),
    }
    return render(request, "reports/tractor_detail.html", context)
