"""The customers: all of them, and one with its trucks, its findings and its people."""

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from reports.filters import CustomerFilter, OwnTractorFilter
from reports.lists import cause_counts, customer_rows, tractor_rows
from reports.tables import CustomerTable, TractorTable, paged


@require_safe
@may(*ANYONE)
def customer_list(request):
    narrowed = CustomerFilter(request.GET, customer_rows(request.user), request=request)
    context = {"filter": narrowed, "table": paged(CustomerTable(narrowed.qs), request)}
    return render(request, "reports/customer_list.html", context)


@require_safe
@may(*ANYONE)
def customer_detail(request, pk):
    customer = get_object_or_404(customer_rows(request.user), pk=pk)
    rows = tractor_rows(customer.tractors, request.user)
    narrowed = OwnTractorFilter(request.GET, rows, request=request)
    context = {
        "customer": customer,
        "people": customer.people.all(),
        "causes": cause_counts(customer.findings, request.user),
        "filter": narrowed,
        "table": paged(TractorTable(narrowed.qs, exclude=["customer"]), request),
    }
    return render(request, "reports/customer_detail.html", context)
