"""Which trucks to bring in, and why; and one finding with all that speaks for and against it."""

from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from reports.accounts import screen_account
from reports.filters import FindingFilter
from reports.finding_pictures import finding_pictures
from reports.forms.concerns import StepForm, forms_for
from reports.lists import finding_rows, said_rows
from reports.models import Concern, Finding
from reports.tables import FindingTable, paged


@require_safe
@may(*ANYONE)
def finding_list(request):
    today = timezone.localdate()
    rows = finding_rows(Finding.objects, request.user)
    narrowed = FindingFilter(request.GET, rows, request=request)
    context = {
        "account": screen_account(request.user),
        "filter": narrowed,
        "table": paged(FindingTable(narrowed.qs), request),
        "put_off": rows.put_off(today).count(),
        "settled": rows.settled().count(),
    }
    return render(request, "reports/finding_list.html", context)


@require_safe
@may(*ANYONE)
def finding_detail(request, pk):
    return render(request, "reports/finding_detail.html", finding_page(request.user, pk))


def finding_page(user, pk: int, bound: StepForm | None = None) -> dict:
    """What stands on a finding's page; `bound` is a form that came back with what is wrong in it."""
    finding = get_object_or_404(said_rows(Finding.objects, user), pk=pk)
    concern = finding.concern
    context = {
        "finding": finding,
        "concern": concern,
        "pictures": finding_pictures(finding, user, timezone.localdate()),
    }
    if concern is None:
        return context
    forms = forms_for(concern, user, bound)
    return context | {
        "steps": concern.steps.select_related("by"),
        "forms": forms,
        "bound": bound,
        "refused": bound if bound not in forms else None,
        "newest": concern.findings.order_by("-run__as_of").values_list("pk", flat=True).first(),
        "earlier": Concern.objects.visible_to(user).before(concern),
    }
