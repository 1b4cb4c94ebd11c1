"""The sale of a truck from one customer to another."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from fleetcool.access import may
from fleetcool.models.people import Role
from installs.forms.sales import SaleForm
from installs.models import Tractor

__all__ = ["tractor_sell"]


@require_http_methods(["GET", "HEAD", "POST"])
@may(Role.OFFICE, Role.OWNER)
def tractor_sell(request, vin):
    tractors = Tractor.objects.visible_to(request.user).select_related("customer", "yard")
    tractor = get_object_or_404(tractors, vin__iexact=vin)
    seller = tractor.customer
    form = SaleForm(tractor, request.user, request.POST or None)
    if form.take(timezone.now()):
        shown = {"vin": tractor.vin, "buyer": tractor.customer, "seller": seller}
        messages.success(
            request, _("Written down: %(vin)s was sold by %(seller)s to %(buyer)s.") % shown
        )
        return redirect(tractor)
    installs = tractor.installs.current().select_related("unit__model")
    context = {"tractor": tractor, "form": form, "installs": installs}
    return render(request, "installs/tractor_sell.html", context)
