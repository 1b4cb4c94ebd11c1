"""What is typed about refrigerant: a new cylinder, and each act on one that is on record."""

from datetime import date, datetime, timedelta
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField, QuantityField
from installs.engineering.saturation import SAFETY_CLASS
from installs.models import Customer, Technician, Unit, Yard
from service import book
from service.models import Cylinder, CylinderEntry, Holds, Movement, MovementKind
from service.querysets import CylinderQuerySet
from service.signing import technician_of

__all__ = ["ACT_FORMS", "ActForm", "BalanceForm", "CylinderForm", "PeriodForm", "act_forms"]

# In the address of a page, for the cylinders that no customer owns.
THE_SHOP = "shop"
MOMENT = "%Y-%m-%dT%H:%M"
# Older movements are corrected by loading their row of the record book again.
CORRECTED_WITHIN = timedelta(days=366)


class CylinderForm(forms.Form):
    """What a cylinder is like and where it is kept; never what it holds."""

    code = forms.CharField(label=_("Code on the cylinder"), max_length=40)
    refrigerant = forms.ChoiceField(
        label=_("Refrigerant"),
        choices=[("", _("choose")), *((name, name) for name in SAFETY_CLASS)],
    )
    owner = forms.ModelChoiceField(
        Customer.objects.none(), label=_("Owner"), required=False, empty_label=_("the shop")
    )
    yard = forms.ModelChoiceField(
        Yard.objects.none(), label=_("Kept in yard"), required=False, empty_label=_("none")
    )
    van = forms.CharField(label=_("Or in the van of"), max_length=60, required=False)

    def __init__(self, person, *args, cylinder: Cylinder | None = None, **kwargs) -> None:
        self.cylinder = cylinder
        if cylinder:
            names = ("code", "refrigerant", "tare_g", "water_capacity_g", "owner", "yard", "van")
            kwargs["initial"] = {name: getattr(cylinder, name) for name in names}
        super().__init__(*args, **kwargs)
        system = person.unit_system
        self.fields["tare_g"] = QuantityField(
            "mass",
            system,
            label=_("Tare (empty weight)"),
            required=False,
            help_text=_("As stamped on it. It is asked for where the cylinder is weighed."),
        )
        self.fields["water_capacity_g"] = QuantityField(
            "mass",
            system,
            label=_("Water capacity"),
            required=False,
            help_text=_("As stamped on it (WC). Without it nothing warns of overfilling."),
        )
        self.fields["owner"].queryset = Customer.objects.visible_to(person)
        self.fields["yard"].queryset = Yard.objects.visible_to(person)
        if cylinder:
            # The book names a cylinder by them.
            del self.fields["code"], self.fields["refrigerant"]

    def save(self) -> Cylinder | None:
        """Write it down; None where it is refused, with the reasons in the form."""
        if not self.is_valid():
            return None
        try:
            if self.cylinder:
                return book.describe(self.cylinder, **self.cleaned_data)
            cylinder = Cylinder(**self.cleaned_data)
            cylinder.full_clean()
            cylinder.save()
            return cylinder
        except ValidationError as refused:
            self.add_error(None, refused.messages)
            return None


class ActForm(forms.Form):
    """One act on one cylinder. A subclass names its fields and calls the book in `act`."""

    title = button = ""
    asks_technician = False
    sent_id = forms.UUIDField(widget=forms.HiddenInput)
    at = forms.DateTimeField(
        label=_("When"),
        input_formats=[MOMENT],
        widget=forms.DateTimeInput({"type": "datetime-local"}, format=MOMENT),
    )

    def __init__(self, cylinder: Cylinder, person, now: datetime, *args, **kwargs) -> None:
        self.cylinder, self.person, self.now = cylinder, person, now
        super().__init__(*args, **kwargs)
        self.fields["sent_id"].initial = uuid4
        self.fields["at"].initial = timezone.localtime(now).replace(second=0, microsecond=0)
        if self.asks_technician:
            self.fields["technician"] = forms.ModelChoiceField(
                Technician.objects.visible_to(person),
                label=_("Technician"),
                initial=technician_of(person),
                empty_label=_("choose"),
            )
        self.add_fields()

    def add_fields(self) -> None:
        """Add what depends on the cylinder or on the person's units."""

    def add_mass(self, name: str = "mass_g", label: str = "", **kwargs) -> None:
        label = label or _("Mass")
        self.fields[name] = QuantityField("mass", self.person.unit_system, label=label, **kwargs)

    def act(self, by: book.By, cleaned: dict):
        raise NotImplementedError

    def save(self) -> bool:
        """Do it; False where it is refused, with the reasons in the form."""
        if not self.is_valid():
            return False
        cleaned = self.cleaned_data
        by = book.By(cleaned["at"], self.now, cleaned.get("technician"), self.person)
        try:
            self.act(by, cleaned)
        except ValidationError as refused:
            self.add_error(None, refused.messages)
        return self.is_valid()


class OpenForm(ActForm):
    title = _("Put it into the book with what it holds")
    button = _("Put into the book")
    holds = forms.ChoiceField(label=_("Kind of gas"), choices=Holds.choices)

    def add_fields(self) -> None:
        self.add_mass(label=_("It holds (scale less tare; 0 if empty)"), min_value=0)

    def act(self, by, cleaned):
        return book.open_with(
            self.cylinder, cleaned["mass_g"], cleaned["holds"], by, cleaned["sent_id"]
        )


class BuyForm(ActForm):
    title = _("Bought")
    button = _("Write down what was bought")
    document = forms.CharField(label=_("Invoice"), max_length=100, required=False)

    def add_fields(self) -> None:
        self.add_mass()

    def act(self, by, cleaned):
        return book.buy(
            self.cylinder, cleaned["mass_g"], cleaned["document"], by, cleaned["sent_id"]
        )


class MoveForm(ActForm):
    title = _("Into a unit, or out of one")
    button = _("Write down the movement")
    asks_technician = True
    serial = forms.CharField(label=_("Unit, by its serial"), max_length=60)
    movement = forms.ChoiceField(label=_("Movement"), choices=MovementKind.choices)

    def add_fields(self) -> None:
        self.add_mass(label=_("Mass, by the scale"))

    def clean_serial(self) -> str:
        serial = self.cleaned_data["serial"].strip()
        units = Unit.objects.visible_to(self.person).select_related("model")
        self.unit = units.filter(serial__iexact=serial).first()
        if self.unit is None:
            raise ValidationError(_("No unit of this serial is on record."))
        return serial

    def act(self, by, cleaned):
        return book.move(self.unit, cleaned["movement"], cleaned["mass_g"], self.cylinder, by)


class DecantForm(ActForm):
    title = _("Moved to another cylinder, or recycled into it")
    button = _("Write down the move")
    asks_technician = True

    def add_fields(self) -> None:
        others = Cylinder.objects.visible_to(self.person).in_use()
        others = others.filter(refrigerant=self.cylinder.refrigerant).exclude(pk=self.cylinder.pk)
        self.fields["other"] = forms.ModelChoiceField(
            others, label=_("Into cylinder"), empty_label=_("choose")
        )
        self.add_mass()

    def act(self, by, cleaned):
        other, mass_g = cleaned["other"], cleaned["mass_g"]
        return book.decant(self.cylinder, other, mass_g, by, cleaned["sent_id"])


class DisposeForm(ActForm):
    title = _("Sent away to be reclaimed or destroyed")
    button = _("Write down what was sent away")
    sent_to = forms.CharField(label=_("To whom: name and address"), max_length=200)
    document = forms.CharField(label=_("Waste note"), max_length=100, required=False)

    def add_fields(self) -> None:
        self.add_mass()

    def act(self, by, cleaned):
        words = (cleaned["sent_to"], cleaned["document"])
        return book.dispose(self.cylinder, cleaned["mass_g"], *words, by, cleaned["sent_id"])


class WeighForm(ActForm):
    title = _("Weighed")
    button = _("Hold the scale against the book")
    why = forms.CharField(
        label=_("Where a difference comes from"),
        max_length=300,
        required=False,
        help_text=_("Leave it empty to see the difference first. With it, it is written down."),
    )

    def add_fields(self) -> None:
        self.add_mass("gross_g", _("The scale shows, cylinder and all"), min_value=0)
        self.order_fields(["sent_id", "at", "gross_g", "why"])

    def act(self, by, cleaned):
        if cleaned["why"]:
            book.weigh_in(self.cylinder, cleaned["gross_g"], cleaned["why"], by, cleaned["sent_id"])
            return
        weighing = book.weigh(self.cylinder, cleaned["gross_g"], by.at)
        if not weighing.agrees:
            words = {
                "net": by.mass(weighing.net_g),
                "book": by.mass(weighing.book_g),
                "difference": by.mass(weighing.difference_g),
            }
            raise ValidationError(
                _(
                    "By the scale it holds %(net)s, by the book %(book)s: a difference of "
                    "%(difference)s. Nothing is written down yet; say where it comes from."
                )
                % words
            )


class CorrectForm(ActForm):
    title = _("An entry was wrong")
    button = _("Correct it")
    why = forms.CharField(label=_("What was wrong"), max_length=300)

    def add_fields(self) -> None:
        del self.fields["at"]
        standing = CylinderEntry.objects.visible_to(self.person).standing()
        self.fields["entry"] = forms.ModelChoiceField(
            standing.filter(cylinder=self.cylinder).select_related("cylinder"),
            label=_("Which entry"),
            empty_label=_("choose"),
        )
        self.add_mass(label=_("It should say (0 strikes it out)"))
        self.order_fields(["sent_id", "entry", "mass_g", "why"])

    def clean(self) -> dict:
        return super().clean() | {"at": self.now}

    def act(self, by, cleaned):
        entry, why = cleaned["entry"], cleaned["why"]
        return book.correct_entry(entry, cleaned["mass_g"], why, by, cleaned["sent_id"])


class CorrectMoveForm(ActForm):
    title = _("A movement was wrong")
    button = _("Correct the movement")
    asks_technician = True
    why = forms.CharField(label=_("What was wrong"), max_length=book.REASON_LENGTH)

    def add_fields(self) -> None:
        del self.fields["at"]
        moved = Movement.objects.visible_to(self.person).filter(
            cylinder=self.cylinder, at__gte=self.now - CORRECTED_WITHIN
        )
        self.fields["movement"] = forms.ModelChoiceField(
            moved.select_related("unit__model").order_by("-at"),
            label=_("Which movement"),
            empty_label=_("choose"),
        )
        others = Cylinder.objects.visible_to(self.person)
        self.fields["cylinder"] = forms.ModelChoiceField(
            others.filter(refrigerant=self.cylinder.refrigerant, retired_at=None),
            label=_("Cylinder"),
            initial=self.cylinder,
            empty_label=None,
        )
        self.add_mass(label=_("It should say (0 strikes it out)"), min_value=0)
        self.order_fields(["sent_id", "movement", "mass_g", "cylinder", "technician", "why"])

    def clean(self) -> dict:
        return super().clean() | {"at": self.now}

    def act(self, by, cleaned):
        movement, mass_g, why = cleaned["movement"], cleaned["mass_g"], cleaned["why"]
        if mass_g == 0:
            return book.strike_out(movement, why, by)
        return book.correct(movement, mass_g, cleaned["cylinder"], by, why)


class RetireForm(ActForm):
    title = _("Taken out of use")
    button = _("Retire this cylinder")

    def act(self, by, cleaned):
        return book.retire(self.cylinder, by)


ACT_FORMS: dict[str, type[ActForm]] = {
    "move": MoveForm,
    "buy": BuyForm,
    "weigh": WeighForm,
    "decant": DecantForm,
    "send": DisposeForm,
    "correct": CorrectForm,
    "correct-move": CorrectMoveForm,
    "retire": RetireForm,
    "open": OpenForm,
}
BEFORE_THE_BOOK = ("open", "buy")


def act_forms(cylinder: Cylinder) -> tuple[str, ...]:
    """The acts that make sense for a cylinder as it stands."""
    if cylinder.retired_at:
        return ()
    if not cylinder.is_in_book:
        return BEFORE_THE_BOOK
    takes_new = cylinder.holds == Holds.NEW
    return tuple(name for name in ACT_FORMS if name != "open" and (name != "buy" or takes_new))


class PeriodForm(forms.Form):
    """From a day to a day, both inside."""

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        # `from` is a word of Python's own, so it cannot be declared as a field.
        self.fields |= {"from": DayField(label=_("From")), "to": DayField(label=_("To"))}

    def clean(self) -> dict:
        cleaned = super().clean()
        first, last = cleaned.get("from"), cleaned.get("to")
        if first and last and first > last:
            raise ValidationError(_("The period ends before it begins."))
        return cleaned

    @property
    def days(self) -> tuple[date, date]:
        """The first and the last day."""
        return self.cleaned_data["from"], self.cleaned_data["to"]


class BalanceForm(PeriodForm):
    """A period, and whose cylinders; empty for all."""

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        owners = Customer.objects.filter(cylinder__isnull=False).distinct().order_by("name")
        self.fields["owner"] = forms.ChoiceField(
            label=_("Owner of the cylinders"),
            required=False,
            choices=[
                ("", _("all")),
                (THE_SHOP, _("the shop")),
                *((str(owner.pk), owner.name) for owner in owners),
            ],
        )

    def cylinders(self, person) -> CylinderQuerySet:
        """The cylinders of the owner, once the form is valid."""
        cylinders, owner = Cylinder.objects.visible_to(person), self.cleaned_data["owner"]
        if not owner:
            return cylinders
        return cylinders.filter(owner=None if owner == THE_SHOP else owner)
