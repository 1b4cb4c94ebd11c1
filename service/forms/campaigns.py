"""The forms of a campaign: its bulletin and range, and how far one unit is."""

import re
from datetime import datetime

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.models import Booking, UnitModel
from service.campaigning import Range, open_campaign, settle
from service.models import Campaign, CampaignUnit, Visit

__all__ = ["CampaignForm", "CampaignUnitForm"]

MOST_NAMED = 5000
SERIAL, LOT = 60, 40


class WordsField(forms.CharField):
    """A list of words: one a line, or parted by commas."""

    def __init__(self, *, longest: int, **kwargs) -> None:
        self.longest = longest
        super().__init__(required=False, widget=forms.Textarea({"rows": 3}), **kwargs)

    def clean(self, value) -> list[str]:
        text = super().clean(value)
        words = list(
            dict.fromkeys(filter(None, (one.strip() for one in re.split(r"[,;\n]", text))))
        )
        if len(words) > MOST_NAMED:
            raise ValidationError(_("At most 5000 can be named; say lots or days instead."))
        if long := next((word for word in words if len(word) > self.longest), None):
            raise ValidationError(
                _("“%(word)s…” is too long; one a line."), params={"word": long[:20]}
            )
        return words


class CampaignForm(forms.ModelForm):
    """A bulletin and whom it is for."""

    unit_models = forms.ModelMultipleChoiceField(
        UnitModel.objects.none(),
        label=_("Unit models"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None ticked: any."),
    )
    lots = WordsField(longest=LOT, label=_("Lots"), help_text=_("One a line. Empty: any."))
    made_from = DayField(label=_("Made from"), required=False)
    made_to = DayField(label=_("Made to"), required=False)
    serials = WordsField(
        longest=SERIAL,
        label=_("Serials"),
        help_text=_("One a line; these are in it whatever else is said above."),
    )

    class Meta:
        model = Campaign
        fields = ["number", "title", "words", "until_done"]
        widgets = {"words": forms.Textarea({"rows": 4}), "until_done": forms.Textarea({"rows": 2})}

    def __init__(self, user, data=None, **kwargs) -> None:
        super().__init__(data, **kwargs)
        self.user = user
        self.fields["unit_models"].queryset = UnitModel.objects.visible_to(user)

    @property
    def asked(self) -> Range:
        cleaned = self.cleaned_data
        return Range(
            list(cleaned["unit_models"]),
            cleaned["lots"],
            cleaned["made_from"],
            cleaned["made_to"],
            cleaned["serials"],
        )

    def clean(self) -> dict:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        first, last = cleaned["made_from"], cleaned["made_to"]
        if first and last and first > last:
            raise ValidationError(_("The last made-on day comes before the first."))
        if self.asked.is_empty:
            raise ValidationError(_("Say whom it is for: models, lots, days or serials."))
        if missing := self.asked.missing():
            raise ValidationError(
                _("Not on record: %(serials)s. Mend the serials, or take them out."),
                params={"serials": ", ".join(missing[:10])},
            )
        if not self.asked.units().exists():
            raise ValidationError(_("No unit on record is in this range."))
        return cleaned

    def open(self, now: datetime) -> Campaign:
        return open_campaign(self.instance, self.asked, by=self.user, now=now)


class CampaignUnitForm(forms.ModelForm):
    """How far one unit is: told, booked, done."""

    told = forms.BooleanField(label=_("Its owner was told"), required=False)
    done_on = DayField(label=_("Done on"), required=False)

    class Meta:
        model = CampaignUnit
        fields = ["booking", "visit", "done_on"]

    def __init__(self, row: CampaignUnit, user, data=None) -> None:
        super().__init__(data, instance=row, initial={"told": row.told_at is not None})
        install = row.unit.installs.current().first()
        bookings = (
            Booking.objects.visible_to(user).standing().select_related("tractor", "bay__yard")
        )
        at_it = {"tractor": install.tractor_id} if install else {"unit": row.unit_id}
        bookings = bookings.filter(**at_it, begins_at__gte=row.campaign.opened_at)
        self.fields["booking"].queryset = bookings | Booking.objects.visible_to(user).filter(
            pk=row.booking_id
        ).select_related("tractor", "bay__yard")
        self.fields["booking"].empty_label = self.fields["visit"].empty_label = _("none yet")
        opened_on = row.campaign.opened_at
        visits = Visit.objects.visible_to(user).filter(unit=row.unit_id, at__gte=opened_on)
        self.fields["visit"].queryset = visits.select_related("unit")
        if row.told_at:
            self.fields["told"].disabled = True

    def clean(self) -> dict:
        """The day of a visit is the day it was done, unless another is said."""
        cleaned = super().clean()
        visit = cleaned.get("visit")
        if visit and not cleaned.get("done_on") and "done_on" not in self.errors:
            cleaned["done_on"] = timezone.localtime(visit.at).date()
        done_on = cleaned.get("done_on")
        if done_on and done_on > timezone.localdate():
            self.add_error("done_on", _("That day is still to come."))
        if done_on and done_on < timezone.localtime(self.instance.campaign.opened_at).date():
            self.add_error("done_on", _("That is before the campaign was opened."))
        return cleaned

    def settle(self, now: datetime) -> None:
        cleaned = self.cleaned_data
        settle(
            self.instance,
            booking=cleaned["booking"],
            visit=cleaned["visit"],
            done_on=cleaned["done_on"],
            told_at=now if cleaned["told"] else None,
        )
