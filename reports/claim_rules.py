"""The rules of a claim as a person reads them: what each says, and the records that it rests on."""

from datetime import date
from typing import Any, NamedTuple

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.models import Person
from reports.claim_links import Link, links_to
from service import claiming
from service.claim_facts import ClaimAssessment, LineAssessment, assess_claim
from service.coverage_words import covered_label, rule_label, rule_words, verdict_label
from service.engineering.coverage import EVIDENCE, Ref, Rule, Verdict
from service.models import Claim, ClaimLine, ClaimStep

__all__ = [
    "Evidence",
    "KeptRule",
    "RuleLine",
    "RuleList",
    "ToldRules",
    "decline_choices",
    "kept_rules",
    "rule_cited",
    "told_rules",
]

MOST_LINKS = 5
EVIDENCE_RULE = "evidence_"


class RuleLine(NamedTuple):
    """One rule in words; `verdict` is its code, for the look of it."""

    code: str
    verdict: str
    verdict_text: str
    label: str
    words: str
    links: list[Link]
    more: int


class RuleList(NamedTuple):
    """The rules about one line of the claim that differ from line to line, and what follows."""

    line: ClaimLine
    covered_text: str
    rules: list[RuleLine]


class Evidence(NamedTuple):
    """A kind of evidence that the claim's parts are shown with: there, or missing."""

    label: str
    present: bool
    links: list[Link]
    more: int


class KeptRule(NamedTuple):
    """A rule as it stood when a decision was taken."""

    line: str
    label: str
    words: str
    verdict: str


class ToldRules(NamedTuple):
    """All that the rules say of a claim. `common` are those that say the same of every line."""

    assessment: ClaimAssessment
    covered_text: str
    common: list[RuleLine]
    lists: list[RuleList]
    evidence: list[Evidence]


def told_rules(claim: Claim, user: Person, today: date) -> ToldRules:
    """Return the rules of a claim as they stand, as far as a person may see what they rest on."""
    assessment = assess_claim(claim, today)
    rules = [rule for one in assessment.lines for rule in one.assessment.rules]
    links = links_to({ref for rule in rules for ref in rule.rests_on}, user)
    told = [[_line(rule, links) for rule in one.assessment.rules] for one in assessment.lines]
    common = [rule for rule in told[0] if all(rule in of_line for of_line in told)] if told else []
    return ToldRules(
        assessment,
        capfirst(covered_label(assessment.covered)),
        common,
        [_told(*row, common) for row in zip(assessment.lines, told, strict=True)],
        _evidence(rules, links),
    )


def decline_choices(assessment: ClaimAssessment) -> list[tuple[str, str]]:
    """The rules that a decline may cite, those that fail first."""
    rules = assessment.rules()
    keyed = [(key, *rules[key]) for key in claiming.declining_rules(assessment)]
    return [
        (key, f"{line.name}: {rule_label(rule.code)} ({verdict_label(rule.verdict)})")
        for key, line, rule in keyed
    ]


def _told(one: LineAssessment, rules: list[RuleLine], common: list[RuleLine]) -> RuleList:
    own = [rule for rule in rules if rule not in common]
    return RuleList(one.line, capfirst(covered_label(one.assessment.covered)), own)


def _line(rule: Rule, links: dict[Ref, Link]) -> RuleLine:
    found = [links[ref] for ref in dict.fromkeys(rule.rests_on) if ref in links]
    label, words = rule_words(rule)
    return RuleLine(
        rule.code,
        str(rule.verdict),
        capfirst(verdict_label(rule.verdict)),
        label,
        words,
        found[:MOST_LINKS],
        max(len(found) - MOST_LINKS, 0),
    )


def _evidence(rules: list[Rule], links: dict[Ref, Link]) -> list[Evidence]:
    """Each kind once, whichever of the lines asks for it."""
    kinds = {kind for asked in EVIDENCE.values() for kind in asked}
    by_kind = {rule.code.removeprefix(EVIDENCE_RULE): rule for rule in rules}
    told = []
    for kind in sorted(kinds & by_kind.keys()):
        line = _line(by_kind[kind], links)
        present = line.verdict == Verdict.HOLDS
        told.append(Evidence(line.label, present, line.links, line.more))
    return told


def kept_rules(decision: dict[str, Any]) -> list[KeptRule]:
    """The rules that a decision rested on, as they stood on its day.

    What was said of every line alike stands once, at the end, of no line by name.
    """
    told = {
        line["line"]: [_kept(rule) for rule in line["rules"]] for line in decision.get("lines", [])
    }
    names = {line["line"]: line["name"] for line in decision.get("lines", [])}
    lists = list(told.values())
    common = [rule for rule in lists[0] if all(rule in of for of in lists)] if lists[1:] else []
    kept = [(names[key], rule) for key, rules in told.items() for rule in rules]
    own = [(name, rule) for name, rule in kept if rule not in common]
    return [
        KeptRule(name, *rule_words(rule), verdict_label(rule.verdict))
        for name, rule in [*own, *((_("all that is claimed"), rule) for rule in common)]
    ]


def rule_cited(step: ClaimStep) -> str:
    """The rule that a decline cites, with the line that it is about; empty for other steps."""
    key, _colon, code = step.rule.partition(":")
    if not code:
        return ""
    names = {str(line["line"]): line["name"] for line in step.decision.get("lines", [])}
    return f"{names[key]}: {rule_label(code)}" if key in names else rule_label(code)


def _kept(rule: dict[str, Any]) -> Rule:
    rests_on = tuple(Ref(*pair) for pair in rule["rests_on"])
    return Rule(rule["code"], Verdict(rule["verdict"]), rests_on, rule["numbers"])
