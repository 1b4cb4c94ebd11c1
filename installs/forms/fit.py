"""The question of a fit check: read from an address, in the units of whoever wrote that address."""

from contextlib import suppress
from datetime import date
from urllib.parse import urlencode

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.formats import number_format
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import NumberField, QuantityField
from fleetcool.models import UnitSystem
from installs.engineering.cabling import INSULATION_C
from installs.engineering.cooling import CABS
from installs.engineering.fit_asked import Asked, problems
from installs.fit_wording import problem_text
from installs.forms.trucks import TruckField
from installs.models import BatteryBank, BatteryType, SystemVolts, Tractor, UnitModel

__all__ = ["FitForm", "RecordsForm", "recorded"]

OUTPUTS = (
    ("low", _("low output all night")),
    ("mid", _("mid output all night")),
    ("high", _("high output all night")),
    ("cab", _("as the cab and the weather ask for it")),
)
CAB_SIZES = {
    "small": _("small: flat roof"),
    "mid": _("mid: raised roof"),
    "large": _("large: high roof"),
}
INSULATION = [(rating, f"{rating} °C") for rating in INSULATION_C]
# Where the record says nothing; in internal units. 10 h off duty: 49 CFR 395.3; 11 V: common practice.
USUAL = {
    "truck_v": 12,
    "unit_v": 12,
    "starts_engine": True,
    # Common practice, no source: what a day's driving gives back to a bank.
    "charged_percent": 85,
    "cutoff_v": 11.0,
    "hours_wanted": 10,
    "night": 27.0,
    "output": "low",
    "cab": "mid",
    "set_point": 21.0,
    "occupants": 1,
    "spare_a": 80,
    "one_way": 4.572,
    "insulation_c": 105,
    "cable_air": 30.0,
}


class ModelField(forms.ModelChoiceField):
    """A unit model by its name."""

    def __init__(self, **kwargs) -> None:
        super().__init__(
            UnitModel.objects.none(),
            to_field_name="name",
            label=_("Unit model"),
            required=False,
            empty_label=_("not on record"),
            **kwargs,
        )


class RecordsForm(forms.Form):
    """Which truck and which unit model to take from the records."""

    tractor = TruckField(required=False)
    model = ModelField()

    def __init__(self, data: QueryDict, user) -> None:
        super().__init__(data, auto_id="record-%s")
        trucks = Tractor.objects.visible_to(user).select_related("bank", "customer")
        self.fields["tractor"].trucks = trucks
        self.fields["model"].queryset = UnitModel.objects.visible_to(user)


def quantities(system: str) -> dict[str, QuantityField]:
    """The fields whose numbers are other ones in other units."""
    return {
        "night": QuantityField("temperature", system, label=gettext("Temperature of the night")),
        "set_point": QuantityField(
            "temperature", system, label=gettext("Set-point in the cab"), required=False
        ),
        "one_way": QuantityField(
            "length",
            system,
            label=gettext("Cable from battery to unit, one way"),
            help_text=gettext("The way back is counted in: the drop is over twice this length."),
        ),
        "cable_air": QuantityField(
            "temperature", system, label=gettext("Hottest air around the cable")
        ),
    }


class FitForm(forms.Form):
    """The whole question. `units` says in which units an address was written; a reader of other
    units gets the same question in their own."""

    tractor = TruckField(required=False)
    model = ModelField()
    units = forms.ChoiceField(choices=UnitSystem, widget=forms.HiddenInput)

    truck_v = forms.TypedChoiceField(
        label=_("System voltage of the truck"), choices=SystemVolts, coerce=int
    )
    battery_types = forms.MultipleChoiceField(
        label=_("Battery types in the bank"),
        choices=BatteryType,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Tick every type that is in it."),
    )
    battery_count = forms.IntegerField(
        label=_("Batteries"),
        help_text=_("On 24 V: batteries of 12 V, in pairs; LiFePO4 as whole batteries of 24 V."),
    )
    battery_ah = NumberField(label=_("Capacity of one at 20 h, Ah"))
    age_years = NumberField(label=_("Age of the bank, years"))
    charged_percent = NumberField(
        label=_("Charged when the night begins, %"),
        required=False,
        help_text=_("A day's driving seldom fills a lead-acid bank: 85 % is usual."),
    )
    starts_engine = forms.BooleanField(label=_("This bank starts the engine too"), required=False)

    unit_v = forms.TypedChoiceField(
        label=_("System voltage of the unit"), choices=SystemVolts, coerce=int
    )
    draw_low_a = NumberField(label=_("Draw at low output, A"), required=False)
    draw_mid_a = NumberField(label=_("Draw at mid output, A"), required=False)
    draw_high_a = NumberField(label=_("Draw at high output, A"), required=False)
    cutoff_v = NumberField(label=_("Cutoff under load, V"))

    hours_wanted = NumberField(label=_("Hours wanted"))
    output = forms.ChoiceField(label=_("How the unit runs"), choices=OUTPUTS)
    cab = forms.ChoiceField(label=_("Cab"), choices=[(size, CAB_SIZES[size]) for size in CABS])
    occupants = forms.IntegerField(label=_("Sleepers"))

    spare_a = NumberField(
        label=_("Spare current of the alternator, A"),
        help_text=_("What is left for the bank with lights, fans and heater on."),
    )
    insulation_c = forms.TypedChoiceField(
        label=_("Rating of the cable's insulation"), choices=INSULATION, coerce=int
    )

    # Which fields stand together on the page.
    groups = (
        (
            _("The truck and its bank"),
            (
                *("truck_v", "battery_count", "battery_ah", "age_years", "charged_percent"),
                *("battery_types", "starts_engine"),
            ),
        ),
        (_("The unit"), ("unit_v", "draw_low_a", "draw_mid_a", "draw_high_a", "cutoff_v")),
        (_("The night"), ("hours_wanted", "night", "output", "cab", "set_point", "occupants")),
        (_("Cable and charging"), ("one_way", "cable_air", "insulation_c", "spare_a")),
    )
    # A field of `Asked` that has its unit in its name stands here without.
    named = {
        "charged": "charged_percent",
        "night_c": "night",
        "set_point_c": "set_point",
        "one_way_m": "one_way",
        "cable_c": "cable_air",
    }

    def __init__(self, user, data: QueryDict | None = None, initial: dict | None = None) -> None:
        self.system = user.unit_system
        super().__init__(data, initial=initial)
        for name in ("tractor", "model"):
            self.fields[name].widget = forms.HiddenInput()
        self.fields["tractor"].trucks = Tractor.objects.visible_to(user)
        self.fields["model"].queryset = UnitModel.objects.visible_to(user)
        self.fields |= quantities(self.system)
        self.initial["units"] = self.system
        if self.is_bound:
            self.data = self._in_own_units(data)

    def _in_own_units(self, data: QueryDict) -> QueryDict:
        """What an address asks, as someone with this person's units would have typed it."""
        data = data.copy()
        written_in = data.get("units")
        if written_in not in UnitSystem.values or written_in == self.system:
            return data
        for name, field in quantities(written_in).items():
            # What is no number comes back as it was typed.
            with suppress(ValidationError):
                internal = field.to_python(data.get(name, ""))
                data[name] = "" if internal is None else self.fields[name].prepare_value(internal)
        data["units"] = self.system
        return data

    def clean_charged_percent(self) -> float:
        percent = self.cleaned_data["charged_percent"]
        return USUAL["charged_percent"] if percent is None else percent

    def clean(self) -> dict:
        cleaned = super().clean()
        # What is not even a number has its own word beside it; judge once all of it can be read.
        if not self.errors:
            for problem in problems(self.asked()):
                field = self.named.get(problem.field, problem.field)
                self.add_error(field, problem_text(problem, self.system))
        return cleaned

    def asked(self) -> Asked:
        """What the engineering is asked; only once the fields are clean."""
        apart = ("tractor", "model", "units", "battery_types", *self.named.values())
        plain = {name: value for name, value in self.cleaned_data.items() if name not in apart}
        renamed = {name: self.cleaned_data[field] for name, field in self.named.items()}
        renamed["charged"] /= 100
        return Asked(
            **plain,
            **renamed,
            battery_types=tuple(self.cleaned_data["battery_types"]),
        )

    def said(self) -> list[tuple[str, str]]:
        """The question as pairs of name and text, without what is not the form's."""
        return [(name, text) for name in self.fields for text in self.data.getlist(name)]

    def address(self) -> str:
        """The question as the query of an address."""
        return urlencode(self.said())

    def answers(self) -> list[tuple[str, str]]:
        """What was asked, as label and text, for paper; only once the fields are clean."""
        return [
            (field.label, _as_text(field, self.cleaned_data[field.name]))
            for _legend, fields in self.grouped()
            for field in fields
        ]

    def grouped(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(legend, [self[name] for name in names]) for legend, names in self.groups]


def recorded(tractor: Tractor | None, model: UnitModel | None, day: date) -> dict:
    """Return what the records say of a truck and of a unit model, and what is usual for the rest."""
    known = dict(USUAL)
    if tractor is not None:
        known |= {"tractor": tractor.vin, "truck_v": tractor.system_v, "unit_v": tractor.system_v}
        known["cutoff_v"] = USUAL["cutoff_v"] * tractor.system_v / 12
        bank = getattr(tractor, "bank", None)
        known |= _of_bank(bank, day) if bank else {}
    if model is not None:
        draws = {
            f"draw_{level}_a": getattr(model, f"draw_{level}_a") for level in ("low", "mid", "high")
        }
        known |= {"model": model.name, "unit_v": model.system_v, **draws}
        known |= {"cutoff_v": model.cutoff_v} if model.cutoff_v else {}
    return known


def _as_text(field: forms.BoundField, value) -> str:
    choices = dict(getattr(field.field, "choices", ()))
    if isinstance(value, list):
        return ", ".join(str(choices[one]) for one in value)
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if value is None:
        return "–"
    return str(choices[value]) if value in choices else number_format(field.data)


def _of_bank(bank: BatteryBank, day: date) -> dict:
    found = {
        "battery_types": [bank.battery_type],
        "battery_count": bank.battery_count,
        "battery_ah": bank.battery_ah,
    }
    born = _born(bank)
    return found | ({"age_years": round((day - born).days / 365.25, 1)} if born else {})


def _born(bank: BatteryBank) -> date | None:
    """The day its oldest batteries are from: a renewal of all of them, or else when it was installed."""
    whole = bank.renewals.filter(renewed_count__gte=bank.battery_count).order_by("at").last()
    return whole.at.date() if whole else bank.installed_on
