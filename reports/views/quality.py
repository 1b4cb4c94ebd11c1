"""The owner's page: how often the screen was right, and how long its words lie unanswered."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleetcool.access import may
from fleetcool.models import Role
from reports.quality import hits_picture, quality


@require_safe
@may(Role.OFFICE, Role.OWNER)
def quality_page(request):
    today = timezone.localdate()
    told = quality(request.user, today)
    context = {"quality": told, "picture": hits_picture(told.hits), "today": today}
    return render(request, "reports/quality.html", context)
