"""The forms by which people take a concern further: one a step, each in the words of the trade."""

from datetime import date, datetime

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetcool.forms import DayField
from reports.models import FOUND, Cause, Concern, NoCause, Step
from service.models import Visit

__all__ = ["AcknowledgeForm", "BookForm", "FoundForm", "PutOffForm", "StepForm", "forms_for"]


def words_field(label: str, **kwargs) -> forms.CharField:
    return forms.CharField(label=label, widget=forms.Textarea({"rows": 2}), **kwargs)


class StepForm(forms.Form):
    """A step that a person may take with a concern; its fields are what the step asks for."""

    steps: tuple[Step, ...]
    route: str
    title: str
    button: str

    def __init__(self, concern: Concern, user, data=None) -> None:
        super().__init__(data, auto_id=f"{self.route}-%s")
        self.concern, self.user = concern, user

    def take(self, at: datetime) -> bool:
        """Take the step, or say beside the fields why it cannot be."""
        if self.is_valid():
            try:
                self.act(at=at, **self.cleaned_data)
            except ValidationError as refused:
                self.add_error(None, refused)
        return self.is_valid()

    def act(self, **details) -> None:
        raise NotImplementedError


class AcknowledgeForm(StepForm):
    steps = (Step.ACKNOWLEDGED,)
    route = "concern_acknowledge"
    title = _("Take it in hand")
    button = _("I have seen it")

    def act(self, **details) -> None:
        self.concern.acknowledge(self.user, **details)


class PutOffForm(StepForm):
    steps = (Step.PUT_OFF,)
    route = "concern_put_off"
    title = _("Put it off")
    button = _("Put it off")

    words = words_field(_("Why"))
    until = DayField(label=_("Until"), help_text=_("It comes back to the list on this day."))

    def act(self, **details) -> None:
        self.concern.put_off(self.user, **details)


class BookForm(StepForm):
    steps = (Step.BOOKED,)
    route = "concern_book"
    title = _("Book the truck in")
    button = _("Book it in")

    booked_for = DayField(label=_("Day"))
    words = words_field(_("Remark"), required=False)

    def act(self, **details) -> None:
        self.concern.book(self.user, **details)


class FoundForm(StepForm):
    steps = (Step.CONFIRMED, Step.REFUTED)
    route = "concern_found"
    title = _("Say what was found")
    button = _("Write it down")

    cause_found = forms.ChoiceField(label=_("What was found"))
    visit = forms.ModelChoiceField(
        Visit.objects.none(),
        label=_("At the visit of"),
        required=False,
        empty_label=_("not on record"),
    )
    found_on = DayField(
        label=_("Or on"), required=False, help_text=_("Where the visit is not on record yet.")
    )
    words = words_field(_("In words"), required=False)
    mended = forms.BooleanField(label=_("It is mended"), required=False)

    def __init__(self, concern: Concern, user, data=None) -> None:
        super().__init__(concern, user, data)
        self.fields["cause_found"].choices = [("", _("choose")), *_findable(concern)]
        self.fields["found_on"].initial = timezone.localdate
        if concern.unit_id is None:
            del self.fields["visit"]
            self.fields["found_on"].label, self.fields["found_on"].help_text = _("On"), ""
        else:
            since = concern.since or concern.first_said_on
            visits = Visit.objects.visible_to(user).filter(
                unit=concern.unit_id, at__date__gte=since
            )
            self.fields["visit"].queryset = visits.order_by("-at")
            self.fields["visit"].label_from_instance = _visit_day

    def act(self, **details) -> None:
        self.concern.found(self.user, **details)


STEP_FORMS = (AcknowledgeForm, FoundForm, BookForm, PutOffForm)


def forms_for(concern: Concern, user, bound: StepForm | None = None) -> list[StepForm]:
    """Return the forms of the steps that a person may take, the one they have filled in among them."""
    allowed = concern.steps_open_to(user)
    return [
        bound if isinstance(bound, form) else form(concern, user)
        for form in STEP_FORMS
        if set(form.steps) & set(allowed)
    ]


def _findable(concern: Concern) -> list[tuple[str, str]]:
    """What can be found: what the screen said first, then the rest."""
    said = Cause(concern.cause)
    own = (said.value, _("%(cause)s, as the screen says") % {"cause": said.label})
    others = NoCause.choices if concern.gauge else FOUND
    return [own, *(choice for choice in others if choice[0] != said)]


def _visit_day(visit: Visit) -> str:
    day: date = timezone.localtime(visit.at).date()
    return f"{day}"
