"""What the page of what is coming is narrowed to."""

from django import forms
from django.utils.translation import gettext_lazy as _

from installs.models import PartGroup
from reports.lifetimes import PARTS, Life

__all__ = ["ComingForm"]


class ComingForm(forms.Form):
    """Part group (that with most failures if none is asked), model and lot.

    What is not on record counts as not asked.
    """

    part = forms.ChoiceField(label=_("Part"), required=False)
    model = forms.ChoiceField(label=_("Model"), required=False)
    lot = forms.ChoiceField(label=_("Lot"), required=False)

    def __init__(self, data, lives: dict[str, list[Life]], **kwargs) -> None:
        every = [one for rows in lives.values() for one in rows]
        asked = {name: data.get(name, "") for name in ("part", "model", "lot")}
        if asked["part"] not in PARTS:
            asked["part"] = max(PARTS, key=lambda group: sum(one.failed for one in lives[group]))
        super().__init__(asked, **kwargs)
        models = sorted({one.model for one in every})
        lots = sorted({one.lot for one in every} - {""})
        self.fields["part"].choices = [(group, PartGroup(group).label) for group in PARTS]
        self.fields["model"].choices = [("", _("all")), *zip(models, models, strict=True)]
        self.fields["lot"].choices = [("", _("all")), *zip(lots, lots, strict=True)]
        self.is_valid()

    def asked(self, name: str) -> str:
        return self.cleaned_data.get(name, "")
