"""The back office of what is done after an install: the suppliers that owe credits."""

from django.contrib import admin

from service import models


@admin.register(models.Supplier)
class SupplierAdmin(admin.ModelAdmin):
    list_display = ["name", "contact_email", "days_to_pay"]
    search_fields = ["name"]
