"""How the stock page is narrowed."""

import django_filters
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from installs.models import Unit, UnitModel, Yard
from installs.stock_status import IN_STOCK, Standing

__all__ = ["StockFilter"]


def shop_yards(request) -> QuerySet[Yard]:
    return Yard.objects.visible_to(request.user).filter(customer=None)


def unit_models(request) -> QuerySet[UnitModel]:
    return UnitModel.objects.visible_to(request.user)


class StandingFilter(django_filters.ChoiceFilter):
    """Where units are. Where nothing is asked: what is in stock, or all that a search finds."""

    ALL, STOCK = "all", "in_stock"

    def __init__(self) -> None:
        choices = [(self.STOCK, _("in stock")), *Standing.choices, (self.ALL, _("all"))]
        super().__init__(choices=choices, empty_label=_("in stock, or found"), label=_("Where"))

    def filter(self, rows: QuerySet, standing: str) -> QuerySet:
        if not standing:
            standing = self.ALL if self.parent.data.get("q", "").strip() else self.STOCK
        if standing == self.ALL:
            return rows
        return rows.filter(standing__in=IN_STOCK if standing == self.STOCK else [standing])


class StockFilter(django_filters.FilterSet):
    """Narrows units that have their standing (`stock_status.with_standing`)."""

    q = django_filters.CharFilter(method="search", label=_("Serial, lot or truck"))
    yard = django_filters.ModelChoiceFilter(
        queryset=shop_yards, label=_("Yard"), empty_label=_("all")
    )
    model = django_filters.ModelChoiceFilter(
        queryset=unit_models, label=_("Model"), empty_label=_("all")
    )
    standing = StandingFilter()

    class Meta:
        model = Unit
        fields: list[str] = []

    def search(self, rows: QuerySet, _name: str, words: str) -> QuerySet:
        names = ("serial", "lot", "now_number", "held_number")
        condition = Q()
        for name in names:
            condition |= Q(**{f"{name}__icontains": words.strip()})
        return rows.filter(condition)
