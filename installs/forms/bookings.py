"""The forms of booking: what is wanted and when, which slot, and what is done with a booking."""

from datetime import UTC, datetime, time
from itertools import groupby

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.bookings import Taken, amend, book, call_off, find_slots, hold, move, slot_of
from installs.models import (
    Bay,
    Booking,
    Job,
    MountingSide,
    PassThrough,
    Technician,
    Tractor,
    UnitModel,
    Yard,
)
from installs.slots import Slot, moment
from installs.truck_search import trucks_meant

__all__ = [
    "MOST_A_DAY",
    "OFFERED",
    "AmendForm",
    "AskedForm",
    "BookForm",
    "CallOffForm",
    "HoldForm",
    "MoveForm",
    "WhenForm",
    "shop_yards",
]

OFFERED, MOST_A_DAY = 12, 4
# What only a job that puts a unit in asks for.
OF_A_UNIT = ("pass_through", "mounting_side")
# What a slot is made of is one choice on the page.
OF_SLOT = {"begins_at", "bay", "technician"}
TAKEN = {
    "bay": _("The bay was just taken for that time."),
    "technician": _("The technician was just booked for that time."),
    "tractor": _("The truck has another booking at that time."),
    "unit": _("The unit was just held for another booking."),
}


def shop_yards(user):
    """The yards in which the shop has its bays."""
    return Yard.objects.visible_to(user).filter(customer=None)


class WhenForm(forms.Form):
    """From when on slots are looked for."""

    from_day = DayField(label=_("From"), required=False)
    not_before = forms.TimeField(
        label=_("Not before"),
        required=False,
        widget=forms.TimeInput({"type": "time"}, format="%H:%M"),
        help_text=_("The time of day at which the truck can be there."),
    )

    technician = forms.ModelChoiceField(
        Technician.objects.none(),
        label=_("Technician"),
        required=False,
        empty_label=_("any who can"),
    )

    def __init__(self, user, data=None, initial=None) -> None:
        super().__init__(data, initial=initial)
        self.fields["technician"].queryset = Technician.objects.visible_to(user)

    def when(self, now: datetime) -> dict:
        """From which moment on, not before which time of day, and with whom."""
        day, clock = self.cleaned_data.get("from_day"), self.cleaned_data.get("not_before")
        begin = moment(day, time.min, timezone.get_default_timezone()) if day else now
        return {
            "from_": max(now, begin),
            "not_before": clock or time.min,
            "technician": self.cleaned_data.get("technician"),
        }


class AskedForm(WhenForm):
    """What is to be booked: which truck, which job, where, which model of unit."""

    tractor = forms.CharField(
        label=_("Truck"),
        max_length=40,
        help_text=_("Truck number, VIN, or the last six of the VIN."),
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    job = forms.ModelChoiceField(Job.objects.none(), label=_("Job"))
    yard = forms.ModelChoiceField(Yard.objects.none(), label=_("Yard"))
    model = forms.ModelChoiceField(
        UnitModel.objects.none(),
        label=_("Unit model"),
        to_field_name="name",
        required=False,
        empty_label=_("none"),
        help_text=_("Where the job puts a unit in."),
    )
    field_order = ["tractor", "job", "model", "yard", "from_day", "not_before", "technician"]

    def __init__(self, user, data=None, initial=None) -> None:
        yards = shop_yards(user)
        super().__init__(user, data, {"yard": yards.first(), **(initial or {})})
        self.trucks = Tractor.objects.visible_to(user).select_related("customer")
        self.fields["job"].queryset = Job.objects.visible_to(user)
        self.fields["yard"].queryset = yards
        self.fields["model"].queryset = UnitModel.objects.visible_to(user)
        # The trucks to choose from, where what was typed fits several.
        self.could_be: list[Tractor] = []

    @classmethod
    def of(cls, user, query) -> "AskedForm":
        """The form as an address fills it in: asked, or begun by another page."""
        given = {name: query[name] for name in cls.base_fields if query.get(name)}
        return cls(user, query) if "job" in query else cls(user, initial=given)

    def clean_tractor(self) -> Tractor:
        meant = list(trucks_meant(self.trucks, self.cleaned_data["tractor"])[:10])
        if not meant:
            raise ValidationError(_("No truck on record has this number or VIN; check it."))
        if len(meant) > 1:
            self.could_be = meant
            raise ValidationError(_("Several trucks fit; choose one below."))
        return meant[0]

    def slots(self, now: datetime) -> list[Slot] | None:
        """The first free slots for what is asked; None where the question is not complete."""
        if not self.is_valid():
            return None
        asked = self.cleaned_data
        try:
            return find_slots(
                asked["job"],
                asked["yard"],
                asked["tractor"],
                asked["model"],
                count=OFFERED,
                most_a_day=MOST_A_DAY,
                **self.when(now),
            )
        except ValidationError as refused:
            # What is refused before any slot is looked for is the model.
            self.add_error("model", refused.message_dict["unit_model"])
            return None


class SlotField(forms.CharField):
    """A slot as a page names it: `20261130T1400Z.3.5` is its beginning, bay and technician."""

    default_error_messages = {"unknown": _("Choose one of the times offered.")}

    @staticmethod
    def written(slot: Slot) -> str:
        return f"{slot.begins_at:%Y%m%dT%H%MZ}.{slot.bay.pk}.{slot.technician.pk}"

    def clean(self, value) -> tuple[datetime, Bay, Technician]:
        words = super().clean(value)
        try:
            begins, bay, technician = words.split(".")
            begins_at = datetime.strptime(begins, "%Y%m%dT%H%MZ").replace(tzinfo=UTC)
            return (
                begins_at,
                Bay.objects.select_related("yard").get(pk=bay),
                Technician.objects.get(pk=technician),
            )
        except (ValueError, Bay.DoesNotExist, Technician.DoesNotExist):
            raise ValidationError(self.error_messages["unknown"], "unknown") from None


class SlotForm(forms.Form):
    """A choice among slots. What cannot be is said beside it, with the next slots to choose from."""

    slot = SlotField(label=_("Time"), error_messages={"required": _("Choose a time.")})
    slots: list[Slot] = []

    def offers(self) -> list[tuple]:
        """The slots by day, each with the word that stands for it in the form."""
        named = [(SlotField.written(slot), slot) for slot in self.slots]
        by_day = groupby(named, key=lambda offer: timezone.localdate(offer[1].begins_at))
        return [(day, list(offers)) for day, offers in by_day]

    def taken(self, clash: Taken) -> None:
        self.slots = clash.slots
        self.add_error("slot", [TAKEN[one] for one in sorted(clash.what)])

    def refused(self, refusal: ValidationError) -> None:
        for field, words in _by_field(refusal).items():
            field = "slot" if field in OF_SLOT else field
            self.add_error(field if field in self.fields else None, words)


class DetailsForm(forms.Form):
    """What the shop is to know of the day."""

    pass_through = forms.ChoiceField(
        label=_("Hoses go"), choices=[("", _("not said")), *PassThrough.choices], required=False
    )
    mounting_side = forms.ChoiceField(
        label=_("Side of mounting"),
        choices=[("", _("not said")), *MountingSide.choices],
        required=False,
    )
    contact_email = forms.EmailField(label=_("Confirmation goes to"), required=False)
    note = forms.CharField(
        label=_("Note"), widget=forms.Textarea({"rows": 2}), max_length=2000, required=False
    )

    def leave_out(self, *names: str) -> None:
        for name in names:
            del self.fields[name]


class BookForm(SlotForm, DetailsForm):
    """The slot chosen, the unit to hold, and what the shop is to know of the day."""

    serial = forms.CharField(
        label=_("Serial to hold"),
        max_length=60,
        required=False,
        help_text=_("Empty: the oldest unit that is free."),
    )
    field_order = ["slot", "serial"]

    def __init__(self, asked: AskedForm, data=None) -> None:
        """`asked` is valid."""
        tractor, job = asked.cleaned_data["tractor"], asked.cleaned_data["job"]
        super().__init__(data, initial={"contact_email": tractor.customer.contact_email})
        self.asked = asked
        if not job.puts_a_unit_in:
            self.leave_out("serial", *OF_A_UNIT)

    def clean_slot(self):
        begins_at, bay, technician = self.cleaned_data["slot"]
        if bay.yard != self.asked.cleaned_data["yard"]:
            raise ValidationError(
                _("This bay is in another yard; choose one of the times offered.")
            )
        return begins_at, bay, technician

    def book(self, by, now: datetime) -> Booking | None:
        """Book what was asked and chosen, or say beside the fields why that cannot be."""
        if not self.is_valid():
            return None
        asked, details = self.asked.cleaned_data, dict(self.cleaned_data)
        slot = slot_of(asked["job"], *details.pop("slot"))
        try:
            return book(
                asked["job"],
                asked["tractor"],
                slot,
                by=by,
                now=now,
                unit_model=asked["model"],
                **details,
            )
        except Taken as clash:
            self.taken(clash)
        except ValidationError as refusal:
            self.refused(refusal)
        return None

    def refused(self, refusal: ValidationError) -> None:
        by_field = _by_field(refusal)
        if words := by_field.pop("unit_model", None):
            self.asked.add_error("model", words)
        super().refused(ValidationError(by_field))


class MoveForm(SlotForm):
    """Another slot for a booking."""

    def __init__(self, booking: Booking, data=None) -> None:
        super().__init__(data)
        self.booking = booking

    def move(self, by, now: datetime) -> bool:
        if not self.is_valid():
            return False
        slot = slot_of(self.booking.job, *self.cleaned_data["slot"])
        try:
            move(self.booking, slot, by=by, now=now)
        except Taken as clash:
            self.taken(clash)
        except ValidationError as refusal:
            self.refused(refusal)
        return self.is_valid()


class ActForm(forms.Form):
    """Something done with one booking; what it refuses is said beside the field."""

    def __init__(self, booking: Booking, data=None) -> None:
        super().__init__(data, auto_id=f"{type(self).__name__.lower()}-%s")
        self.booking = booking

    def take(self, by, now: datetime) -> bool:
        if self.is_valid():
            try:
                self.act(by, now)
            except ValidationError as refusal:
                for field, words in _by_field(refusal).items():
                    self.add_error(field if field in self.fields else None, words)
        return self.is_valid()

    def act(self, by, now: datetime) -> None:
        raise NotImplementedError


class HoldForm(ActForm):
    serial = forms.CharField(
        label=_("Serial"), max_length=60, widget=forms.TextInput({"autocomplete": "off"})
    )

    def act(self, by, now: datetime) -> None:
        hold(self.booking, self.cleaned_data["serial"], by=by)


class AmendForm(ActForm, DetailsForm):
    def __init__(self, booking: Booking, data=None) -> None:
        super().__init__(booking, data)
        self.initial = {name: getattr(booking, name) for name in self.fields}
        if not booking.job.puts_a_unit_in:
            self.leave_out(*OF_A_UNIT)

    def act(self, by, now: datetime) -> None:
        amend(self.booking, by=by, **self.cleaned_data)


class CallOffForm(ActForm):
    why = forms.CharField(label=_("Why"), max_length=200)

    def act(self, by, now: datetime) -> None:
        call_off(self.booking, by=by, why=self.cleaned_data["why"], now=now)


def _by_field(refusal: ValidationError) -> dict[str | None, list[str]]:
    """What is refused, by field; None where it is said of no field."""
    if hasattr(refusal, "error_dict"):
        return refusal.message_dict
    return {None: refusal.messages}
