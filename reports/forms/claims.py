"""The forms of a claim: what is claimed, and each step that is taken with it."""

from datetime import datetime
from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from installs.models import PartGroup
from reports.claim_words import sum_text
from service import claiming
from service.claim_rules import steps_open_to
from service.models import Claim, ClaimStepKind, LineKind, Recovery, Supplier

__all__ = ["STEP_FORMS", "DescribeForm", "LinesForm", "StepForm", "forms_for", "step_form"]

PARTS = [choice for choice in PartGroup.choices if choice[0] not in LineKind.values]


def words_field(label: str, **kwargs) -> forms.CharField:
    return forms.CharField(label=label, widget=forms.Textarea({"rows": 2}), **kwargs)


def money_field(label: str, **kwargs) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, max_digits=12, decimal_places=2, min_value=Decimal(0), localize=False, **kwargs
    )


class ActForm(forms.Form):
    """What one person does with one claim; a refusal stands beside the fields, and nothing is lost."""

    prefix_id: str

    def __init__(self, claim: Claim, user, data=None) -> None:
        super().__init__(data, auto_id=f"{self.prefix_id}-%s")
        self.claim, self.user = claim, user

    def take(self, at: datetime) -> bool:
        """Do it, or say why it cannot be."""
        if self.is_valid():
            try:
                self.act(at)
            except ValidationError as refused:
                self.add_error(None, refused.messages)
        return self.is_valid()

    def act(self, at: datetime) -> None:
        raise NotImplementedError


class StepForm(ActForm):
    """One step; `name` is its place in the address."""

    kind: ClaimStepKind
    name: str
    title: str
    button: str

    @property
    def prefix_id(self) -> str:
        return self.name


class SubmitForm(StepForm):
    kind = ClaimStepKind.SUBMITTED
    name = "submit"
    title = _("Submit it")
    button = _("Submit for decision")

    why = words_field(_("Remark"), required=False)

    def act(self, at: datetime) -> None:
        claiming.submit(self.claim, self.user, at, **self.cleaned_data)


class AskMoreForm(StepForm):
    kind = ClaimStepKind.MORE_ASKED
    name = "ask-more"
    title = _("Ask for more")
    button = _("Ask for it")

    why = words_field(_("What is missing"))

    def act(self, at: datetime) -> None:
        claiming.ask_more(self.claim, self.user, at, **self.cleaned_data)


class AnswerForm(StepForm):
    kind = ClaimStepKind.ANSWERED
    name = "answer"
    title = _("Answer what was asked")
    button = _("Answer")

    why = words_field(_("The answer"))

    def act(self, at: datetime) -> None:
        claiming.answer(self.claim, self.user, at, **self.cleaned_data)


class ApproveForm(StepForm):
    """Line by line, each in full as it comes."""

    kind = ClaimStepKind.APPROVED
    name = "approve"
    title = _("Approve it, in full or in part")
    button = _("Approve these sums")

    why = words_field(_("Why"), required=False)

    def __init__(self, claim: Claim, user, data=None) -> None:
        super().__init__(claim, user, data)
        self.lines = {f"line-{line.pk}": line for line in claim.lines.all()}
        why = self.fields.pop("why")
        for name, line in self.lines.items():
            asked = sum_text(line.amount, claim.currency)
            label = _("%(what)s, asked %(sum)s") % {"what": line.name, "sum": asked}
            self.fields[name] = money_field(label, initial=line.amount)
        self.fields["why"] = why

    def act(self, at: datetime) -> None:
        amounts = {line.pk: self.cleaned_data[name] for name, line in self.lines.items()}
        claiming.approve(self.claim, self.user, at, amounts, self.cleaned_data["why"])


class DeclineForm(StepForm):
    kind = ClaimStepKind.DECLINED
    name = "decline"
    title = _("Decline it")
    button = _("Decline by this rule")

    rule = forms.ChoiceField(label=_("By which rule"))
    why = words_field(_("Why"))

    def __init__(self, claim: Claim, user, data=None, rules=()) -> None:
        super().__init__(claim, user, data)
        self.fields["rule"].choices = [("", _("choose")), *rules]

    def act(self, at: datetime) -> None:
        claiming.decline(self.claim, self.user, at, **self.cleaned_data)


class SendForm(StepForm):
    kind = ClaimStepKind.SENT_TO_MAKER
    name = "send"
    title = _("Send it to the maker of the part")
    button = _("It is sent")

    supplier = forms.ModelChoiceField(
        Supplier.objects.none(), label=_("Supplier"), required=False, empty_label=_("choose")
    )
    new_supplier = forms.CharField(
        label=_("Or one that is not on record yet"), max_length=120, required=False
    )
    asked = money_field(_("Asked of them"))
    reference = forms.CharField(label=_("Their reference"), max_length=60, required=False)

    def __init__(self, claim: Claim, user, data=None) -> None:
        super().__init__(claim, user, data)
        self.fields["supplier"].queryset = Supplier.objects.visible_to(user)
        self.fields["asked"].initial = claim.approved

    def clean(self) -> dict:
        told = super().clean()
        if bool(told.get("supplier")) == bool(told.get("new_supplier", "").strip()):
            self.add_error("supplier", _("Choose one supplier, or write the name of a new one."))
        return told

    def act(self, at: datetime) -> None:
        told = self.cleaned_data
        supplier = told["supplier"]
        if supplier is None:
            name = told["new_supplier"].strip()
            supplier, _made = Supplier.objects.get_or_create(name=name)
        claiming.send_to_maker(
            self.claim, self.user, at, supplier, told["asked"], told["reference"]
        )


class CreditForm(StepForm):
    kind = ClaimStepKind.CREDITED
    name = "credit"
    title = _("Write down a credit")
    button = _("It is credited")

    recovery = forms.ModelChoiceField(
        Recovery.objects.none(), label=_("Of what was sent"), empty_label=None
    )
    amount = money_field(_("Credited"))
    why = words_field(_("Remark"), required=False)

    def __init__(self, claim: Claim, user, data=None) -> None:
        super().__init__(claim, user, data)
        sent = Recovery.objects.visible_to(user).filter(claim=claim).select_related("supplier")
        self.fields["recovery"].queryset = sent
        self.fields["recovery"].label_from_instance = _sent_text

    def act(self, at: datetime) -> None:
        claiming.credit(self.claim, self.user, at, **self.cleaned_data)


class CloseForm(StepForm):
    kind = ClaimStepKind.CLOSED
    name = "close"
    title = _("Close it")
    button = _("Close the claim")

    why = words_field(_("Why"), required=False)

    def act(self, at: datetime) -> None:
        claiming.close(self.claim, self.user, at, **self.cleaned_data)


class ReopenForm(StepForm):
    kind = ClaimStepKind.REOPENED
    name = "reopen"
    title = _("Open it again")
    button = _("Open it again")

    why = words_field(_("Why"))

    def act(self, at: datetime) -> None:
        claiming.reopen(self.claim, self.user, at, **self.cleaned_data)


STEP_FORMS = {
    form.name: form
    for form in (
        SubmitForm,
        ApproveForm,
        DeclineForm,
        AskMoreForm,
        AnswerForm,
        SendForm,
        CreditForm,
        CloseForm,
        ReopenForm,
    )
}


class DescribeForm(ActForm):
    """What the claim says of the failure, while it is still being written."""

    prefix_id = "describe"

    failed_on = DayField(label=_("Failed on"))
    words = words_field(_("What failed, in words"), required=False)
    meter_h = forms.FloatField(
        label=_("Run hours on the unit's meter"), required=False, min_value=0, max_value=200_000
    )
    moved_by_others = forms.TypedChoiceField(
        label=_("The unit was moved by others"),
        required=False,
        choices=[("", _("nobody knows")), ("yes", _("yes")), ("no", _("no"))],
        coerce=lambda said: said == "yes",
        empty_value=None,
    )

    def __init__(self, claim: Claim, user, data=None) -> None:
        super().__init__(claim, user, data)
        self.initial = {
            "failed_on": claim.failed_on,
            "words": claim.words,
            "meter_h": claim.meter_h,
            "moved_by_others": {None: "", True: "yes", False: "no"}[claim.moved_by_others],
        }

    def act(self, at: datetime) -> None:
        claiming.amend(self.claim, self.user, at, **self.cleaned_data)


class LineForm(forms.Form):
    """One thing that is asked for. A part names its group; what is done for it has its own."""

    name = forms.CharField(label=_("What"), max_length=100)
    kind = forms.ChoiceField(label=_("Kind"), choices=[("", _("choose")), *LineKind.choices])
    part_group = forms.ChoiceField(
        label=_("Group of a part"), choices=[("", "–"), *PARTS], required=False
    )
    serial_out = forms.CharField(label=_("Serial out"), max_length=60, required=False)
    serial_in = forms.CharField(label=_("Serial in"), max_length=60, required=False)
    quantity = forms.DecimalField(
        label=_("Quantity"), max_digits=9, decimal_places=3, min_value=Decimal("0.001")
    )
    unit_price = money_field(_("Price of one"))

    def clean(self) -> dict:
        told = super().clean()
        kind = told.get("kind")
        if kind == LineKind.PART and not told.get("part_group"):
            self.add_error("part_group", _("Say which group the part belongs to."))
        elif kind and kind != LineKind.PART:
            told["part_group"] = kind
        return told


class LineForms(forms.BaseFormSet):
    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].label = _("Take it out")


LineFormSet = forms.formset_factory(LineForm, LineForms, extra=2, max_num=40, can_delete=True)


class LinesForm:
    """All lines of a claim at once; what is ticked to be taken out goes, an empty row is none."""

    def __init__(self, claim: Claim, user, data=None) -> None:
        self.claim, self.user = claim, user
        self.refused: list[str] = []
        names = LineForm.base_fields
        self.formset = LineFormSet(
            data,
            initial=[{name: getattr(line, name) for name in names} for line in claim.lines.all()],
            prefix="lines",
        )
        for form in self.formset:
            quantity = form.initial.get("quantity")
            if quantity is not None:
                form.initial["quantity"] = f"{quantity.normalize():f}"

    @property
    def is_bound(self) -> bool:
        return self.formset.is_bound

    def take(self, at: datetime) -> bool:
        """Write them in place of those there are, or say why they cannot be."""
        if not self.formset.is_valid():
            return False
        told = (form.cleaned_data for form in self.formset if form.has_changed() or form.initial)
        lines = [
            {name: row[name] for name in LineForm.base_fields}
            for row in told
            if row and not row["DELETE"]
        ]
        try:
            claiming.write_lines(self.claim, lines, self.user, at)
        except ValidationError as refused:
            self.refused = refused.messages
        return not self.refused


def forms_for(claim: Claim, user, rules, bound: StepForm | None = None) -> list[StepForm]:
    """Return the forms of the steps that a person may take; `rules` are those to decline by."""
    allowed = steps_open_to(claim, user)
    open_to = [form for form in STEP_FORMS.values() if form.kind in allowed]
    return [
        bound if isinstance(bound, form) else step_form(form, claim, user, rules)
        for form in open_to
    ]


def step_form(form: type[StepForm], claim: Claim, user, rules, data=None) -> StepForm:
    if form is DeclineForm:
        return form(claim, user, data, rules=rules)
    return form(claim, user, data)


def _sent_text(recovery: Recovery) -> str:
    asked = sum_text(recovery.asked, recovery.currency)
    return f"{recovery.supplier}, {asked}, {recovery.sent_on}"
