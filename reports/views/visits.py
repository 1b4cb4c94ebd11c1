"""Which trucks to visit next, and what to do and to measure at each."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from reports.accounts import screen_account
from reports.filters import VisitFilter
from reports.visits import ask_rows, due_rows, stops_page


@require_safe
@may(*ANYONE)
def next_visits(request):
    user, today = request.user, timezone.localdate()
    asks = VisitFilter(request.GET, ask_rows(user), request=request)
    findings = VisitFilter(request.GET, due_rows(user, today), request=request)
    page, counts = stops_page(findings.qs, asks.qs, today, request.GET.get("page"))
    context = {
        "account": screen_account(user),
        "filter": asks,
        "page": page,
        "counts": counts,
        "today": today,
    }
    return render(request, "reports/visit_list.html", context)
