"""Warranty claims: the work list, one claim with its rules and steps, and what suppliers owe."""

from io import BytesIO

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst, get_valid_filename
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE, SHOP_ROLES
from reports.claim_list import claim_rows, due_within, mine_to_decide, totals
from reports.claim_page import claim_page
from reports.claim_recovery import recovery_page
from reports.claim_rules import decline_choices
from reports.claim_tables import ClaimFilter, ClaimTable, OwnClaimTable
from reports.exports.claim_packet import write_claim_packet
from reports.exports.claims_workbook import write_claims_workbook
from reports.forms.claims import STEP_FORMS, DescribeForm, LinesForm, step_form
from reports.tables import paged
from service import claiming
from service.claim_facts import assess_claim
from service.claim_rules import ACTS
from service.models import Claim, Visit

SOON_DAYS = 7


@require_safe
@may(*ANYONE)
def claim_list(request):
    user, today = request.user, timezone.localdate()
    rows = claim_rows(user)
    narrowed = ClaimFilter(request.GET, rows, request=request)
    table = ClaimTable if user.sees_all else OwnClaimTable
    context = {
        "filter": narrowed,
        "table": paged(table(narrowed.qs), request),
        "totals": totals(narrowed.qs) if user.sees_all else [],
        "mine": mine_to_decide(rows, user).count() if user.role in ACTS else None,
        "soon": due_within(rows, SOON_DAYS, today).count() if user.sees_all else None,
    }
    return render(request, "reports/claim_list.html", context)


@require_safe
@may(*ANYONE)
def claim_detail(request, pk):
    claim = _claim(request, pk)
    context = claim_page(claim, request.user, timezone.localdate())
    return render(request, "reports/claim_detail.html", context)


@require_safe
@may(*SHOP_ROLES)
def claims_recovery(request):
    context = recovery_page(request.user, timezone.localdate())
    return render(request, "reports/claims_recovery.html", context)


@require_safe
@may(*SHOP_ROLES)
def claims_workbook(request):
    file = BytesIO()
    write_claims_workbook(file, request.user, timezone.localdate())
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename="claims.xlsx")


@require_safe
@may(*SHOP_ROLES)
def claim_packet(request, pk):
    claim = _claim(request, pk)
    file = BytesIO()
    write_claim_packet(file, claim, request.user)
    file.seek(0)
    return FileResponse(file, filename=get_valid_filename(f"claim-{claim.number}.pdf"))


@require_POST
@may(*ACTS)
def claim_open(request, pk):
    visit = get_object_or_404(Visit.objects.visible_to(request.user), pk=pk)
    try:
        claim = claiming.open_from_visit(visit, request.user, timezone.now())
    except ValidationError as refused:
        for message in refused.messages:
            messages.error(request, message)
        return redirect(visit)
    return redirect(claim)


@require_POST
@may(*ACTS)
def claim_describe(request, pk):
    return _taken(request, DescribeForm(_claim(request, pk), request.user, request.POST))


@require_POST
@may(*ACTS)
def claim_lines(request, pk):
    return _taken(request, LinesForm(_claim(request, pk), request.user, request.POST))


@require_POST
@may(*ACTS)
def claim_step(request, pk, kind):
    if kind not in STEP_FORMS:
        raise Http404
    claim, form_class = _claim(request, pk), STEP_FORMS[kind]
    rules = decline_choices(assess_claim(claim, timezone.localdate()))
    return _taken(request, step_form(form_class, claim, request.user, rules, request.POST))


def _claim(request, pk: int) -> Claim:
    return get_object_or_404(Claim.objects.visible_to(request.user).with_all(), pk=pk)


def _taken(request, form):
    """Take what the form says; a refusal shows the page again with all that was typed."""
    if form.take(timezone.now()):
        state = capfirst(_claim(request, form.claim.pk).state.label)
        messages.success(
            request, _("Written down. The claim stands so: %(state)s.") % {"state": state}
        )
        return redirect(form.claim)
    claim = _claim(request, form.claim.pk)
    context = claim_page(claim, request.user, timezone.localdate(), form)
    return render(request, "reports/claim_detail.html", context)
