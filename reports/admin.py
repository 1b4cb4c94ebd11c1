"""The owner's back office for the life of findings: to look at, for it is written at the truck."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from reports import models


class ReadOnly:
    def has_add_permission(self, request, obj=None) -> bool:
        return False

    def has_change_permission(self, request, obj=None) -> bool:
        return False

    def has_delete_permission(self, request, obj=None) -> bool:
        return False


class StepInline(ReadOnly, admin.TabularInline):
    model = models.ConcernStep
    fields = [
        "at",
        "what",
        "by",
        "words",
        "until",
        "booked_for",
        "found_on",
        "cause_found",
        "mended",
    ]


@admin.register(models.Concern)
class ConcernAdmin(ReadOnly, SimpleHistoryAdmin):
    list_display = ["__str__", "customer", "first_said_on", "last_said_on", "settled_on"]
    list_filter = ["cause"]
    search_fields = ["unit__serial", "gauge"]
    list_select_related = ["unit", "customer"]
    inlines = [StepInline]
