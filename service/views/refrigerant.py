"""The refrigerant book: cylinders, what is done with each, the balance, and a unit's losses."""

from datetime import date

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import SHOP_ROLES, Role
from fleetcool.quantities import UNIT_LABEL
from installs.models import Unit
from service.balance import balance_by, moved_outside
from service.book_page import (
    balance_table,
    co2e,
    cylinder_lines,
    fine_mass,
    moments_of,
    standing_words,
)
from service.cylinder_cautions import cylinder_cautions, handling
from service.engineering.rules import Charge, kept_years, reach
from service.forms.refrigerant import ACT_FORMS, BalanceForm, CylinderForm, act_forms
from service.leaks import leaks_of
from service.models import Cylinder, MovementKind, Reading
from service.rule_words import RULE_ASKS, country_of_shop, why

__all__ = ["cylinder", "cylinder_act", "cylinder_new", "cylinders", "refrigerant_balance", "unit"]

# Those who write in the book.
KEEPERS = (Role.OFFICE, Role.OWNER, Role.TECHNICIAN)


@require_safe
@may(*SHOP_ROLES)
def cylinders(request):
    rows = Cylinder.objects.visible_to(request.user).select_related("owner", "yard")
    rows = rows.order_by("refrigerant", "code")
    system = request.user.unit_system
    in_use = [(row, fine_mass(row.held_g, system)) for row in rows.in_use()]
    context = {
        "caution": handling(),
        "in_use": in_use,
        "by_name": rows.filter(booked_from=None),
        "retired": rows.filter(retired_at__isnull=False),
        "may_write": request.user.role in KEEPERS,
    }
    return render(request, "service/cylinders.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@may(*KEEPERS)
def cylinder_new(request):
    form = CylinderForm(request.user, request.POST or None)
    if request.method == "POST" and (made := form.save()):
        messages.success(request, _("On record: %s. Now put it into the book.") % made)
        return redirect(made)
    return render(request, "service/cylinder_new.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
@may(*SHOP_ROLES)
def cylinder(request, pk):
    row = _cylinder(request, pk)
    if request.method != "POST":
        return _page(request, row)
    if request.user.role not in KEEPERS:
        raise PermissionDenied
    form = CylinderForm(request.user, request.POST, cylinder=row)
    if form.save():
        messages.success(request, _("Written down."))
        return redirect(row)
    return _page(request, row, describe=form)


@require_POST
@may(*KEEPERS)
def cylinder_act(request, pk, act):
    row = _cylinder(request, pk)
    if act not in act_forms(row):
        raise Http404
    form = ACT_FORMS[act](row, request.user, timezone.now(), request.POST, prefix=act)
    if form.save():
        messages.success(request, _("Written down: %s.") % form.title)
        return redirect(row)
    return _page(request, row, acted=form)


@require_safe
@may(*SHOP_ROLES)
def refrigerant_balance(request):
    today = timezone.localdate()
    period = {"from": date(today.year, 1, 1).isoformat(), "to": today.isoformat()}
    form = BalanceForm(period | request.GET.dict())
    context = {"form": form}
    if form.is_valid():
        first, last = form.days
        span, system = moments_of(first, last), request.user.unit_system
        kinds, cylinders = dict(MovementKind.choices), form.cylinders(request.user)
        context |= {
            "unit_label": UNIT_LABEL["mass", system],
            "first": first,
            "last": last,
            "by_refrigerant": balance_table(
                balance_by(lambda row: row.refrigerant, *span, cylinders), system
            ),
            "by_cylinder": balance_table(balance_by(lambda row: row, *span, cylinders), system),
            "of_all": not form.cleaned_data["owner"],
            "outside": [
                (gas, kinds[kind], fine_mass(mass_g, system))
                for gas, kind, mass_g in moved_outside(*span)
            ],
        }
    return render(request, "service/refrigerant_balance.html", context)


@require_safe
@may(*SHOP_ROLES)
def unit(request, serial):
    user, today = request.user, timezone.localdate()
    units = Unit.objects.visible_to(user)
    row = get_object_or_404(units.select_related("model"), serial__iexact=serial)
    (leak,) = leaks_of(units.filter(pk=row.pk), today, user)
    model, system = row.model, user.unit_system
    reached = reach(Charge(model.refrigerant, model.charge_g), today)
    reached.sort(key=lambda one: one.rule.country != country_of_shop())
    standing = Reading.objects.visible_to(user).filter(unit=row, output="").by_time().last()
    context = {
        "unit": row,
        "cautions": cylinder_cautions(model.refrigerant),
        "leak": leak,
        "charge_co2e": co2e(model.charge_g, model.refrigerant),
        "added": fine_mass(leak.added_g, system),
        "added_co2e": co2e(leak.added_g, model.refrigerant),
        "rules": [(one, RULE_ASKS[one.rule.code], why(one, system)) for one in reached],
        "country": country_of_shop(),
        "country_known": any(one.rule.country == country_of_shop() for one in reached),
        "kept_years": kept_years(settings.REGION),
        "standing": standing,
        "standing_words": standing_words(standing, model.refrigerant),
        "today": today,
    }
    return render(request, "service/refrigerant_unit.html", context)


def _cylinder(request, pk) -> Cylinder:
    rows = Cylinder.objects.visible_to(request.user).select_related("owner", "yard")
    return get_object_or_404(rows, pk=pk)


def _asked(request, act: str) -> dict[str, str]:
    """What the address asks an act to begin with: the movement that was wrong, struck out."""
    movement = request.GET.get("movement")
    return {"movement": movement, "mass_g": "0"} if movement and act == "correct-move" else {}


def _page(request, row: Cylinder, *, describe=None, acted=None):
    """A cylinder's page; a form that was refused stands open with its reasons."""
    user, now = request.user, timezone.now()
    forms = []
    if user.role in KEEPERS:
        forms = [
            (
                name,
                acted
                if isinstance(acted, ACT_FORMS[name])
                else ACT_FORMS[name](row, user, now, prefix=name, initial=_asked(request, name)),
            )
            for name in act_forms(row)
        ]
        describe = describe or CylinderForm(user, cylinder=row)
    context = {
        "cylinder": row,
        "cautions": cylinder_cautions(row.refrigerant),
        "held": fine_mass(row.held_g, user.unit_system) if row.is_in_book else "",
        "held_co2e": co2e(row.held_g, row.refrigerant) if row.is_in_book else "",
        "lines": cylinder_lines(row, user.unit_system),
        "forms": forms,
        "describe": describe,
        "unit_label": UNIT_LABEL["mass", user.unit_system],
    }
    return render(request, "service/cylinder.html", context)
