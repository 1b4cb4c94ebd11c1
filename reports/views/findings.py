"""Which trucks to bring in, and why."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from reports.accounts import screen_account
from reports.filters import FindingFilter
from reports.lists import finding_rows
from reports.models import Finding
from reports.tables import FindingTable, paged


@require_safe
@may(*ANYONE)
def finding_list(request):
    rows = finding_rows(Finding.objects, request.user)
    narrowed = FindingFilter(request.GET, rows, request=request)
    table = paged(FindingTable(narrowed.qs), request)
    context = {"account": screen_account(request.user), "filter": narrowed, "table": table}
    return render(request, "reports/finding_list.html", context)
