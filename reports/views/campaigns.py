"""Campaigns: whom a bulletin is for, who was told, what is booked and done, and the letters."""

from io import BytesIO

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import get_valid_filename
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleetcool.access import may
from fleetcool.models import Role
from reports.campaign_page import affected, completion, counts_of
from reports.exports.letter import write_letter
from service.campaign_letters import send
from service.campaigning import Addressee, addressees, mark_told
from service.forms.campaigns import CampaignForm, CampaignUnitForm
from service.models import Campaign, CampaignUnit

__all__ = [
    "campaign",
    "campaign_letter",
    "campaign_new",
    "campaign_send",
    "campaign_told",
    "campaign_unit",
    "campaigns",
]

KEEPERS = (Role.OFFICE, Role.WARRANTY_CLERK, Role.OWNER)
MOST_SHOWN, PER_PAGE = 200, 50


@require_safe
@may(*KEEPERS)
def campaigns(request):
    rows = Campaign.objects.visible_to(request.user).counted()
    return render(request, "reports/campaign_list.html", {"campaigns": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@may(*KEEPERS)
def campaign_new(request):
    """A bulletin is first shown with the units that it would be for, then opened for just those."""
    form = CampaignForm(request.user, request.POST or None)
    context = {"form": form, "most_shown": MOST_SHOWN}
    if request.method == "POST" and form.is_valid():
        mark = form.asked.mark()
        if "open" in request.POST and request.POST.get("shown") == mark:
            opened = form.open(timezone.now())
            messages.success(request, _("Opened. Now tell the owners."))
            return redirect(opened)
        units = form.asked.units()
        context |= {"units": units[:MOST_SHOWN], "found": units.count(), "mark": mark}
        context |= {
            "no_day": form.asked.without_a_day().count(),
            "changed": "open" in request.POST,
        }
    return render(request, "reports/campaign_new.html", context)


@require_safe
@may(*KEEPERS)
def campaign(request, pk):
    opened = get_object_or_404(Campaign.objects.visible_to(request.user), pk=pk)
    rows = affected(opened, request.user)
    context = {
        "campaign": opened,
        "page": Paginator(rows, PER_PAGE).get_page(request.GET.get("page")),
        "counts": counts_of(rows),
        "completion": completion(opened, rows, timezone.localdate()),
        "addressees": addressees(opened),
    }
    return render(request, "reports/campaign.html", context)


@require_POST
@may(*KEEPERS)
def campaign_send(request, pk):
    """Write to every customer with an address of the units it was not told of yet."""
    opened = get_object_or_404(Campaign.objects.visible_to(request.user), pk=pk)
    counts = [send(opened, one, timezone.now()) for one in addressees(opened)]
    sent = sum(count > 0 for count in counts)
    words = ngettext("%(n)d e-mail went out.", "%(n)d e-mails went out.", sent) % {"n": sent}
    messages.success(request, words) if sent else messages.warning(request, words)
    return redirect(opened)


@require_POST
@may(*KEEPERS)
def campaign_told(request, pk, customer):
    """A customer was told by post or by telephone."""
    opened, addressee = _addressee(request.user, pk, customer)
    mark_told(addressee.untold, timezone.now())
    messages.success(request, _("Written down: %(who)s was told.") % {"who": addressee.customer})
    return redirect(opened)


@require_safe
@may(*KEEPERS)
def campaign_letter(request, pk, customer):
    opened, addressee = _addressee(request.user, pk, customer)
    file = BytesIO()
    write_letter(file, opened, addressee, request.user)
    file.seek(0)
    name = get_valid_filename(f"letter-{opened.number}-{addressee.customer.code}.pdf")
    return FileResponse(file, filename=name)


@require_http_methods(["GET", "HEAD", "POST"])
@may(*KEEPERS)
def campaign_unit(request, pk, serial):
    rows = CampaignUnit.objects.visible_to(request.user).with_all()
    row = get_object_or_404(rows, campaign=pk, unit__serial__iexact=serial)
    form = CampaignUnitForm(row, request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.settle(timezone.now())
        messages.success(request, _("Written down for unit %(serial)s.") % {"serial": row.unit})
        return redirect(row.campaign)
    install = row.unit.installs.current().select_related("tractor", "customer").first()
    context = {"row": row, "form": form, "install": install}
    return render(request, "reports/campaign_unit.html", context)


def _addressee(user, pk: int, customer: int) -> tuple[Campaign, Addressee]:
    opened = get_object_or_404(Campaign.objects.visible_to(user), pk=pk)
    for one in addressees(opened):
        if one.customer.pk == customer:
            return opened, one
    raise Http404
