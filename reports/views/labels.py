"""Labels for units: which ones, how many, and their sheets as PDF."""

from io import BytesIO

from django.core.paginator import Paginator
from django.http import FileResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models.people import SHOP_ROLES
from installs.models import Unit
from reports.exports.labels import PER_SHEET, write_labels
from reports.forms.labels import LabelForm

__all__ = ["label_sheet", "labels"]

# A file is made while someone waits: 1,008 labels at most.
SHEETS_PER_FILE = 42


@require_safe
@may(*SHOP_ROLES)
def labels(request):
    """Choose the units; with a query, say how many labels and sheets that makes."""
    form = LabelForm(request.user, request.GET or None)
    context = {"form": form}
    if form.is_valid():
        chosen = form.chosen()
        places = len(chosen.units) + form.cleaned_data["skip"]
        files = _files(chosen.units, form.cleaned_data["skip"])
        context |= {
            "chosen": chosen,
            "sheets": -(-places // PER_SHEET),
            "files": [_address(request, number) for number in files.page_range],
        }
    return render(request, "reports/labels.html", context)


@require_safe
@may(*SHOP_ROLES)
def label_sheet(request):
    """The labels of the same query as PDF; where it asks for none, the page says what is wrong."""
    form = LabelForm(request.user, request.GET)
    units = form.chosen().units if form.is_valid() else []
    if not units:
        return redirect(reverse("labels", query=request.GET))
    places = _files(units, form.cleaned_data["skip"]).get_page(request.GET.get("file")).object_list
    wanted = [unit for unit in places if unit is not None]
    file = BytesIO()
    write_labels(file, wanted, request.user, skip=len(places) - len(wanted))
    file.seek(0)
    return FileResponse(file, filename="labels.pdf")


def _files(units: list[Unit], skip: int) -> Paginator:
    """The places of the sheets file by file, each of whole sheets; None is a place left free."""
    return Paginator([*[None] * skip, *units], SHEETS_PER_FILE * PER_SHEET)


def _address(request, number: int) -> str:
    return reverse("label_sheet", query=request.GET.dict() | {"file": number})
