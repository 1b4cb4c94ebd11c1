"""What is decided of a claim, and what a decision keeps: all that it rested on, as it stood.

`ClaimStep.decision` holds days as ISO 8601 text and money as text, and is never changed:

    as_of, covered, terms, currency
    lines    each: line, kind, part_group, name, serial_out, quantity, unit_price, asked,
             approved, covered, and
             rules, each: code, verdict, rests_on (pairs of kind and key), numbers
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from service.claim_facts import ClaimAssessment
from service.engineering.coverage import Rule
from service.models import Claim, ClaimLine
from service.models.claims import CENT, money

__all__ = ["amounts_in", "decision_of", "given_amounts", "sum_of"]


def given_amounts(
    lines: list[ClaimLine], amounts: Mapping[int, Decimal] | None
) -> dict[int, Decimal]:
    """What is approved of each line: all of it, or an amount from 0 to what it asks for."""
    if amounts is None:
        return {line.pk: line.amount for line in lines}
    if strange := set(amounts) - {line.pk for line in lines}:
        raise ValidationError(_("Line %(line)s is not of this claim.") % {"line": min(strange)})
    given = {}
    for line in lines:
        given[line.pk] = amount = _exact(amounts.get(line.pk, Decimal("0.00")))
        if not 0 <= amount <= line.amount:
            raise ValidationError(
                _("%(line)s: approve from 0 to %(asked)s.") % {"line": line, "asked": line.amount}
            )
    return given


def _exact(amount: Decimal) -> Decimal:
    """An amount to the hundredth; Decimal only, for no sum of money is binary."""
    if not isinstance(amount, Decimal):
        raise TypeError(f"{amount!r} is no Decimal.")
    if not amount.is_finite() or money(amount) != amount:
        raise ValidationError(_("Give an amount with at most two decimals."))
    return amount.quantize(CENT)


def sum_of(amount: Decimal) -> Decimal:
    """Return a sum of money above 0, to the hundredth."""
    amount = _exact(amount)
    if amount <= 0:
        raise ValidationError(_("An amount is above 0."))
    return amount


def amounts_in(decision: dict) -> list[tuple[int, str]]:
    """What a decision approves, line for line."""
    return [(line["line"], line["approved"]) for line in decision["lines"]]


def decision_of(
    claim: Claim, said: ClaimAssessment, given: Mapping[int, Decimal], today: date
) -> dict[str, object]:
    """What a decision rests on, in the shape told above."""
    return {
        "as_of": today.isoformat(),
        "covered": str(said.covered),
        "terms": str(claim.terms) if claim.terms else "",
        "currency": claim.currency,
        "lines": [
            {
                "line": line.pk,
                "kind": line.kind,
                "part_group": line.part_group,
                "name": line.name,
                "serial_out": line.serial_out,
                "quantity": str(line.quantity),
                "unit_price": str(line.unit_price),
                "asked": str(line.amount),
                "approved": str(given[line.pk]),
                "covered": str(assessment.covered),
                "rules": [_rule(rule) for rule in assessment.rules],
            }
            for line, assessment in said.lines
        ],
    }


def _rule(rule: Rule) -> dict[str, object]:
    return {
        "code": rule.code,
        "verdict": str(rule.verdict),
        "rests_on": [list(ref) for ref in rule.rests_on],
        "numbers": {
            name: value.isoformat() if isinstance(value, date) else value
            for name, value in rule.numbers.items()
        },
    }
