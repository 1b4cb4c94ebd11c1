"""Units received: by scan, each line for itself, or by a sheet."""

from pathlib import Path, PurePath
from tempfile import TemporaryDirectory

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from fleetcool.access import may
from fleetcool.models.people import Role
from installs.forms.stock import ReceiveForm, SheetForm
from installs.receiving import Receipt, receive_sheet
from installs.records.book import BookError

__all__ = ["stock_receive", "stock_receive_sheet"]

RECEIVERS = (Role.OFFICE, Role.TECHNICIAN, Role.OWNER)
# A sheet can also change what is on record of a unit: that is the office's.
LOADERS = (Role.OFFICE, Role.OWNER)
# Of the rows that were refused, how many the page shows.
SHOWN = 200


@require_http_methods(["GET", "HEAD", "POST"])
@may(*RECEIVERS)
def stock_receive(request):
    if request.method != "POST":
        return _page(request, ReceiveForm(initial=request.GET.dict()))
    form = ReceiveForm(request.POST)
    receipt = form.take(request.user, timezone.now())
    if receipt is None:
        return _page(request, form)
    messages.success(request, _receipt_words(receipt))
    if receipt.refused:
        return _page(request, form.left_over(receipt), refused=receipt.refused)
    kept = {name: request.POST[name] for name in ("yard", "model", "lot", "made_on")}
    return redirect(reverse("stock_receive", query=kept))


@require_POST
@may(*LOADERS)
def stock_receive_sheet(request):
    form = SheetForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, ReceiveForm(), form)
    try:
        load, placed = _load(form.cleaned_data, request.user)
    except BookError as error:
        form.add_error("sheet", str(error))
        return _page(request, ReceiveForm(), form)
    context = {
        "account": load.accounts["units"],
        "placed": len(placed),
        "yard": form.cleaned_data["yard"],
        "notes": load.notes,
        "rejects": load.refused[:SHOWN],
        "more": max(len(load.refused) - SHOWN, 0),
    }
    return _page(request, ReceiveForm(), loaded=context)


def _load(details: dict, by):
    """Load an uploaded sheet from a place of its own, of which no message tells."""
    upload = details["sheet"]
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"units{PurePath(upload.name).suffix.lower()}"
        with path.open("wb") as file:
            for chunk in upload.chunks():
                file.write(chunk)
        try:
            return receive_sheet(path, details["yard"], by, timezone.now())
        except BookError as error:
            raise BookError(str(error).replace(str(path), upload.name)) from None


def _page(request, form: ReceiveForm, sheet_form: SheetForm | None = None, **more):
    may_load = request.user.role in LOADERS
    context = {"form": form, "sheet_form": (sheet_form or SheetForm()) if may_load else None}
    return render(request, "installs/stock_receive.html", context | more)


def _receipt_words(receipt: Receipt) -> str:
    received = ngettext("%(n)d unit received", "%(n)d units received", len(receipt.received))
    parts = [received % {"n": len(receipt.received)}]
    if receipt.unchanged:
        parts.append(_("%(n)d here already") % {"n": len(receipt.unchanged)})
    if receipt.refused:
        parts.append(_("%(n)d not taken") % {"n": len(receipt.refused)})
    return ", ".join(parts) + "."
