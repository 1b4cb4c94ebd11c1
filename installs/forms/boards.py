"""Which days of which yard the board of bookings shows."""

from dataclasses import dataclass
from datetime import date, timedelta

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.forms.bookings import shop_yards
from installs.models import Yard

__all__ = ["BoardForm"]

DAY, WEEK = "day", "week"


@dataclass(frozen=True)
class Asked:
    """Some days of a yard: one, or a week from its Monday."""

    yard: Yard | None
    first: date
    span: str

    @property
    def days(self) -> int:
        return 7 if self.span == WEEK else 1

    @property
    def last(self) -> date:
        return self.first + timedelta(days=self.days - 1)

    @property
    def earlier(self) -> date:
        return self.first - timedelta(days=self.days)

    @property
    def later(self) -> date:
        return self.first + timedelta(days=self.days)


class BoardForm(forms.Form):
    yard = forms.ModelChoiceField(Yard.objects.none(), label=_("Yard"), required=False)
    day = DayField(label=_("Day"), required=False)
    span = forms.ChoiceField(
        label=_("Show"), choices=[(DAY, _("the day")), (WEEK, _("the week"))], required=False
    )

    def __init__(self, user, data) -> None:
        self.yards = shop_yards(user).order_by("name")
        super().__init__(data)
        self.fields["yard"].queryset = self.yards
        self.fields["yard"].empty_label = None

    def asked(self, today: date) -> Asked:
        """What is to be shown; today in the first yard where nothing, or nonsense, is asked."""
        self.is_valid()
        yard = self.cleaned_data.get("yard") or self.yards.first()
        day = self.cleaned_data.get("day") or today
        span = self.cleaned_data.get("span") or DAY
        monday = day - timedelta(days=day.weekday())
        # What is shown stands in the form too, also where nothing was asked.
        self.data = {"yard": yard and yard.pk, "day": f"{day:%Y-%m-%d}", "span": span}
        return Asked(yard, monday if span == WEEK else day, span)
