"""The fit check before a sale: asked by an address, so that it can be sent, printed and kept."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import SHOP_ROLES
from installs.engineering.fit import check
from installs.fit_result import fit_result
from installs.forms.fit import FitForm, RecordsForm, recorded
from installs.models import FitCheck

# A field that every whole question has, and no link from a truck's page.
WHOLE = "hours_wanted"


@require_safe
@may(*SHOP_ROLES)
def fit_check(request):
    user, today = request.user, timezone.localdate()
    records = RecordsForm(request.GET, user)
    named = records.cleaned_data if records.is_valid() else {}
    tractor, model = named.get("tractor"), named.get("model")
    if WHOLE in request.GET:
        form = FitForm(user, request.GET)
    else:
        form = FitForm(user, initial=recorded(tractor, model, today))
    context = {"records": records, "form": form, "tractor": tractor, "model": model, "day": today}
    if form.is_bound and form.is_valid():
        asked = form.asked()
        context["result"] = fit_result(asked, check(asked), user.unit_system)
    of_whom = {"tractor": tractor} if tractor else {"made_by": user}
    kept = FitCheck.objects.visible_to(user).filter(**of_whom)
    context["kept"] = kept.select_related("made_by", "unit_model", "tractor__customer")[:5]
    return render(request, "installs/fit.html", context)


@require_POST
@may(*SHOP_ROLES)
def fit_keep(request):
    form = FitForm(request.user, request.POST)
    if not form.is_valid():
        return redirect(f"{reverse('fit_check')}?{form.address()}")
    fit = check(form.asked())
    kept = FitCheck.objects.create(
        tractor=form.cleaned_data["tractor"],
        unit_model=form.cleaned_data["model"],
        asked=form.address(),
        verdict=fit.verdict,
        hours_low=fit.hours.low,
        hours=fit.hours.middle,
        hours_high=fit.hours.high,
        made_by=request.user,
        made_at=timezone.now(),
    )
    messages.success(request, _("Kept. It stands at the foot of this page."))
    return redirect(kept)
