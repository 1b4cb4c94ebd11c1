"""The owner's back office for what is installed where."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from installs import models


@admin.register(models.Customer)
class CustomerAdmin(SimpleHistoryAdmin):
    list_display = ["code", "name", "contact_email", "language"]
    search_fields = ["code", "name"]
    filter_horizontal = ["people"]


@admin.register(models.Yard)
class YardAdmin(SimpleHistoryAdmin):
    list_display = ["name", "customer", "elevation_m"]


class ShiftInline(admin.TabularInline):
    model = models.Shift
    extra = 0


class DayOffInline(admin.TabularInline):
    model = models.DayOff
    extra = 0


@admin.register(models.Technician)
class TechnicianAdmin(SimpleHistoryAdmin):
    list_display = ["name", "certification_scheme", "certification_number", "certified_until"]
    search_fields = ["name"]
    filter_horizontal = ["skills"]
    inlines = [ShiftInline, DayOffInline]


@admin.register(models.Credential)
class CredentialAdmin(SimpleHistoryAdmin):
    list_display = ["scheme", "authority"]


@admin.register(models.Skill)
class SkillAdmin(admin.ModelAdmin):
    search_fields = ["name"]


@admin.register(models.Bay)
class BayAdmin(SimpleHistoryAdmin):
    list_display = ["name", "yard"]
    list_select_related = ["yard"]


@admin.register(models.Job)
class JobAdmin(SimpleHistoryAdmin):
    list_display = ["name", "minutes", "puts_a_unit_in", "opens_the_circuit"]
    filter_horizontal = ["skills"]


@admin.register(models.Tractor)
class TractorAdmin(SimpleHistoryAdmin):
    list_display = ["vin", "customer", "truck_number", "system_v"]
    search_fields = ["vin", "truck_number"]
    list_select_related = ["customer"]


class SheetLineInline(admin.TabularInline):
    model = models.SheetLine
    extra = 0


@admin.register(models.UnitModel)
class UnitModelAdmin(SimpleHistoryAdmin):
    list_display = ["name", "refrigerant", "charge_g", "system_v", "cutoff_v"]
    inlines = [SheetLineInline]


@admin.register(models.Unit)
class UnitAdmin(SimpleHistoryAdmin):
    list_display = ["serial", "model", "lot", "made_on"]
    search_fields = ["serial", "lot"]
    list_select_related = ["model"]


class OfTermsInline(admin.TabularInline):
    """Rows of a version in force are looked at, never changed."""

    extra = 0

    def has_add_permission(self, request, obj=None) -> bool:
        return super().has_add_permission(request, obj) and not (obj and obj.is_in_force)

    def has_change_permission(self, request, obj=None) -> bool:
        return super().has_change_permission(request, obj) and not (obj and obj.is_in_force)

    def has_delete_permission(self, request, obj=None) -> bool:
        return super().has_delete_permission(request, obj) and not (obj and obj.is_in_force)


class CoverInline(OfTermsInline):
    model = models.Cover


class VoidInline(OfTermsInline):
    model = models.TermsVoid


@admin.register(models.Terms)
class TermsAdmin(SimpleHistoryAdmin):
    list_display = ["name", "model", "customer", "given_from"]
    inlines = [CoverInline, VoidInline]

    def has_change_permission(self, request, obj=None) -> bool:
        return super().has_change_permission(request, obj) and not (obj and obj.is_in_force)

    def has_delete_permission(self, request, obj=None) -> bool:
        """One by one only: deleting many at once would not ask each."""
        asked = obj is not None and not obj.is_in_force
        return super().has_delete_permission(request, obj) and asked
