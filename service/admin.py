"""The owner's back office of what is done after an install: recurring care, suppliers."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from service import models


@admin.register(models.CareItem)
class CareItemAdmin(SimpleHistoryAdmin):
    list_display = ["task", "unit_model", "months", "run_hours"]
    list_filter = ["task"]
    list_select_related = ["unit_model"]


@admin.register(models.Supplier)
class SupplierAdmin(admin.ModelAdmin):
    list_display = ["name", "contact_email", "days_to_pay"]
    search_fields = ["name"]
