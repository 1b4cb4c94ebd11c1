"""A visit with a compressor changed under terms that cover it, and a claim made of it."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from installs.models import Cover, Install, Terms, TermsVoid
from service import claiming
from service.models import Claim, LineKind, Supplier, Visit, VisitPart
from tests.factories import InstallFactory, VisitFactory

AT = datetime(2024, 6, 5, 15, tzinfo=UTC)
WHY = "the windings are burnt"


def money(text: str) -> Decimal:
    return Decimal(text)


def shop_terms(*voids: str, four_eyes_above: str | None = "500.00", **changes) -> Terms:
    terms = Terms.objects.create(
        name="Shop terms",
        given_from=date(2024, 1, 1),
        four_eyes_above=four_eyes_above and money(four_eyes_above),
        **changes,
    )
    for part_group in ("compressor", "fans", "labour", "refrigerant", "travel"):
        Cover.objects.create(terms=terms, part_group=part_group, months=24)
    for code in voids:
        TermsVoid.objects.create(terms=terms, code=code)
    return terms


def visit_of(
    install: Install | None = None, at: datetime = AT - timedelta(days=1), **part
) -> Visit:
    """A visit at which a part was changed: a compressor, where nothing else is given."""
    visit = VisitFactory(install=install or InstallFactory(), at=at, found="no cold air")
    told = {"part_group": "compressor", "name": "Compressor", "serial_out": "CMP-1"} | part
    VisitPart.objects.create(visit=visit, **told)
    return visit


def line(kind: str, name: str, quantity: str, unit_price: str, part_group: str = "", **serials):
    return {
        "kind": kind,
        "part_group": part_group or kind,
        "name": name,
        "quantity": money(quantity),
        "unit_price": money(unit_price),
        **serials,
    }


COMPRESSOR = line(
    LineKind.PART, "Compressor", "1", "312.40", "compressor", serial_out="CMP-1", serial_in="CMP-2"
)
LABOUR = line(LineKind.LABOUR, "Labour, h", "2.5", "48.00")


def claim_of(by, visit: Visit | None = None, lines=(COMPRESSOR, LABOUR), at=AT) -> Claim:
    """A draft of 312.40 and 2.5 h at 48.00: 432.40."""
    claim = claiming.open_from_visit(visit or visit_of(), by, at)
    claiming.write_lines(claim, list(lines), by, at)
    return fresh(claim)


def submitted(by, **given) -> Claim:
    claim = claim_of(by, **given)
    claiming.submit(claim, by, AT)
    return fresh(claim)


def fresh(claim: Claim) -> Claim:
    return Claim.objects.get(pk=claim.pk)


def supplier(days_to_pay: int = 30, name: str = "Coldworks Supply") -> Supplier:
    return Supplier.objects.get_or_create(name=name, defaults={"days_to_pay": days_to_pay})[0]
