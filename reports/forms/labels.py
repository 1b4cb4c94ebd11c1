"""Which units get labels: what lies in a yard, what a customer has, or serials one a line."""

from dataclasses import dataclass, field

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Upper
from django.utils.translation import gettext_lazy as _

from installs.models import Customer, Install, Unit, Yard
from installs.records.cells import fold
from reports.exports.labels import PER_SHEET

__all__ = ["Chosen", "LabelForm"]

# The serials travel in the page's address, of which the web server takes 4,094 letters; there the
# end of a line is six, and other signs are three each.
MOST_LETTERS = 1_500


@dataclass
class Chosen:
    """The units to label, in the order asked, and the lines that name none: (line from 1, text)."""

    units: list[Unit]
    wrong: list[tuple[int, str]] = field(default_factory=list)


class LabelForm(forms.Form):
    yard = forms.ModelChoiceField(
        Yard.objects.none(), label=_("In stock at"), required=False, empty_label=_("choose")
    )
    customer = forms.ModelChoiceField(
        Customer.objects.none(),
        label=_("Or in the trucks of"),
        required=False,
        empty_label=_("choose"),
    )
    serials = forms.CharField(
        label=_("Or serials, one a line"),
        required=False,
        widget=forms.Textarea(
            {
                "rows": 6,
                "maxlength": MOST_LETTERS,
                "autocapitalize": "off",
                "spellcheck": "false",
                "data-count-lines": "serials",
            }
        ),
        help_text=_(
            "A scanner types a serial and ends the line. The box holds about 100 serials; a serial "
            "that comes twice gets one label."
        ),
    )
    skip = forms.IntegerField(
        label=_("Labels already used on the first sheet"),
        required=False,
        min_value=0,
        max_value=PER_SHEET - 1,
        help_text=_("Counted from the top left, row by row."),
    )

    def __init__(self, user, data=None) -> None:
        super().__init__(data)
        self.user = user
        self.fields["yard"].queryset = Yard.objects.visible_to(user).filter(customer=None)
        self.fields["customer"].queryset = Customer.objects.visible_to(user).order_by("name")

    def clean_skip(self) -> int:
        return self.cleaned_data["skip"] or 0

    def clean(self) -> dict:
        cleaned = super().clean()
        ways = [name for name in ("yard", "customer", "serials") if cleaned.get(name)]
        if len(ways) != 1 and not self.errors:
            raise ValidationError(_("Choose one of the three: a yard, a customer, or serials."))
        return cleaned

    def chosen(self) -> Chosen:
        """The units that a valid form asks for."""
        cleaned = self.cleaned_data
        units = Unit.objects.visible_to(self.user).select_related("model")
        if cleaned["yard"]:
            return Chosen(list(units.in_stock().filter(yard=cleaned["yard"]).order_by("serial")))
        if cleaned["customer"]:
            standing = Install.objects.current().filter(
                unit=OuterRef("pk"), customer=cleaned["customer"]
            )
            return Chosen(list(units.filter(Exists(standing)).order_by("serial")))
        return _by_serial(units, cleaned["serials"].splitlines())


def _by_serial(units, lines: list[str]) -> Chosen:
    scans: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(lines, start=1):
        if serial := line.strip():
            scans.setdefault(fold(serial), (number, serial))
    # SQLite folds the letters of ASCII only, so a serial is also asked for as it was written.
    written = Q(serial__in=[serial for _number, serial in scans.values()])
    found = units.annotate(folded=Upper("serial")).filter(written | Q(folded__in=list(scans)))
    by_serial = {fold(unit.serial): unit for unit in found}
    return Chosen(
        [by_serial[key] for key in scans if key in by_serial],
        [scan for key, scan in scans.items() if key not in by_serial],
    )
