"""`{% quantity value kind %}` and the text of a person's units."""

from django import template

from fleetcool.models import UnitSystem
from fleetcool.quantities import Kind
from fleetcool.wording import amount

register = template.Library()


@register.simple_tag(takes_context=True)
def quantity(context, value: float | None, kind: Kind) -> str:
    """Show a quantity of internal units in the units of the person who reads the page."""
    return amount(value, kind, context["request"].user.unit_system)


@register.simple_tag
def unit_systems() -> list[tuple[str, str]]:
    """The unit systems that a person can choose from, as pairs of value and label."""
    return UnitSystem.choices
