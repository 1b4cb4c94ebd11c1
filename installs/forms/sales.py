"""The sale of a truck, as the office writes it down."""

from datetime import datetime

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.models import Customer, Tractor
from installs.sales import sell_tractor

__all__ = ["SaleForm"]


class SaleForm(forms.Form):
    customer = forms.ModelChoiceField(
        Customer.objects.none(),
        label=_("Sold to"),
        help_text=_("A new customer is entered in the back office or with a record book first."),
    )
    on_day = DayField(
        label=_("On"), help_text=_("The first day on which the truck is the new customer's.")
    )
    truck_number = forms.CharField(
        label=_("Truck number there"),
        max_length=40,
        required=False,
        help_text=_("The new fleet's own number; the old one does not go with the truck."),
    )

    def __init__(self, tractor: Tractor, user, data=None) -> None:
        super().__init__(data)
        self.tractor, self.user = tractor, user
        others = Customer.objects.visible_to(user).exclude(pk=tractor.customer_id)
        self.fields["customer"].queryset = others

    def take(self, at: datetime) -> bool:
        """Write the sale down, or say beside the fields why it cannot be."""
        if self.is_valid():
            try:
                sell_tractor(self.tractor, by=self.user, at=at, **self.cleaned_data)
            except ValidationError as refused:
                self.add_error(None, refused)
        return self.is_valid()
