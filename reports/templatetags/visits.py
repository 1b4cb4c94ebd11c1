"""The judgements of a visit's values, and the advice that follows from them, in words."""

from django import template

from service.advice_words import ADVICE, Advice, judgement_text
from service.engineering.judging import Judgement

register = template.Library()


@register.simple_tag
def judged_text(judgement: Judgement | None) -> str:
    return judgement_text(judgement) if judgement else ""


@register.filter
def told(codes: list[str]) -> list[Advice]:
    """What the codes of advice say."""
    return [ADVICE[code] for code in codes]
