"""What is on record of a claim, gathered for the rules of coverage: rows in, facts out."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from django.db.models import Q
from django.db.models.functions import Trim, Upper

from installs.cover import first_install
from installs.models import Install, ReplacedPart, Terms
from service.book_rules import day_of
from service.claim_voids import certificates_of, voids_of
from service.engineering.coverage import (
    FOR_A_PART,
    Assessment,
    Cover,
    Covered,
    Dated,
    Facts,
    Ref,
    Rule,
    TermsFacts,
    assess,
    overall,
)
from service.engineering.run_hours import Night
from service.models import (
    Claim,
    ClaimLine,
    ClaimStepKind,
    LineKind,
    Movement,
    Overnight,
    Reading,
    VisitPart,
)

__all__ = ["ClaimAssessment", "LineAssessment", "assess_claim", "terms_facts"]


class LineAssessment(NamedTuple):
    """A line of a claim and what the rules say of it."""

    line: ClaimLine
    assessment: Assessment

    def keyed(self) -> list[tuple[str, Rule]]:
        """Each rule with the key by which a decline cites it."""
        return [(f"{self.line.pk}:{rule.code}", rule) for rule in self.assessment.rules]


class ClaimAssessment(NamedTuple):
    """What the rules say of a claim as it stands: line by line, and of all of it."""

    lines: list[LineAssessment]
    covered: Covered
    deadline: date | None
    days_left: int | None

    def rules(self) -> dict[str, tuple[ClaimLine, Rule]]:
        """Every rule by the key by which a decline cites it, with the line that it is about."""
        return {key: (one.line, rule) for one in self.lines for key, rule in one.keyed()}


def assess_claim(claim: Claim, today: date) -> ClaimAssessment:
    """Return what the rules say of a claim on a day. A bounded number of queries."""
    known = _facts(claim, claim.submitted_on or today)
    lines = list(claim.lines.all())
    lines.sort(key=lambda line: line.part_group in FOR_A_PART)
    told, of_parts = [], []
    evidence = _LineEvidence(claim, lines)
    for line in lines:
        facts = replace(known, part_group=line.part_group, **evidence.of(line))
        if line.part_group in FOR_A_PART and of_parts:
            facts = replace(facts, parts_covered=_any(of_parts))
        assessment = assess(facts)
        told.append(LineAssessment(line, assessment))
        if line.kind == LineKind.PART:
            of_parts.append(assessment.covered)
    told.sort(key=lambda one: one.line.pk)
    deadline = next((one.assessment.deadline for one in told), None)
    return ClaimAssessment(
        told,
        overall([one.assessment.covered for one in told]),
        deadline,
        None if deadline is None else (deadline - known.claimed_on).days,
    )


def _any(of_parts: list[Covered]) -> Covered:
    """What is done for several parts goes with whichever of them is covered."""
    for best in (Covered.COVERED, Covered.CANNOT_SAY):
        if best in of_parts:
            return best
    return Covered.NOT_COVERED


def _facts(claim: Claim, claimed_on: date) -> Facts:
    """What all lines of a claim have in common."""
    first = first_install(claim.unit)
    nights = _nights(claim, first)
    used = [night.on for night in nights if night.run_h > 0]
    unit = Ref("nights", claim.unit_id)
    return Facts(
        part_group="",
        failed_on=claim.failed_on,
        claimed_on=claimed_on,
        terms=terms_facts(claim.terms) if claim.terms else None,
        installed=Dated(first.installed_on, Ref("install", first.pk)) if first else None,
        first_use=Dated(min(used), unit) if used else None,
        nights=nights,
        nights_ref=unit if nights else None,
        meter_h=claim.meter_h,
        meter_ref=Ref("visit", claim.visit_id),
        first_owner=first.customer_id if first else None,
        owner=claim.customer_id,
        voids=voids_of(claim),
        evidence=_evidence(claim),
    )


def terms_facts(terms: Terms) -> TermsFacts:
    """Terms as the rules read them."""
    covers = {
        cover.part_group: Cover(cover.months, cover.run_hours, cover.counts_from == "first_use")
        for cover in terms.covers.all()
    }
    return TermsFacts(
        Ref("terms", terms.pk),
        covers,
        transferable=terms.transferable,
        own_months=terms.replaced_months if terms.replaced_part == ReplacedPart.OWN else None,
        voids=tuple(void.code for void in terms.voids.all()),
        claim_days=terms.claim_days,
    )


def _nights(claim: Claim, first: Install | None) -> tuple[Night, ...]:
    if first is None:
        return ()
    rows = Overnight.objects.filter(unit=claim.unit_id).values_list("began_at", "run_h")
    nights = (Night(day_of(began_at), run_h) for began_at, run_h in rows)
    return tuple(night for night in nights if first.installed_on <= night.on <= claim.failed_on)


def _evidence(claim: Claim) -> Mapping[str, tuple[Ref, ...]]:
    """What there is to show of a visit, by kind."""
    visit = claim.visit
    rows = {
        "certificate": ("certificate", certificates_of(claim)),
        "readings": ("reading", Reading.objects.counted().filter(visit=visit)),
        "photos": ("visit_photo", visit.photos.all()),
        "movements": ("movement", Movement.objects.filter(visit=visit)),
    }
    return {
        kind: tuple(Ref(ref, pk) for pk in found.values_list("pk", flat=True))
        for kind, (ref, found) in rows.items()
    }


class _LineEvidence:
    """What differs from line to line: parts put in earlier, and other claims on the same part."""

    def __init__(self, claim: Claim, lines: list[ClaimLine]) -> None:
        serials = [_plain(line.serial_out) for line in lines if line.serial_out]
        earlier = VisitPart.objects.filter(visit__at__lt=claim.visit.at).select_related("visit")
        of_unit = Q(visit__unit=claim.unit_id) | Q(plain__in=serials)
        earlier = earlier.annotate(plain=Upper(Trim("serial_in"))).filter(of_unit)
        self.put_in = list(earlier.order_by("-visit__at"))
        others = ClaimLine.objects.filter(kind=LineKind.PART).exclude(claim=claim.pk)
        same = Q(claim__unit=claim.unit_id) | Q(plain__in=serials)
        rows = (
            others.annotate(plain=Upper(Trim("serial_out")))
            .filter(same)
            .select_related("claim")
            .prefetch_related("claim__steps")
        )
        self.others = [row for row in rows if not _declined(row.claim)]

    def of(self, line: ClaimLine) -> dict[str, object]:
        if line.kind != LineKind.PART:
            return {}
        serial = _plain(line.serial_out)
        same = [other for other in self.others if _same_part(line, other)]
        certain = [one for one in same if serial and one.plain == serial]
        doubtful = [one for one in same if not (serial and one.plain)]
        return {
            "replaced": self._replaced(line),
            "same_serial": tuple(Ref("claim", one.claim_id) for one in certain),
            "same_part": tuple(Ref("claim", one.claim_id) for one in doubtful),
        }

    def _replaced(self, line: ClaimLine) -> Dated | None:
        """When the part that failed was put in for another, if it was."""
        for part in self.put_in:
            told_apart = line.serial_out and part.serial_in
            by_serial = told_apart and _plain(part.serial_in) == _plain(line.serial_out)
            of_unit = part.visit.unit_id == line.claim.unit_id
            if by_serial or of_unit and not told_apart and _same_part(line, part):
                return Dated(day_of(part.visit.at), Ref("visit", part.visit_id))
        return None


def _plain(words: str) -> str:
    """A serial or a name as it is compared: letters may be small or large."""
    return words.strip().upper()


def _same_part(one: ClaimLine, other: ClaimLine | VisitPart) -> bool:
    return one.part_group == other.part_group and _plain(one.name) == _plain(other.name)


def _declined(claim: Claim) -> bool:
    decision = claim.decision
    return decision is not None and decision.kind == ClaimStepKind.DECLINED
