"""A finding's wording for templates, in the units of the person who reads the page."""

from django import template

from reports import asking_words, states, wording
from reports.models import Cause, ConcernStep, Finding

register = template.Library()
register.filter("state_text", states.state_text)
register.filter("step_text", states.step_text)
register.filter("found_text", states.found_text)
register.filter("how_sure", wording.how_sure)
register.filter("ask_text", asking_words.ask_text)
register.filter("forecast", wording.forecast_text)


@register.simple_tag(takes_context=True)
def why(context, finding: Finding) -> str:
    return wording.why(finding, context["request"].user.unit_system)


@register.simple_tag(takes_context=True)
def evidence_rows(context, finding: Finding) -> list[dict]:
    return wording.evidence_rows(finding, context["request"].user.unit_system)


@register.filter
def cause(finding: Finding) -> Cause:
    """The cause with its action, its caution and what would refute it."""
    return Cause(finding.cause)


@register.simple_tag(takes_context=True)
def who(context, step: ConcernStep) -> str:
    return states.who_text(step, context["request"].user)
