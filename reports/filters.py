"""How the list pages are narrowed. Choices are those that the person sees, and no others."""

import django_filters
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from installs.models import Customer, Tractor, Unit, UnitModel, Yard
from reports.models import Ask, Cause, Finding, Step

__all__ = ["CustomerFilter", "FindingFilter", "TractorFilter", "UnitFilter", "VisitFilter"]


def customers(request) -> QuerySet[Customer]:
    return Customer.objects.visible_to(request.user)


def yards(request) -> QuerySet[Yard]:
    return Yard.objects.visible_to(request.user).select_related("customer")


def unit_models(request) -> QuerySet[UnitModel]:
    return UnitModel.objects.visible_to(request.user)


class SearchFilter(django_filters.CharFilter):
    """Rows of which any of the named fields contains the words."""

    def __init__(self, *fields: str, **kwargs) -> None:
        super().__init__(method=self.search, **kwargs)
        self.fields = fields

    def search(self, rows: QuerySet, _name: str, words: str) -> QuerySet:
        condition = Q()
        for field in self.fields:
            condition |= Q(**{f"{field}__icontains": words})
        return rows.filter(condition)


def by_customer(field_name: str = "customer") -> django_filters.ModelChoiceFilter:
    return django_filters.ModelChoiceFilter(
        field_name=field_name, queryset=customers, label=_("Customer"), empty_label=_("all")
    )


class YardChoice(django_filters.fields.ModelChoiceField):
    """Yards of different customers may have one name."""

    def label_from_instance(self, yard: Yard) -> str:
        return f"{yard} ({yard.customer})" if yard.customer else str(yard)


class YardFilter(django_filters.ModelChoiceFilter):
    field_class = YardChoice


class StateFilter(django_filters.ChoiceFilter):
    """How the findings stand; what is put off or settled is left out where nothing is asked."""

    TO_DO, PUT_OFF, SETTLED, ALL = "to_do", "put_off", "settled", "all"
    STATES = {
        TO_DO: _("to do"),
        "new": _("new"),
        Step.ACKNOWLEDGED: Step.ACKNOWLEDGED.label,
        Step.BOOKED: Step.BOOKED.label,
        Step.CONFIRMED: _("confirmed, not mended yet"),
        PUT_OFF: _("put off"),
        SETTLED: _("settled since"),
        ALL: _("all"),
    }

    def __init__(self, **kwargs) -> None:
        choices = list(self.STATES.items())
        super().__init__(choices=choices, empty_label=None, label=_("State"), **kwargs)

    def filter(self, rows: QuerySet, state: str) -> QuerySet:
        today = timezone.localdate()
        if state == self.ALL:
            return rows
        if state == self.SETTLED:
            return rows.settled()
        if state == self.PUT_OFF:
            return rows.put_off(today)
        if state in (*Step, "new"):
            return rows.last_step_is(None if state == "new" else state)
        return rows.to_do(today)


class FindingFilter(django_filters.FilterSet):
    q = SearchFilter(
        "tractor__truck_number",
        "tractor__vin",
        "unit__serial",
        "gauge",
        label=_("Truck, VIN or serial"),
    )
    customer = by_customer()
    cause = django_filters.ChoiceFilter(
        choices=Cause.choices, label=_("Cause"), empty_label=pgettext_lazy("cause", "all")
    )
    state = StateFilter()

    class Meta:
        model = Finding
        fields: list[str] = []


class VisitFilter(django_filters.FilterSet):
    """Whatever is to be done at a truck: findings and measurements alike."""

    q = SearchFilter(
        "tractor__truck_number", "tractor__vin", "unit__serial", label=_("Truck, VIN or serial")
    )
    customer = by_customer()
    yard = YardFilter(
        field_name="tractor__yard", queryset=yards, label=_("Yard"), empty_label=_("all")
    )

    class Meta:
        model = Ask
        fields: list[str] = []


class UnitFilter(django_filters.FilterSet):
    q = SearchFilter("serial", "lot", "now_truck", label=_("Serial, lot or truck"))
    customer = by_customer("now_customer_id")
    model = django_filters.ModelChoiceFilter(
        queryset=unit_models, label=_("Model"), empty_label=_("all")
    )

    class Meta:
        model = Unit
        fields: list[str] = []


class TractorFilter(django_filters.FilterSet):
    q = SearchFilter("truck_number", "vin", "now_serial", label=_("Truck, VIN or unit serial"))
    customer = by_customer()

    class Meta:
        model = Tractor
        fields: list[str] = []


class OwnTractorFilter(TractorFilter):
    """The trucks of one customer."""

    customer = None


class CustomerFilter(django_filters.FilterSet):
    q = SearchFilter("name", "code", label=_("Name or code"))

    class Meta:
        model = Customer
        fields: list[str] = []
