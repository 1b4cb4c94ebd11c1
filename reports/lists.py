"""The rows of the list pages: what a person sees, with what each row says beside its own columns.

Every list costs a fixed number of queries, however many rows it has.
"""

from django.db.models import Count, F, IntegerField, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from installs.models import Customer, Install, Tractor, Unit
from reports.models import Cause, Finding
from service.models import Reading

__all__ = [
    "cause_counts",
    "customer_rows",
    "finding_rows",
    "said_rows",
    "tractor_rows",
    "unit_rows",
]


def said_rows(findings, user) -> QuerySet[Finding]:
    """What any screening said, with how it stands; `findings` is a manager, whole or of one row."""
    return findings.visible_to(user).select_related(
        "run", "customer", "tractor", "unit__model", "concern__last_step"
    )


def finding_rows(findings, user) -> QuerySet[Finding]:
    """What the newest screening says, worst first."""
    # No list draws, and a picture is long.
    return said_rows(findings, user).latest().worst_first().defer("picture")


def unit_rows(user) -> QuerySet[Unit]:
    """Units with where each is now: `now_truck`, `now_vin`, `now_customer`, `now_customer_id`, `now_since`."""
    installs = Install.objects.visible_to(user).current().filter(unit=OuterRef("pk")).order_by()
    readings = (
        Reading.objects.visible_to(user).counted().filter(unit=OuterRef("pk")).order_by("-taken_at")
    )
    return (
        Unit.objects.visible_to(user)
        .select_related("model")
        .annotate(
            now_truck=Subquery(installs.values("tractor__truck_number")[:1]),
            now_vin=Subquery(installs.values("tractor__vin")[:1]),
            now_customer=Subquery(installs.values("customer__name")[:1]),
            now_customer_id=Subquery(installs.values("customer_id")[:1]),
            now_since=Subquery(installs.values("installed_on")[:1]),
            last_reading=Subquery(readings.values("taken_at")[:1]),
            open_findings=_count(Finding.objects.visible_to(user).latest().open(), "unit"),
        )
        .order_by("serial")
    )


def tractor_rows(tractors, user) -> QuerySet[Tractor]:
    """Trucks with the unit in each now, `now_serial`; `tractors` is a manager, whole or of one customer."""
    installs = Install.objects.visible_to(user).current().filter(tractor=OuterRef("pk"))
    return (
        tractors.visible_to(user)
        .select_related("customer", "bank")
        .annotate(
            now_serial=Subquery(installs.order_by("-installed_on").values("unit__serial")[:1]),
            open_findings=_count(Finding.objects.visible_to(user).latest().open(), "tractor"),
        )
        .order_by("customer__name", "truck_number", "vin")
    )


def customer_rows(user) -> QuerySet[Customer]:
    """Customers with how many trucks, units in trucks and open findings each has."""
    return (
        Customer.objects.visible_to(user)
        .annotate(
            truck_count=_count(Tractor.objects.visible_to(user), "customer"),
            unit_count=_count(Install.objects.visible_to(user).current(), "customer"),
            open_findings=_count(Finding.objects.visible_to(user).latest().open(), "customer"),
        )
        .order_by("name")
    )


def cause_counts(findings, user) -> list[tuple[Cause, int]]:
    """How many open findings of each cause the newest screening has, the most frequent first."""
    counted = findings.visible_to(user).latest().open().order_by().values_list("cause")
    return [
        (Cause(cause), n) for cause, n in counted.annotate(n=Count("pk")).order_by("-n", "cause")
    ]


def _count(rows: QuerySet, owner: str) -> Coalesce:
    """How many of these rows point at the outer row by their field `owner`."""
    own = rows.filter(**{owner: OuterRef("pk")}).order_by().values(owner)
    counted = own.annotate(n=Count(F("pk"))).values("n")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)
