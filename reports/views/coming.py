"""What is coming: how long parts last, what will fail inside terms, and who stands out."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models import Role
from reports.coming_page import coming_page


@require_safe
@may(Role.OFFICE, Role.WARRANTY_CLERK, Role.OWNER)
def coming(request):
    page = coming_page(request.user, request.GET, timezone.localdate())
    return render(request, "reports/coming.html", page)
