"""What people do with what the screen says: each view takes one step."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleetcool.access import may
from reports.forms.concerns import (
    AcknowledgeForm,
    BookForm,
    FoundForm,
    PutOffForm,
    StepForm,
)
from reports.models import Concern, Step
from reports.states import state_text
from reports.views.findings import finding_page


@require_POST
@may(*Step.ACKNOWLEDGED.roles)
def acknowledge(request, pk):
    return _take(request, pk, AcknowledgeForm)


@require_POST
@may(*Step.PUT_OFF.roles)
def put_off(request, pk):
    return _take(request, pk, PutOffForm)


@require_POST
@may(*Step.BOOKED.roles)
def book(request, pk):
    return _take(request, pk, BookForm)


@require_POST
@may(*Step.CONFIRMED.roles)
def found(request, pk):
    return _take(request, pk, FoundForm)


def _take(request, pk: int, form_class: type[StepForm]):
    concern = get_object_or_404(Concern.objects.visible_to(request.user), pk=pk)
    form = form_class(concern, request.user, request.POST)
    if form.take(timezone.now()):
        messages.success(request, _("Written down: %(state)s.") % {"state": state_text(concern)})
        return redirect(concern)
    finding = get_object_or_404(concern.findings.order_by("-run__as_of")[:1])
    return render(
        request, "reports/finding_detail.html", finding_page(request.user, finding.pk, form)
    )
