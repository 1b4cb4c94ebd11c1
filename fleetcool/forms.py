"""What people set for themselves, and the fields that forms of every app are made of."""

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetcool.models import Person
from fleetcool.quantities import DECIMALS, ENTRY_UNIT, UNIT_LABEL, Kind, System, shown, to_internal

__all__ = ["DayField", "NumberField", "QuantityField", "UnitSystemForm"]

# What can be below zero is typed on a whole keyboard: a phone's decimal keypad may have no minus.
SIGNED = ("temperature", "difference")


class UnitSystemForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ["unit_system"]


class DayField(forms.DateField):
    """A day, picked or typed as 2026-05-03, whatever the language of the page."""

    def __init__(self, **kwargs) -> None:
        widget = forms.DateInput({"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, input_formats=["%Y-%m-%d"], **kwargs)


class NumberField(forms.FloatField):
    """A number typed with a decimal point or a decimal comma, and shown without idle zeros."""

    def __init__(self, *, keypad: str = "decimal", **kwargs) -> None:
        widget = forms.TextInput({"inputmode": keypad, "autocomplete": "off"})
        super().__init__(widget=widget, **kwargs)

    def to_python(self, value) -> float | None:
        if isinstance(value, str):
            value = value.strip().replace("−", "-").replace(",", ".")
        return super().to_python(value)

    def prepare_value(self, value):
        """Leave what was typed as it was."""
        return f"{value:.10g}" if isinstance(value, float | int) else value


class QuantityField(NumberField):
    """A quantity typed in a person's units; its cleaned value and its initial one are internal.

    The unit stands in the label: `Suction, psi`. Bounds, where given, are internal too.
    """

    def __init__(
        self,
        kind: Kind,
        system: System,
        *,
        label: str,
        min_value: float | None = None,
        max_value: float | None = None,
        **kwargs,
    ) -> None:
        self.kind, self.system = kind, system
        self.lowest, self.highest = min_value, max_value
        keypad = "text" if kind in SIGNED else "decimal"
        super().__init__(label=f"{label}, {UNIT_LABEL[kind, system]}", keypad=keypad, **kwargs)

    def to_python(self, value) -> float | None:
        """Return what was typed in the internal unit."""
        typed = super().to_python(value)
        if typed is None:
            return None
        if self.kind == "ratio":
            return typed / 100
        unit = ENTRY_UNIT[self.kind, self.system]
        return float(to_internal(typed, unit, difference=self.kind == "difference"))

    def validate(self, value) -> None:
        super().validate(value)
        low, high = self.lowest, self.highest
        if value is None or (low is None or value >= low) and (high is None or value <= high):
            return
        raise forms.ValidationError(
            _("%(typed)s cannot be; between %(low)s and %(high)s is possible."),
            params={
                "typed": self.prepare_value(value),
                "low": "–" if low is None else self.prepare_value(low),
                "high": "–" if high is None else self.prepare_value(high),
            },
        )

    def prepare_value(self, value):
        """Show an internal number in the person's units; leave what was typed as it was."""
        if value is None or isinstance(value, str):
            return value
        number = round(
            float(shown(value, self.kind, self.system)[0]), 1 + DECIMALS[self.kind, self.system]
        )
        return super().prepare_value(number)
