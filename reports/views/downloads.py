"""What people take away: the fleet workbook, a unit's card, a job's packet, a certificate."""

from io import BytesIO

from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE, SHOP_ROLES
from installs.models import Booking, Certificate, Customer, Unit
from reports.exports.certificate import write_certificate
from reports.exports.job_packet import write_job_packet
from reports.exports.pdf import write_unit_card
from reports.exports.refrigerant_book import write_refrigerant_book
from reports.exports.workbook import write_fleet_workbook
from service.forms.refrigerant import PeriodForm


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


@require_safe
@may(*SHOP_ROLES)
def job_packet(request, pk):
    bookings = Booking.objects.visible_to(request.user).with_all().select_related("unit__model")
    booking = get_object_or_404(bookings, pk=pk)
    file = BytesIO()
    write_job_packet(file, booking, request.user)
    file.seek(0)
    return FileResponse(file, filename=get_valid_filename(f"job-packet-{booking.pk}.pdf"))


@require_safe
@may(*ANYONE)
def certificate_pdf(request, pk):
    certificate = get_object_or_404(Certificate.objects.visible_to(request.user), pk=pk)
    file = BytesIO()
    write_certificate(file, certificate, request.user)
    file.seek(0)
    return FileResponse(file, filename=get_valid_filename(f"certificate-{certificate}.pdf"))


@require_safe
@may(*SHOP_ROLES)
def refrigerant_workbook(request):
    """The refrigerant book of a period, `?from=…&to=…`; of this year where none is named."""
    today = timezone.localdate()
    period = {"from": f"{today.year}-01-01", "to": today.isoformat()}
    form = PeriodForm(period | request.GET.dict())
    if not form.is_valid():
        raise Http404
    file = BytesIO()
    first, last = form.days
    write_refrigerant_book(file, request.user, first, last)
    file.seek(0)
    name = f"refrigerant-book-{first}-{last}.xlsx"
    return FileResponse(file, as_attachment=True, filename=name)


def _customer(user, chosen: str) -> Customer:
    if not chosen.isdecimal():
        raise Http404
    return get_object_or_404(Customer.objects.visible_to(user), pk=int(chosen))
