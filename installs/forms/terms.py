"""A new version of terms, as the owner writes it: most often a copy of one, changed."""

from hashlib import sha256

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.models import CountsFrom, Customer, PartGroup, Terms, UnitModel, VoidCode
from installs.terms_versions import Preview, Version, add_version, preview

__all__ = ["TermsForm"]

MOST_MONTHS, MOST_HOURS = 240, 200_000


class TermsForm(forms.ModelForm):
    """`preview` says what it would change; `take` saves it once that was seen."""

    made_from = DayField(label=_("Made from"), required=False)
    made_to = DayField(label=_("Made to"), required=False)
    given_from = DayField(
        label=_("Given to installs from"),
        help_text=_("Units installed before that day keep the terms that they have."),
    )
    voids = forms.MultipleChoiceField(
        label=_("What ends cover"),
        choices=VoidCode.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = Terms
        fields = [
            "name",
            "model",
            "customer",
            "made_from",
            "made_to",
            "given_from",
            "transferable",
            "replaced_part",
            "replaced_months",
            "claim_days",
            "four_eyes_above",
            "currency",
        ]

    def __init__(self, user, copied: Terms | None, data=None) -> None:
        super().__init__(data, initial=_initial(copied) if copied else None)
        self.fields["model"].queryset = UnitModel.objects.visible_to(user)
        self.fields["customer"].queryset = Customer.objects.visible_to(user)
        self.fields["name"].help_text = _(
            "A version with the name of another follows it; a new name begins a line of its own."
        )
        for group in PartGroup:
            self.fields[f"months_{group}"] = forms.IntegerField(
                label=_("Months"), min_value=0, max_value=MOST_MONTHS, required=False
            )
            self.fields[f"run_hours_{group}"] = forms.IntegerField(
                label=_("Run hours"), min_value=1, max_value=MOST_HOURS, required=False
            )
            self.fields[f"counts_from_{group}"] = forms.ChoiceField(
                label=_("Counted from"), choices=CountsFrom.choices, required=False
            )
        for name in self.fields:
            if name.startswith(("months_", "run_hours_", "counts_from_")):
                group = PartGroup(name.rpartition("_")[2])
                widget = self.fields[name].widget
                css = "form-select" if name.startswith("counts") else "form-control"
                told = f"{self.fields[name].label}: {group.label}"
                widget.attrs |= {"class": css, "aria-label": told}

    @property
    def terms_fields(self) -> list:
        """The fields of the terms themselves, in their order."""
        return [self[name] for name in (*self.Meta.fields, "voids")]

    @property
    def cover_rows(self) -> list:
        """A row a group of parts: its name and its three fields."""
        parts = ("months", "run_hours", "counts_from")
        return [(group.label, [self[f"{part}_{group}"] for part in parts]) for group in PartGroup]

    def clean(self) -> dict:
        cleaned = super().clean()
        for group in PartGroup:
            if cleaned.get(f"run_hours_{group}") and not cleaned.get(f"months_{group}"):
                self.add_error(f"months_{group}", _("Give the months too; the hours end earlier."))
        if not any(cleaned.get(f"months_{group}") for group in PartGroup):
            raise ValidationError(
                _("These terms would cover nothing: give months to a part group.")
            )
        return cleaned

    def preview(self) -> Preview:
        """What this version would change. Only once the form is valid."""
        return preview(self._version())

    def mark(self, seen: Preview) -> str:
        """What tells one preview from another: what was typed, and each unit that it changes."""
        typed = sorted((name, str(value)) for name, value in self.cleaned_data.items())
        changes = [(one.install.pk, one.before and one.before.pk) for one in seen.changes]
        return sha256(repr((typed, changes)).encode()).hexdigest()[:16]

    def take(self) -> Terms | None:
        """Save it, or say beside the field why it cannot be."""
        try:
            return add_version(self._version())
        except ValidationError as refused:
            self.add_error(None, refused)
            return None

    def _version(self) -> Version:
        cleaned = self.cleaned_data
        covers = {
            group.value: {
                "months": cleaned[f"months_{group}"],
                "run_hours": cleaned[f"run_hours_{group}"],
                "counts_from": cleaned[f"counts_from_{group}"] or CountsFrom.INSTALL,
            }
            for group in PartGroup
            if cleaned.get(f"months_{group}")
        }
        return Version(self.instance, covers, cleaned["voids"])


def _initial(copied: Terms) -> dict[str, object]:
    """What a version says, for the copy to begin with; the day it is given from is asked anew."""
    initial = {name: getattr(copied, name) for name in TermsForm.Meta.fields}
    initial |= {"model": copied.model_id, "customer": copied.customer_id, "given_from": None}
    initial["voids"] = [void.code for void in copied.voids.all()]
    for cover in copied.covers.all():
        for part in ("months", "run_hours", "counts_from"):
            initial[f"{part}_{cover.part_group}"] = getattr(cover, part)
    return initial
