"""The forms of a commissioning: a step's measurements, a photo, letting pass, handing over."""

import json
import uuid
from datetime import datetime, time

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.quantities import System
from installs.models import Commissioning, InstallStep, Technician
from installs.signature import clean_strokes
from service.commissioned import save_step
from service.forms.measured import YesNoField, number_field
from service.measures import MEASURES, Measure
from service.models import Cylinder, Holds, Output

__all__ = ["HandOverForm", "LetPassForm", "PhotoForm", "StepForm"]

DAY_MINUTES = 24 * 60
# Named one by one, a phone that keeps photos in a form of its own sends a JPEG instead.
PHOTO_TYPES = "image/jpeg,image/png,image/webp"


class StepForm(forms.Form):
    """The measurements of one step. All may stay empty: a step saves as it is made."""

    sent_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        step: InstallStep,
        commissioning: Commissioning,
        system: System,
        data=None,
        last: dict | None = None,
    ) -> None:
        """`last` is what was measured when the step was saved last."""
        super().__init__(data, auto_id="measure-%s")
        self.step, self.commissioning = step, commissioning
        self.fields["sent_id"].initial = uuid.uuid4
        for measure in self._measures():
            field = self._field(measure, system)
            if measure.kind != "yes":
                drop_down = isinstance(field, forms.ChoiceField)
                field.widget.attrs["class"] = "form-select" if drop_down else "form-control"
            self.fields[measure.key] = field
            self.initial[measure.key] = (last or {}).get(measure.key)

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under the titles of their groups, as the page shows them."""
        shown = [
            (group.title, [self[one.key] for one in group.measures if one.key in self.fields])
            for group in MEASURES[self.step]
        ]
        return [(title, fields) for title, fields in shown if fields]

    def save(self, technician: Technician | None, at: datetime) -> bool:
        """Save the step, or say beside the fields why it cannot be."""
        if self.is_valid():
            measured = dict(self.cleaned_data)
            sent_id = measured.pop("sent_id")
            try:
                save_step(self.commissioning, self.step, measured, technician, sent_id, at)
            except ValidationError as refused:
                self.add_error(None, refused.messages)
        return self.is_valid()

    def clean(self) -> dict:
        cleaned = super().clean()
        if not self.errors and all(
            cleaned[key] in (None, "") for key in cleaned if key != "sent_id"
        ):
            raise ValidationError(_("Nothing is measured yet: fill in at least one."))
        for key, value in cleaned.items():
            if isinstance(value, time):
                cleaned[key] = value.strftime("%H:%M")
        if self.step == InstallStep.EVACUATION:
            cleaned["minutes"] = _minutes(cleaned.get("pump_from"), cleaned.get("pump_to"))
        if self.step == InstallStep.CHARGE:
            self._name_cylinder(cleaned)
        return cleaned

    def _name_cylinder(self, cleaned: dict) -> None:
        """Keep the cylinder by its code; a charge without one is not written down."""
        listed, new = cleaned.get("cylinder"), cleaned.pop("new_cylinder", "")
        cleaned["cylinder"] = new or (listed.code if listed else "")
        if cleaned.get("charge_g") and not cleaned["cylinder"]:
            self.add_error("cylinder", _("Say which cylinder it came from."))
        known = Cylinder.objects.filter(code__iexact=new).first() if new else None
        if known and known.refrigerant.casefold() != self.refrigerant.casefold():
            words = {"cylinder": known, "refrigerant": self.refrigerant}
            self.add_error(
                "new_cylinder",
                _("Cylinder %(cylinder)s does not hold %(refrigerant)s: never put it in.") % words,
            )

    @property
    def refrigerant(self) -> str:
        return self.commissioning.install.unit.model.refrigerant

    def _measures(self) -> list[Measure]:
        bank = getattr(self.commissioning.install.tractor, "bank", None)
        single = bank and bank.battery_count == 1
        return [
            measure
            for group in MEASURES[self.step]
            for measure in group.measures
            # One battery has no first and last.
            if not (single and measure.key in ("positive_from_first", "negative_from_last"))
        ]

    def _field(self, measure: Measure, system: System) -> forms.Field:
        common = {"label": measure.label, "help_text": measure.help, "required": False}
        match measure.kind:
            case "yes":
                return YesNoField(measure)
            case "time":
                clock = forms.TimeInput({"type": "time"}, format="%H:%M")
                return forms.TimeField(**common, widget=clock)
            case "text":
                return forms.CharField(**common, max_length=40)
            case "output":
                return forms.ChoiceField(**common, choices=[("", _("choose")), *Output.choices])
            case "cylinder":
                return self._cylinder(common)
        return number_field(measure, system)

    def _cylinder(self, common: dict) -> forms.ModelChoiceField:
        """Only cylinders of the refrigerant on the unit's plate, and none of recovered gas: neither
        another refrigerant nor one that was not recycled is ever put in."""
        cylinders = Cylinder.objects.filter(
            refrigerant__iexact=self.refrigerant, retired_at=None
        ).exclude(holds=Holds.RECOVERED)
        return forms.ModelChoiceField(
            cylinders, **common, to_field_name="code", empty_label=_("choose")
        )


class LetPassForm(forms.Form):
    proof = forms.CharField(max_length=40, widget=forms.HiddenInput)
    record = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        max_length=300,
        label=gettext_lazy("Why it is let pass"),
        help_text=gettext_lazy("Your name and this reason are printed on the certificate."),
        widget=forms.Textarea({"rows": 2}),
    )


class PhotoForm(forms.Form):
    photo = forms.FileField(
        label=gettext_lazy("Photo"),
        help_text=gettext_lazy("Place and other hidden data are taken out of it."),
        widget=forms.FileInput(
            {"accept": PHOTO_TYPES, "capture": "environment", "class": "form-control"}
        ),
    )
    caption = forms.CharField(
        max_length=120,
        required=False,
        label=gettext_lazy("What it shows"),
        widget=forms.TextInput({"class": "form-control"}),
    )


class HandOverForm(forms.Form):
    """The name of who takes the truck, and their signature where they drew one."""

    received_by = forms.CharField(
        max_length=100,
        label=gettext_lazy("Name of the person who takes the truck"),
        help_text=gettext_lazy("The typed name is enough; a drawn signature may be added."),
        widget=forms.TextInput({"autocomplete": "off", "class": "form-control"}),
    )
    signature = forms.CharField(required=False, widget=forms.HiddenInput, max_length=200_000)

    def clean_signature(self) -> list:
        """The strokes that were drawn; none at all is a typed name."""
        try:
            strokes = json.loads(self.cleaned_data["signature"] or "[]")
        except ValueError:
            strokes = None
        return clean_strokes(strokes)


def _minutes(pump_from: str | None, pump_to: str | None) -> float | None:
    """From one time of day to the next that the clock shows the other."""
    if not pump_from or not pump_to:
        return None
    begin, end = (_of_day(one) for one in (pump_from, pump_to))
    return float((end - begin) % DAY_MINUTES)


def _of_day(clock: str) -> int:
    hours, minutes = clock.split(":")
    return int(hours) * 60 + int(minutes)
