"""What people take away: the fleet workbook and a unit's card."""

from io import BytesIO

from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE
from installs.models import Customer, Unit
from reports.exports.pdf import write_unit_card
from reports.exports.workbook import write_fleet_workbook


@require_safe
@may(*ANYONE)
def fleet_workbook(request):
    """The workbook of all that the person sees or, with `?customer=`, of one customer of theirs."""
    chosen = request.GET.get("customer")
    customer = _customer(request.user, chosen) if chosen else None
    file = BytesIO()
    write_fleet_workbook(file, request.user, customer=customer)
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename="fleet-workbook.xlsx")


@require_safe
@may(*ANYONE)
def unit_card(request, serial):
    unit = get_object_or_404(Unit.objects.visible_to(request.user), serial__iexact=serial)
    file = BytesIO()
    write_unit_card(file, unit, request.user)
    file.seek(0)
    return FileResponse(file, filename=get_valid_filename(f"unit-card-{unit}.pdf"))


def _customer(user, chosen: str) -> Customer:
    if not chosen.isdecimal():
        raise Http404
    return get_object_or_404(Customer.objects.visible_to(user), pk=int(chosen))
