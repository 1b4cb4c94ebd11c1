"""The certificate of an install: for those whose truck it is, and for whoever scans its code."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from fleetcool.access import may
from fleetcool.models.people import ANYONE, Role
from installs.certificate_words import bank_words, cover_rows, let_pass_lines, step_lines
from installs.forms.certificates import WithdrawForm
from installs.models import Certificate

__all__ = ["certificate", "certificate_public", "certificate_withdraw"]

MAY_WITHDRAW = (Role.OWNER, Role.OFFICE)


@require_safe
@may(*ANYONE)
def certificate(request, pk):
    return _page(request, _visible(request.user, pk), WithdrawForm())


@require_POST
@may(*MAY_WITHDRAW)
def certificate_withdraw(request, pk):
    certificate = _visible(request.user, pk)
    form = WithdrawForm(request.POST)
    if not form.save(certificate, request.user, timezone.now()):
        return _page(request, certificate, form)
    messages.success(request, _("The certificate is withdrawn."))
    return redirect(certificate)


@never_cache
@require_safe
@login_not_required
def certificate_public(request, token):
    """What anybody may know who holds the paper: the serial, the day, and whether it stands."""
    certificates = Certificate.objects.select_related("commissioning__install")
    certificate = get_object_or_404(certificates, token=token)
    response = render(request, "installs/certificate_public.html", {"certificate": certificate})
    response["X-Robots-Tag"] = "noindex"
    return response


def _visible(user, pk: int) -> Certificate:
    certificates = Certificate.objects.visible_to(user)
    return get_object_or_404(
        certificates.select_related("commissioning__install", "withdrawn_by"), pk=pk
    )


def _page(request, certificate: Certificate, form: WithdrawForm):
    says, terms = certificate.says, certificate.says["terms"]
    context = {
        "certificate": certificate,
        "says": says,
        "bank": bank_words(says["bank"]),
        "let_pass": let_pass_lines(says["steps"]),
        "steps": step_lines(says["steps"], request.user.unit_system),
        "covers": cover_rows(terms) if terms else [],
        "form": form if request.user.role in MAY_WITHDRAW else None,
    }
    return render(request, "installs/certificate.html", context)
