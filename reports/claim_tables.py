"""How the list of claims is narrowed, and what stands in its columns."""

import django_filters
import django_tables2 as tables
from django import forms
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from installs.models import PartGroup
from reports.claim_list import due_within, mine_to_decide, open_claims
from reports.filters import by_customer, unit_models
from reports.tables import NUMBER, part
from service.claim_rules import ACTS
from service.models import Claim, ClaimLine, ClaimState

__all__ = ["ClaimFilter", "ClaimTable", "OwnClaimTable"]


class StateFilter(django_filters.ChoiceFilter):
    """How the claims stand; what is closed is left out where nothing is asked."""

    OPEN, ALL = "open", "all"

    def __init__(self, **kwargs) -> None:
        choices = [(self.OPEN, _("all but closed")), *ClaimState.choices, (self.ALL, _("all"))]
        super().__init__(choices=choices, empty_label=None, label=_("State"), **kwargs)

    def filter(self, rows: QuerySet, state: str) -> QuerySet:
        if state == self.ALL:
            return rows
        return rows.in_state(state) if state in ClaimState.values else open_claims(rows)


class ClaimFilter(django_filters.FilterSet):
    q = django_filters.CharFilter(
        method="filter_words", label=_("Claim, truck, or a serial of unit or part")
    )
    state = StateFilter()
    customer = by_customer()
    model = django_filters.ModelChoiceFilter(
        field_name="unit__model", queryset=unit_models, label=_("Model"), empty_label=_("all")
    )
    part_group = django_filters.ChoiceFilter(
        method="filter_part_group",
        choices=PartGroup.choices,
        label=_("Part group"),
        empty_label=_("all"),
    )
    within = django_filters.NumberFilter(
        method="filter_within",
        label=_("To submit within, days"),
        min_value=0,
        max_value=3650,
        decimal_places=0,
    )
    mine = django_filters.BooleanFilter(
        method="filter_mine",
        label=_("Mine to decide"),
        widget=forms.CheckboxInput,
    )

    class Meta:
        model = Claim
        fields: list[str] = []

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        if self.request.user.role not in ACTS:
            del self.filters["mine"]

    def filter_words(self, rows: QuerySet, _name: str, words: str) -> QuerySet:
        parts = ClaimLine.objects.filter(claim=OuterRef("pk"))
        parts = parts.filter(Q(serial_out__icontains=words) | Q(serial_in__icontains=words))
        found = Q(Exists(parts))
        for field in ("unit__serial", "install__tractor__vin"):
            found |= Q(**{f"{field}__icontains": words})
        # A truck's number is its owner's own: that of a later one finds nothing.
        truck = {"install__tractor__truck_number__icontains": words}
        found |= Q(**truck, install__tractor__customer=F("customer"))
        if (number := words.upper().removeprefix("W-")).isdecimal():
            found |= Q(pk=int(number))
        return rows.filter(found)

    def filter_part_group(self, rows: QuerySet, _name: str, group: str) -> QuerySet:
        lines = ClaimLine.objects.filter(claim=OuterRef("pk"), part_group=group)
        return rows.filter(Exists(lines))

    def filter_within(self, rows: QuerySet, _name: str, days) -> QuerySet:
        return due_within(rows, int(days), timezone.localdate())

    def filter_mine(self, rows: QuerySet, _name: str, mine: bool) -> QuerySet:
        return mine_to_decide(rows, self.request.user) if mine else rows


class OwnClaimTable(tables.Table):
    """What a customer sees of the claims of its trucks: no money."""

    number = part("claim_number", verbose_name=_("Claim"), order_by=("logged_at", "pk"))
    unit = part("claim_unit", verbose_name=_("Unit"), order_by=("customer__name", "unit__serial"))
    what = part("claim_what", verbose_name=_("What failed"), orderable=False)
    state = part("claim_state", verbose_name=_("State"), orderable=False)
    age = part("claim_age", verbose_name=_("Age"), order_by="-logged_at")

    class Meta:
        model = Claim
        fields: list[str] = []
        attrs = {"class": "rows", "role": "table"}
        empty_text = _("No claim answers to this. A claim is opened on the page of its visit.")


class ClaimTable(OwnClaimTable):
    left = part("claim_left", verbose_name=_("Days left"), orderable=False)
    asked = part("claim_asked", verbose_name=_("Asked"), order_by="sum_asked", attrs=NUMBER)
    approved = part("claim_approved", verbose_name=_("Approved"), orderable=False, attrs=NUMBER)

    class Meta(OwnClaimTable.Meta):
        sequence = ("number", "unit", "what", "state", "left", "age", "asked", "approved")
