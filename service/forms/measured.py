"""Fields for what is measured or seen at a step; empty is None, for a step saves as it is made."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from fleetcool.forms import NumberField, QuantityField
from fleetcool.quantities import System
from service.measures import OWN_UNITS, Measure

__all__ = ["YesNoField", "number_field"]

# A gauge of inches of mercury ends at 29.92: what is typed so was read from one.
INCHES_HG = (20, 30)


def number_field(measure: Measure, system: System) -> forms.FloatField:
    """Return the field of a number: in the person's units, or in the one that everyone reads."""
    words = {"help_text": measure.help, "required": False}
    if measure.kind in OWN_UNITS:
        return OneUnitField(measure, **words)
    return QuantityField(
        measure.kind,
        system,
        label=measure.label,
        min_value=measure.low,
        max_value=measure.high,
        **words,
    )


class OneUnitField(NumberField):
    """A number that the whole trade reads in one unit, such as micron or minutes."""

    def __init__(self, measure: Measure, **kwargs) -> None:
        self.kind = measure.kind
        super().__init__(
            label=f"{measure.label}, {OWN_UNITS[measure.kind]}",
            min_value=measure.low,
            max_value=measure.high,
            **kwargs,
        )

    def validate(self, value) -> None:
        super().validate(value)
        if self.kind == "micron" and value and INCHES_HG[0] <= value <= INCHES_HG[1] and value % 1:
            raise ValidationError(
                _("This looks like inches of mercury. Read it off a micron gauge.")
            )


class YesNoField(forms.TypedChoiceField):
    """Yes or no, and neither until someone says it."""

    def __init__(self, measure: Measure) -> None:
        super().__init__(
            label=measure.label,
            help_text=measure.help,
            required=False,
            choices=[("yes", _("Yes")), ("no", _("No"))],
            coerce=lambda said: said == "yes",
            empty_value=None,
            widget=forms.RadioSelect,
        )

    def prepare_value(self, value):
        return {True: "yes", False: "no"}.get(value, value)
