"""The form of a visit: what was complained of, read, found, done and moved, in one sending.

All of it may stay empty but not all at once. A doubtful value is never refused: it asks for one
tick, `I have read it again`, and is kept as it is.
"""

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetcool.forms import DayField, QuantityField
from fleetcool.models import Person, UnitSystem
from fleetcool.quantities import Kind, System
from installs.models import PartGroup, Technician, Unit
from service.book import By
from service.engineering.judging import Judgement, advice, is_doubtful, judge
from service.engineering.visit_physics import Physics
from service.models import CareTask, Cylinder, FoundKind, MovementKind, Output, Result, Visit
from service.visiting import Moved, Told, log_visit, sent_before

__all__ = ["TAKEN", "VisitForm", "moment_of", "quantity_fields"]

MOST_PARTS, MOST_PHOTOS = 5, 10
# A phone that kept a visit longer than this has a wrong clock.
OLDEST = timedelta(days=31)
# Beyond these a time cannot even be counted with.
SANE_YEARS = range(2000, 2200)
STANDING = "standing"
OUTPUTS = [*Output.choices, (STANDING, gettext_lazy("it stood"))]
PHOTO_TYPES = "image/jpeg,image/png,image/webp"


class Taken(NamedTuple):
    """A value that is read at a visit: a field of a reading, and its words."""

    name: str
    kind: Kind
    label: str | Promise
    help: str | Promise = ""


PRESSURES = (
    Taken("ambient_c", "temperature", gettext_lazy("Air outside")),
    Taken("return_air_c", "temperature", gettext_lazy("Return air")),
    Taken("suction_kpa", "pressure", gettext_lazy("Suction")),
    Taken("discharge_kpa", "pressure", gettext_lazy("Discharge")),
    Taken("supply_air_c", "temperature", gettext_lazy("Supply air")),
)
BANK = (
    Taken("rest_v", "volts", gettext_lazy("Bank at rest")),
    Taken("rest_h", "hours", gettext_lazy("Rested for")),
    Taken("load_v", "volts", gettext_lazy("Under load")),
    Taken("load_a", "amps", gettext_lazy("Load")),
)
SELDOM = (
    Taken("suction_line_c", "temperature", gettext_lazy("Suction line")),
    Taken("liquid_line_c", "temperature", gettext_lazy("Liquid line")),
    Taken("battery_c", "temperature", gettext_lazy("Battery")),
)
TAKEN = (*PRESSURES, *BANK, *SELDOM)
OF_PRESSURE = ("suction_kpa", "discharge_kpa", "suction_line_c", "liquid_line_c")
WORDS = ("complaint", "found_kind", "found", "done", "result", "next_step", "next_on")


class PhotosInput(forms.FileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Any number of files; what they are is looked at when they are kept."""

    widget = PhotosInput

    def clean(self, data, initial=None) -> list:
        files = [super(PhotosField, self).clean(one, initial) for one in data or [] if one]
        if len(files) > MOST_PHOTOS:
            raise ValidationError(_("A visit keeps up to %d photos.") % MOST_PHOTOS)
        return files


class PartForm(forms.Form):
    """One part that was changed; an empty row is none."""

    group = forms.ChoiceField(
        label=gettext_lazy("Part group"),
        required=False,
        choices=[("", gettext_lazy("choose")), *PartGroup.choices],
    )
    name = forms.CharField(label=gettext_lazy("Part"), required=False, max_length=100)
    serial_out = forms.CharField(label=gettext_lazy("Serial out"), required=False, max_length=60)
    serial_in = forms.CharField(label=gettext_lazy("Serial in"), required=False, max_length=60)

    def __init__(self, data, number: int) -> None:
        super().__init__(data, prefix=f"part-{number}")
        _dress(self)

    def clean(self) -> dict:
        cleaned = super().clean()
        if any(cleaned.values()) and not cleaned.get("name"):
            self.add_error("name", _("Say which part it is."))
        return cleaned

    @property
    def part(self) -> dict[str, str] | None:
        said = dict(self.cleaned_data)
        return {"part_group": said.pop("group"), **said} if said["name"] else None


class VisitForm(forms.Form):
    sent_id = forms.UUIDField(
        widget=forms.HiddenInput,
        error_messages={
            "required": gettext_lazy("This page is not whole; open it again."),
            "invalid": gettext_lazy("This page is not whole; open it again."),
        },
    )
    # Hidden, so that what is odd in them is no error that anybody could mend.
    seen_at = forms.CharField(widget=forms.HiddenInput, required=False)
    logged_at = forms.CharField(widget=forms.HiddenInput, required=False)
    unit_system = forms.CharField(widget=forms.HiddenInput, required=False)
    complaint = forms.CharField(
        label=gettext_lazy("Complaint"), required=False, widget=forms.Textarea({"rows": 2})
    )
    output = forms.ChoiceField(
        label=gettext_lazy("Output while reading"),
        required=False,
        choices=OUTPUTS,
        widget=forms.RadioSelect,
    )
    gauge = forms.CharField(
        label=gettext_lazy("Gauge"),
        required=False,
        max_length=40,
        help_text=gettext_lazy("As last time, unless you took another."),
    )
    found_kind = forms.ChoiceField(
        label=gettext_lazy("Found"),
        required=False,
        choices=[("", gettext_lazy("choose")), *FoundKind.choices],
    )
    found = forms.CharField(
        label=gettext_lazy("Found, in words"), required=False, widget=forms.Textarea({"rows": 2})
    )
    done = forms.CharField(
        label=gettext_lazy("Work done"), required=False, widget=forms.Textarea({"rows": 2})
    )
    result = forms.ChoiceField(
        label=gettext_lazy("Result"),
        required=False,
        choices=Result.choices,
        widget=forms.RadioSelect,
    )
    next_step = forms.CharField(label=gettext_lazy("Next step"), required=False, max_length=300)
    next_on = DayField(label=gettext_lazy("On"), required=False)
    # Every task: what was due when a page was made may be done by another before it is sent.
    care_done = forms.MultipleChoiceField(
        label=gettext_lazy("Care done"),
        required=False,
        choices=CareTask,
        widget=forms.CheckboxSelectMultiple,
    )
    movement = forms.ChoiceField(
        label=gettext_lazy("Refrigerant"),
        required=False,
        choices=[("", gettext_lazy("none moved")), *MovementKind.choices],
    )
    photos = PhotosField(
        label=gettext_lazy("Photos"),
        required=False,
        widget=PhotosInput({"accept": PHOTO_TYPES}),
        help_text=gettext_lazy("Place and other hidden data are taken out of them."),
    )
    read_again = forms.BooleanField(label=gettext_lazy("I have read it again"), required=False)

    def __init__(
        self,
        unit: Unit,
        person: Person,
        physics: Physics,
        now: datetime,
        data=None,
        files=None,
        gauge: str = "",
    ) -> None:
        """`gauge` is the one that the person used last."""
        super().__init__(data, files, auto_id="id_%s")
        self.unit, self.person, self.physics, self.now = unit, person, physics, now
        self.judged: dict[str, Judgement] = {}
        # A page that waited on a phone is read in the units that it was typed in.
        typed_in = self.data.get("unit_system")
        self.system = typed_in if typed_in in UnitSystem.values else person.unit_system
        self.fields |= quantity_fields(self.system)
        self.fields["cylinder"] = forms.ModelChoiceField(
            # Another refrigerant is never put in.
            Cylinder.objects.filter(
                refrigerant__iexact=unit.model.refrigerant, retired_at=None
            ).order_by("code"),
            label=_("Cylinder"),
            required=False,
            to_field_name="code",
            empty_label=_("choose"),
        )
        self.initial |= {
            "sent_id": uuid.uuid4(),
            "seen_at": now.isoformat(),
            "unit_system": self.system,
            "gauge": gauge,
        }
        self.parts = [PartForm(data, number) for number in range(MOST_PARTS)]
        _dress(self)

    @property
    def is_of_another(self) -> bool:
        """Whether somebody else wrote it, on a phone that two people share: then it waits for them."""
        return self.data.get("written_by", str(self.person.pk)) != str(self.person.pk)

    def clean(self) -> dict:
        cleaned = super().clean()
        if any(cleaned.get(name) is not None for name in OF_PRESSURE) and not cleaned.get("output"):
            self.add_error("output", _("Say at which output it ran, or that it stood."))
        self._clean_movement(cleaned)
        self.judged = judge({name: cleaned.get(name) for name in self._reading_names}, self.physics)
        if is_doubtful(self.judged) and not cleaned.get("read_again"):
            self.add_error(
                "read_again",
                _("A value is doubtful. Read it again; if it stays so, tick this and save."),
            )
        parts_hold = not any(part.errors for part in self.parts)
        if parts_hold and not self.errors and not self._says_something(cleaned):
            self.add_error(None, _("Nothing is told yet: type a reading or some words."))
        return cleaned

    def is_valid(self) -> bool:
        return super().is_valid() and all(part.is_valid() for part in self.parts)

    def save(self, technician: Technician | None) -> Visit | None:
        """Log the visit, or say beside the fields why it cannot be; then None.

        One that was sent before is not judged again: it stands.
        """
        if sent := sent_before(self.unit, self.data.get("sent_id", "")):
            return sent
        if not self.is_valid():
            return None
        cleaned = self.cleaned_data
        by = By(self._at(), self.now, technician, self.person)
        try:
            seen_at = moment_of(cleaned["seen_at"])
            return log_visit(self.unit, self._told(), by, cleaned["sent_id"], seen_at)
        except ValidationError as refused:
            self._refuse(refused)
        return None

    @property
    def advice(self) -> list[str]:
        return advice(self.judged)

    def is_told(self, *names: str) -> bool:
        """Whether something was typed into any of these fields, so that the page opens them."""
        return self.is_bound and any(self.data.get(name) or name in self.errors for name in names)

    @property
    def opens(self) -> dict[str, bool]:
        """Which of the parts that are folded away have something in them."""
        parts = [name for part in self.parts for name in map(part.add_prefix, part.fields)]
        return {
            "seldom": self.is_told(*(taken.name for taken in SELDOM)),
            "photos": self.is_bound,
            "refrigerant": self.is_told("movement", "mass_g", "cylinder"),
            "parts": self.is_told(*parts),
            "care": self.is_told("care_done"),
            "next": self.is_told("next_step", "next_on"),
        }

    def all_errors(self) -> dict[str, list[str]]:
        """Every error by the name of its field as it is sent; those of no field under `""`."""
        told = {}
        for form in (self, *self.parts):
            for name, errors in form.errors.items():
                told["" if name == "__all__" else form.add_prefix(name)] = list(errors)
        return told

    def rows(self, group: tuple[Taken, ...]) -> Iterator[tuple[forms.BoundField, Judgement | None]]:
        for taken in group:
            yield self[taken.name], self.judged.get(taken.name)

    @property
    def pressures(self) -> list[tuple[forms.BoundField, Judgement | None]]:
        return list(self.rows(PRESSURES))

    @property
    def bank(self) -> list[tuple[forms.BoundField, Judgement | None]]:
        return list(self.rows(BANK))

    @property
    def seldom(self) -> list[tuple[forms.BoundField, Judgement | None]]:
        return list(self.rows(SELDOM))

    @property
    def _reading_names(self) -> list[str]:
        return ["output", *(taken.name for taken in TAKEN)]

    def _clean_movement(self, cleaned: dict) -> None:
        said = [cleaned.get(name) for name in ("movement", "mass_g", "cylinder")]
        if not any(said) or {"movement", "mass_g", "cylinder"} & set(self.errors):
            return
        movement, mass_g, cylinder = said
        if not movement:
            self.add_error("movement", _("Say whether it was recovered, added or charged."))
        if mass_g is None or mass_g <= 0:
            self.add_error("mass_g", _("Say how much, by the scale."))
        if not cylinder:
            self.add_error("cylinder", _("Say which cylinder."))

    def _says_something(self, cleaned: dict) -> bool:
        values = [cleaned.get(taken.name) is not None for taken in TAKEN]
        words = [bool(cleaned.get(name)) for name in (*WORDS, "care_done", "movement", "photos")]
        return any(values) or any(words) or any(part.part for part in self.parts)

    def _told(self) -> Told:
        cleaned = self.cleaned_data
        values = {taken.name: cleaned[taken.name] for taken in TAKEN}
        reading = {}
        if any(value is not None for value in values.values()):
            output = "" if cleaned["output"] == STANDING else cleaned["output"]
            reading = values | {"output": output, "gauge": cleaned["gauge"]}
        moved = None
        if cleaned["movement"]:
            moved = Moved(cleaned["movement"], cleaned["mass_g"], cleaned["cylinder"])
        return Told(
            words={name: cleaned[name] for name in WORDS},
            reading=reading,
            parts=[part.part for part in self.parts if part.part],
            care_done=list(dict.fromkeys(cleaned["care_done"])),
            moved=moved,
            photos=cleaned["photos"],
        )

    def _at(self) -> datetime:
        """When Save was pressed, as far as the phone's clock can be believed."""
        logged_at = moment_of(self.cleaned_data["logged_at"])
        believed = logged_at and self.now - OLDEST <= logged_at <= self.now
        return logged_at if believed else self.now

    def _refuse(self, refused: ValidationError) -> None:
        by_field = getattr(refused, "error_dict", {None: refused})
        for name, errors in by_field.items():
            self.add_error(name if name in self.fields else None, errors)


def quantity_fields(system: System) -> dict[str, QuantityField]:
    """The fields of a visit that are typed in a person's units, by name."""
    quantities = [(taken.name, taken.kind, str(taken.label)) for taken in TAKEN]
    quantities.append(("mass_g", "mass", _("Mass by the scale")))
    return {
        name: QuantityField(kind, system, label=label, required=False)
        for name, kind, label in quantities
    }


def moment_of(text: str) -> datetime | None:
    """A time as a script writes it, with its zone; None for anything else."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo and moment.year in SANE_YEARS else None


def _dress(form: forms.Form) -> None:
    for field in form.fields.values():
        if isinstance(field, forms.ChoiceField) and not isinstance(field.widget, forms.RadioSelect):
            field.widget.attrs["class"] = "form-select"
        elif isinstance(field.widget, forms.TextInput | forms.Textarea | forms.FileInput):
            field.widget.attrs["class"] = "form-control"
