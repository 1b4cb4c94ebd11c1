"""The owner's back office for how often recurring care is due."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from service import models


@admin.register(models.CareItem)
class CareItemAdmin(SimpleHistoryAdmin):
    list_display = ["task", "unit_model", "months", "run_hours"]
    list_filter = ["task"]
    list_select_related = ["unit_model"]
