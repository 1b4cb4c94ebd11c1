"""The owner's back office: people and what they may do."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.utils.translation import gettext_lazy as _

from fleetcool.models import Person


@admin.register(Person)
class PersonAdmin(UserAdmin):
    list_display = ["username", "first_name", "last_name", "role", "is_active"]
    list_filter = ["role", "is_active"]
    fieldsets = [*UserAdmin.fieldsets, (_("Fleetcool"), {"fields": ["role", "unit_system"]})]
    add_fieldsets = [*UserAdmin.add_fieldsets, (None, {"fields": ["role"]})]
