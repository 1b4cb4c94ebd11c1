"""The tables of the list pages: what stands in a column, and how it sorts."""

import django_tables2 as tables
from django.core.paginator import Paginator
from django.utils.translation import gettext_lazy as _
from django_tables2.utils import A

from installs.models import Customer, Tractor, Unit
from reports.models import Finding

__all__ = ["CustomerTable", "FindingTable", "TractorTable", "UnitTable", "paged"]

PER_PAGE = 25
NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}
DATE = "Y-m-d"


def paged(table: tables.Table, request) -> tables.Table:
    """Sort a table and turn to a page of it as the address says; nonsense gives the first or last page."""
    tables.RequestConfig(request, paginate=False).configure(table)
    table.paginator = Paginator(table.rows, PER_PAGE)
    table.page = table.paginator.get_page(request.GET.get(table.prefixed_page_field))
    return table


def part(name: str, **kwargs) -> tables.TemplateColumn:
    return tables.TemplateColumn(template_name=f"reports/parts/{name}.html", **kwargs)


class FindingTable(tables.Table):
    truck = part(
        "finding_truck",
        verbose_name=_("Truck"),
        order_by=("customer__name", "tractor__truck_number"),
    )
    unit = part("finding_unit", verbose_name=_("Unit"), order_by="unit__serial")
    cause = part("finding_cause", verbose_name=_("Cause"), order_by=("cause", "-probability"))
    probability = part("finding_sure", verbose_name=_("How sure"), order_by="probability")
    state = part("finding_state", verbose_name=_("State"), orderable=False)
    why = part(
        "finding_why",
        verbose_name=_("Why"),
        order_by="forecast_on",
        orderable=False,
        attrs={"td": {"class": "wide"}},
    )
    action = part(
        "finding_action",
        verbose_name=_("What to do"),
        orderable=False,
        attrs={"td": {"class": "wide"}},
    )

    class Meta:
        model = Finding
        fields: list[str] = []
        attrs = {"class": "rows", "role": "table"}
        empty_text = _(
            "No finding answers to this. Show all, or look under Units for what is known."
        )


class UnitTable(tables.Table):
    serial = tables.Column(linkify=True, verbose_name=_("Serial"))
    model = tables.Column(verbose_name=_("Model"), order_by="model__name")
    lot = tables.Column(verbose_name=_("Lot"))
    now_truck = tables.Column(
        verbose_name=_("Truck now"), linkify=("tractor", {"vin": A("now_vin")})
    )
    now_customer = tables.Column(verbose_name=_("Customer now"))
    now_since = tables.DateColumn(verbose_name=_("In it since"), format=DATE)
    last_reading = tables.DateTimeColumn(verbose_name=_("Last reading"), format=DATE)
    open_findings = tables.Column(verbose_name=_("Open findings"), attrs=NUMBER)

    class Meta:
        model = Unit
        fields: list[str] = []
        attrs = {"class": "rows", "role": "table"}
        empty_text = _("No unit answers to this.")


class TractorTable(tables.Table):
    truck_number = part("tractor_number", verbose_name=_("Truck"), order_by="truck_number")
    vin = tables.Column(verbose_name=_("VIN"))
    customer = tables.Column(verbose_name=_("Customer"), linkify=True, order_by="customer__name")
    model_year = tables.Column(verbose_name=_("Model year"), localize=False, attrs=NUMBER)
    bank = tables.Column(verbose_name=_("Battery bank"), orderable=False)
    now_serial = tables.Column(
        verbose_name=_("Unit in it"), linkify=("unit", {"serial": A("now_serial")})
    )
    open_findings = tables.Column(verbose_name=_("Open findings"), attrs=NUMBER)

    class Meta:
        model = Tractor
        fields: list[str] = []
        attrs = {"class": "rows", "role": "table"}
        empty_text = _("No truck answers to this.")


class CustomerTable(tables.Table):
    name = tables.Column(linkify=True, verbose_name=_("Customer"))
    code = tables.Column(verbose_name=_("Code"))
    truck_count = tables.Column(verbose_name=_("Trucks"), attrs=NUMBER)
    unit_count = tables.Column(verbose_name=_("Units in trucks"), attrs=NUMBER)
    open_findings = tables.Column(verbose_name=_("Open findings"), attrs=NUMBER)

    class Meta:
        model = Customer
        fields: list[str] = []
        attrs = {"class": "rows", "role": "table"}
        empty_text = _("No customer answers to this.")
