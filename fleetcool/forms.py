"""What people set for themselves."""

from django import forms

from fleetcool.models import Person


class UnitSystemForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ["unit_system"]
