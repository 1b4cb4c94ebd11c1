"""A truck as people name it on a form."""

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from installs.models import Tractor
from installs.truck_search import trucks_meant

__all__ = ["TruckField"]

# How many are named where several fit.
NAMED = 6


class TruckField(forms.CharField):
    """One truck by its number, its VIN or the end of one; the form says among which `trucks`."""

    trucks: QuerySet[Tractor]

    def __init__(self, **kwargs) -> None:
        super().__init__(
            label=gettext_lazy("Truck"),
            help_text=gettext_lazy("Truck number, VIN, or the last six of the VIN."),
            max_length=60,
            **kwargs,
        )

    def clean(self, value) -> Tractor | None:
        words = super().clean(value)
        found = list(trucks_meant(self.trucks, words)[:NAMED])
        if len(found) > 1:
            raise ValidationError(
                _("More than one truck answers to this: %(names)s. Give the VIN."),
                params={"names": "; ".join(f"{truck} ({truck.vin})" for truck in found)},
            )
        if words and not found:
            raise ValidationError(_("No truck on record has this number or VIN; check it."))
        return found[0] if found else None
