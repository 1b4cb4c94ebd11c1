"""The forms of the stock: receiving units, and one a thing that can become of a unit."""

from datetime import datetime
from pathlib import PurePath

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from fleetcool.models.people import Role
from installs import stock
from installs.forms.trucks import TruckField
from installs.models import Technician, Tractor, Unit, UnitModel, Yard
from installs.receiving import Receipt, receive
from installs.stock_status import Standing

__all__ = ["ReceiveForm", "SheetForm", "StockForm", "forms_for"]

MOST_UPLOAD_BYTES = 5_000_000
AT_HAND = (Standing.FREE, Standing.HELD, Standing.NOWHERE)


def yard_field(label: str) -> forms.ModelChoiceField:
    """A yard of the shop's own."""
    return forms.ModelChoiceField(Yard.objects.filter(customer=None), label=label)


class ReceiveForm(forms.Form):
    yard = yard_field(_("Yard"))
    model = forms.ModelChoiceField(UnitModel.objects.all(), label=_("Model"))
    lot = forms.CharField(label=_("Lot"), max_length=40, required=False)
    made_on = DayField(label=_("Made on"), required=False)
    scans = forms.CharField(
        label=_("Serials, one a line"),
        widget=forms.Textarea(
            {"rows": 8, "autocapitalize": "off", "spellcheck": "false", "data-count-lines": "scans"}
        ),
        help_text=_("A scanner types a serial and ends the line."),
    )

    def take(self, by, at: datetime) -> Receipt | None:
        """Receive what can be received, or say beside the fields why nothing can be."""
        if not self.is_valid():
            return None
        details = {**self.cleaned_data, "serials": self.cleaned_data["scans"].splitlines()}
        del details["scans"]
        try:
            return receive(**details, by=by, at=at)
        except ValidationError as refused:
            self.add_error("scans", refused)
        return None

    def left_over(self, receipt: Receipt) -> "ReceiveForm":
        """The same form with the refused lines alone in its box."""
        data = self.data.copy()
        data["scans"] = "\n".join(scan.serial for scan in receipt.refused)
        return ReceiveForm(initial=data.dict())


class SheetForm(forms.Form):
    prefix = "sheet"

    yard = yard_field(_("Yard for the new units"))
    sheet = forms.FileField(
        label=_("Workbook with a sheet “units”, or units.csv"),
        help_text=_("Columns: serial, model, lot, made_on. At most 5 MB."),
        widget=forms.ClearableFileInput({"accept": ".xlsx,.csv"}),
    )

    def clean_sheet(self):
        sheet = self.cleaned_data["sheet"]
        if PurePath(sheet.name).suffix.lower() not in (".xlsx", ".csv"):
            raise ValidationError(_("Give a workbook (.xlsx) or a CSV file (.csv)."))
        if sheet.size > MOST_UPLOAD_BYTES:
            raise ValidationError(_("The file is larger than 5 MB; split it."))
        return sheet


class StockForm(forms.Form):
    """What can become of a unit; the fields are what is to be known of it."""

    route: str
    title: str
    button: str
    roles: tuple[Role, ...] = (Role.OFFICE, Role.TECHNICIAN, Role.OWNER)
    standings: tuple[Standing, ...]
    caution = ""

    def __init__(self, unit: Unit, user, data=None) -> None:
        super().__init__(data, auto_id=f"{self.route}-%s")
        self.unit, self.user = unit, user

    def take(self, at: datetime) -> bool:
        """Do it, or say beside the fields why it cannot be done."""
        if self.is_valid():
            try:
                self.act(by=self.user, at=at, **self.cleaned_data)
            except ValidationError as refused:
                self.add_error(None, refused)
        return self.is_valid()

    def act(self, **details) -> None:
        raise NotImplementedError


def why_field(required: bool) -> forms.CharField:
    return forms.CharField(label=_("Why"), max_length=200, required=required)


class PutInForm(StockForm):
    route, standings = "stock_put_in", AT_HAND
    title = _("Put it into a truck")
    button = _("It is in this truck now")
    caution = _(
        "This writes down where the unit is; it proves nothing. Before drilling, know where airbags, "
        "wiring and tanks lie. Disconnect the batteries before any cable is touched. Never lift the "
        "unit onto a cab alone. The steps, in their order, stand in the commissioning."
    )

    tractor = TruckField()
    on_day = DayField(label=_("Day"))
    technician = forms.ModelChoiceField(
        Technician.objects.all(), label=_("Put in by"), required=False
    )

    def __init__(self, unit: Unit, user, data=None) -> None:
        super().__init__(unit, user, data)
        trucks = Tractor.objects.visible_to(user).select_related("customer")
        self.fields["tractor"].trucks = trucks
        self.fields["technician"].initial = Technician.objects.filter(person=user).first()

    def act(self, **details) -> None:
        stock.put_in(self.unit, **details)


class RemoveForm(StockForm):
    route, standings = "stock_remove", (Standing.IN_TRUCK,)
    title = _("Take it out of its truck")
    button = _("It is out of the truck now")
    caution = _(
        "Refrigerant is under pressure: only a certified technician opens the circuit, and recovers "
        "the charge first. Disconnect the batteries before any cable is undone. Hold the unit before the "
        "last bolt goes. Local codes come first."
    )

    on_day = DayField(label=_("Day"))
    to_yard = yard_field(_("Into yard"))
    why = why_field(required=False)

    def act(self, **details) -> None:
        stock.remove(self.unit, **details)


class MoveForm(StockForm):
    route, standings = "stock_move", AT_HAND
    title = _("Move it to another yard")
    button = _("It lies there now")

    yard = yard_field(_("To yard"))
    why = why_field(required=False)

    def act(self, **details) -> None:
        stock.move_to_yard(self.unit, **details)


class ReturnForm(StockForm):
    route, standings = "stock_return", (Standing.FREE, Standing.NOWHERE)
    roles = (Role.OFFICE, Role.OWNER)
    title = _("Return it to the maker")
    button = _("It has gone back")
    caution = _(
        "It may hold refrigerant under pressure, and some refrigerants burn: ask the maker and the "
        "carrier how it must travel, and have a certified technician recover the charge where they "
        "say so. Local codes come first."
    )

    why = why_field(required=True)

    def act(self, **details) -> None:
        stock.return_to_maker(self.unit, **details)


class ScrapForm(StockForm):
    route, standings = "stock_scrap", (Standing.FREE, Standing.NOWHERE)
    roles = (Role.OFFICE, Role.OWNER)
    title = _("Scrap it")
    button = _("It is scrapped")
    caution = _(
        "Refrigerant must not be let out: a certified technician recovers the charge before a unit "
        "is scrapped. Local codes come first."
    )

    why = why_field(required=True)

    def act(self, **details) -> None:
        stock.scrap(self.unit, **details)


ACT_FORMS = (PutInForm, RemoveForm, MoveForm, ReturnForm, ScrapForm)


def forms_for(unit: Unit, user, bound: StockForm | None = None) -> list[StockForm]:
    """What this person may do with a unit as it stands (`with_standing`), and what they filled in."""
    open_to = [
        form for form in ACT_FORMS if user.role in form.roles and unit.standing in form.standings
    ]
    forms_open = [bound if isinstance(bound, form) else form(unit, user) for form in open_to]
    if bound and bound not in forms_open:
        forms_open.append(bound)
    for form in forms_open:
        if "on_day" in form.fields:
            form.fields["on_day"].initial = timezone.localdate
    return forms_open
