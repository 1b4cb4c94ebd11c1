"""Terms: the versions there are, and a new one that is seen through before it is saved."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from fleetcool.access import may
from fleetcool.models.people import Role
from installs.forms.terms import TermsForm
from installs.models import Terms
from installs.terms_versions import versions

__all__ = ["terms", "terms_new"]


@require_safe
@may(Role.OFFICE, Role.WARRANTY_CLERK, Role.OWNER)
def terms(request):
    may_write = request.user.role == Role.OWNER
    context = {"versions": versions(request.user), "may_write": may_write}
    return render(request, "installs/terms.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@may(Role.OWNER)
def terms_new(request):
    """Sent once, it says what would change; sent again as it was seen, it is saved."""
    copied, key = None, request.GET.get("from", "")
    if key.isdecimal():
        copied = get_object_or_404(Terms.objects.visible_to(request.user), pk=key)
    form = TermsForm(request.user, copied, request.POST or None)
    context = {"form": form, "copied": copied}
    if form.is_valid():
        seen = form.preview()
        context |= {"preview": seen, "mark": form.mark(seen)}
        if request.POST.get("seen") == context["mark"] and (saved := form.take()):
            messages.success(request, _("Written down: %(terms)s.") % {"terms": saved})
            return redirect("terms")
    return render(request, "installs/terms_new.html", context)
