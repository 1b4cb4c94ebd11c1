"""The stock: what lies where, units received, and what becomes of each."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import SHOP_ROLES, Role
from installs.forms.stock import (
    MoveForm,
    PutInForm,
    RemoveForm,
    ReturnForm,
    ScrapForm,
    StockForm,
    forms_for,
)
from installs.models import Unit
from installs.stock_filter import StockFilter
from installs.stock_status import count_stock, standing_words, with_standing

__all__ = ["move", "put_in", "remove", "return_to_maker", "scrap", "stock", "stock_unit"]

PER_PAGE = 25


@require_safe
@may(*SHOP_ROLES)
def stock(request):
    units = with_standing(Unit.objects.visible_to(request.user))
    narrowed = StockFilter(request.GET, units, request=request)
    page = Paginator(narrowed.qs.order_by("serial"), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "filter": narrowed,
        "counts": list(count_stock(narrowed.qs)),
        "page": page,
        "rows": [(unit, standing_words(unit)) for unit in page.object_list],
        "may_receive": request.user.role != Role.WARRANTY_CLERK,
    }
    return render(request, "installs/stock.html", context)


@require_safe
@may(*SHOP_ROLES)
def stock_unit(request, pk):
    return _unit_page(request, pk)


@require_POST
@may(*PutInForm.roles)
def put_in(request, pk):
    return _take(request, pk, PutInForm)


@require_POST
@may(*RemoveForm.roles)
def remove(request, pk):
    return _take(request, pk, RemoveForm)


@require_POST
@may(*MoveForm.roles)
def move(request, pk):
    return _take(request, pk, MoveForm)


@require_POST
@may(*ReturnForm.roles)
def return_to_maker(request, pk):
    return _take(request, pk, ReturnForm)


@require_POST
@may(*ScrapForm.roles)
def scrap(request, pk):
    return _take(request, pk, ScrapForm)


def _take(request, pk: int, form_class: type[StockForm]):
    unit = get_object_or_404(Unit.objects.visible_to(request.user), pk=pk)
    form = form_class(unit, request.user, request.POST)
    if not form.take(timezone.now()):
        return _unit_page(request, pk, form)
    unit = with_standing(Unit.objects.visible_to(request.user)).get(pk=pk)
    shown = {"serial": unit, "where": standing_words(unit)}
    messages.success(request, _("Written down: %(serial)s is %(where)s.") % shown)
    return redirect("stock_unit", pk)


def _unit_page(request, pk: int, bound: StockForm | None = None):
    units = with_standing(Unit.objects.visible_to(request.user))
    unit = get_object_or_404(units, pk=pk)
    context = {
        "unit": unit,
        "where": standing_words(unit),
        "forms": forms_for(unit, request.user, bound),
        "moves": unit.stock_moves.select_related("yard", "tractor__customer", "person"),
        "installs": unit.installs.select_related("tractor", "customer").order_by("-installed_on"),
        "bookings": unit.bookings.with_all().order_by("-begins_at"),
    }
    return render(request, "installs/stock_unit.html", context)
