"""The proof of an install on the phone: the list of steps, each step, and handing over."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleetcool.access import may
from fleetcool.models import Role
from fleetcool.models.people import SHOP_ROLES
from installs.models import Booking, Commissioning, Install, InstallStep, Photo, StepRecord
from installs.photos import add_photo
from service.commissioned import begin, begin_for_install, finish, let_pass
from service.commissioning_page import step_page, steps_page
from service.forms.commissioning import HandOverForm, LetPassForm, PhotoForm, StepForm
from service.signing import check_may_sign, may_sign, technician_of

# Those who put a unit in and prove it.
SIGNERS = (Role.TECHNICIAN, Role.OWNER)


@require_POST
@may(*SIGNERS)
def commissioning_begin(request, pk):
    booking = get_object_or_404(Booking.objects.visible_to(request.user), pk=pk)
    try:
        return redirect(begin(booking, request.user, timezone.now()))
    except ValidationError as refused:
        _say(request, refused)
        return redirect(booking)


@require_POST
@may(*SIGNERS)
def commissioning_begin_install(request, pk):
    install = get_object_or_404(Install.objects.visible_to(request.user), pk=pk)
    technician = technician_of(request.user)
    try:
        check_may_sign(technician, InstallStep.MOUNTING, timezone.localdate())
        return redirect(begin_for_install(install, technician, timezone.now()))
    except ValidationError as refused:
        _say(request, refused)
        return redirect(install.unit)


@require_safe
@may(*SHOP_ROLES)
def commissioning(request, pk):
    return _list(request, _commissioning(request, pk), HandOverForm())


@require_http_methods(["GET", "HEAD", "POST"])
@may(*SHOP_ROLES)
def commissioning_step(request, pk, step):
    commissioning, step = _commissioning(request, pk), _step(step)
    if request.method != "POST":
        return _page(request, commissioning, step)
    if request.user.role not in SIGNERS:
        raise PermissionDenied
    form = StepForm(step, commissioning, request.user.unit_system, request.POST)
    if form.save(technician_of(request.user), timezone.now()):
        messages.success(request, _("Saved: %(step)s.") % {"step": step.label})
        return redirect(_address(commissioning, step))
    return _page(request, commissioning, step, form=form)


@require_POST
@may(*SIGNERS)
def commissioning_photo(request, pk, step):
    commissioning, step = _commissioning(request, pk), _step(step)
    form = PhotoForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            technician = technician_of(request.user)
            check_may_sign(technician, InstallStep.MOUNTING, timezone.localdate())
            add_photo(
                commissioning,
                step,
                form.cleaned_data["photo"],
                form.cleaned_data["caption"],
                technician,
                timezone.now(),
            )
            return redirect(_address(commissioning, step, "photos"))
        except ValidationError as refused:
            form.add_error(None, refused.messages)
    return _page(request, commissioning, step, photo_form=form)


@require_POST
@may(*SIGNERS)
def commissioning_let_pass(request, pk, step):
    commissioning, step = _commissioning(request, pk), _step(step)
    form = LetPassForm(request.POST)
    if form.is_valid():
        kept = commissioning.records.filter(step=step)
        record = get_object_or_404(kept, pk=form.cleaned_data["record"])
        try:
            let_pass(
                record,
                form.cleaned_data["proof"],
                request.user,
                form.cleaned_data["reason"],
                timezone.now(),
            )
            return redirect(_address(commissioning, step))
        except ValidationError as refused:
            form.add_error(None, refused.messages)
    return _page(request, commissioning, step, let_pass_form=form)


@require_POST
@may(*SIGNERS)
def commissioning_certificate(request, pk):
    commissioning = _commissioning(request, pk)
    form = HandOverForm(request.POST)
    if form.is_valid():
        try:
            technician = technician_of(request.user)
            return redirect(
                finish(commissioning, technician, at=timezone.now(), **form.cleaned_data)
            )
        except ValidationError as refused:
            form.add_error(None, refused.messages)
    return _list(request, commissioning, form)


@require_safe
@may(*SHOP_ROLES)
def photo(request, pk):
    kept = get_object_or_404(Photo.objects.visible_to(request.user), pk=pk)
    try:
        response = FileResponse(kept.file.open(), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404 from None
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _commissioning(request, pk: int) -> Commissioning:
    return get_object_or_404(Commissioning.objects.visible_to(request.user).with_all(), pk=pk)


def _step(step: str) -> InstallStep:
    if step not in InstallStep.values:
        raise Http404
    return InstallStep(step)


def _list(request, commissioning: Commissioning, hand_over: HandOverForm):
    page = steps_page(commissioning)
    page |= {"hand_over": hand_over, "may_sign": request.user.role in SIGNERS}
    return render(request, "service/commissioning.html", page)


def _page(request, commissioning: Commissioning, step: InstallStep, form=None, **forms):
    system = request.user.unit_system
    page = step_page(commissioning, step, system)
    last: StepRecord | None = page["last"]
    technician = technician_of(request.user)
    signs = request.user.role in SIGNERS
    page |= {
        "form": form or StepForm(step, commissioning, system, last=last and last.measured),
        "photo_form": PhotoForm(),
        "let_pass_form": LetPassForm(),
        "blank_let_pass": LetPassForm(),
        "signs": signs,
        "barred": may_sign(technician, step, timezone.localdate()) if signs else [],
    }
    return render(request, "service/commissioning_step.html", page | forms)


def _address(commissioning: Commissioning, step: InstallStep, part: str = "proofs") -> str:
    return f"{reverse('commissioning_step', args=[commissioning.pk, step])}#{part}"


def _say(request, refused: ValidationError) -> None:
    for message in refused.messages:
        messages.error(request, message)
