"""Days off, as the office enters them."""

from datetime import date

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.models import DayOff, Technician

__all__ = ["DayOffForm"]


class DayOffForm(forms.ModelForm):
    first_day = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty for one day."))

    class Meta:
        model = DayOff
        fields = ["technician", "first_day", "last_day", "why"]

    def __init__(self, user, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = Technician.objects.visible_to(user)

    def clean_last_day(self) -> date | None:
        return self.cleaned_data["last_day"] or self.cleaned_data.get("first_day")

    def clean(self) -> dict:
        cleaned = super().clean()
        first, last = cleaned.get("first_day"), cleaned.get("last_day")
        if first and last and (last - first).days > 366:
            raise ValidationError({"last_day": _("More than a year; end their working hours.")})
        return cleaned
