"""What a certificate says, in a person's words and units: for its page and for its paper."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetcool.quantities import System
from fleetcool.wording import number
from installs.engineering.acceptance import Proof, Verdict
from installs.models import BatteryType
from installs.models.terms import cover_label
from installs.proof_words import (
    limits_text,
    measured_text,
    proof_label,
    reason_text,
    step_label,
    verdict_label,
)

__all__ = ["ProofLine", "bank_words", "cover_rows", "let_pass_lines", "step_lines"]


@dataclass(frozen=True)
class ProofLine:
    """One proof; `passed_by` names who let it pass, if anybody had to."""

    label: str
    measured: str
    proves: str
    verdict: str
    passed_by: str


def step_lines(steps: list[dict], unit_system: System) -> list[tuple[str, list[ProofLine]]]:
    """Return the title of each step, with who signed it, and its proofs.

    `steps` is that part of what a certificate says.
    """
    return [
        (_signed(step), [_line(*one, unit_system=unit_system) for one in _proofs(step)])
        for step in steps
    ]


def let_pass_lines(steps: list[dict]) -> list[str]:
    """Return a line for each proof that someone let pass: which, by whom, when and why."""
    return [
        _("%(step)s, %(proof)s: %(verdict)s. Let pass by %(person)s on %(day)s: %(reason)s")
        % {
            "step": step_label(proof.step),
            "proof": proof_label(proof.code),
            "verdict": verdict_label(proof.verdict).lower(),
            "person": override["person"],
            "day": _day(override["at"]),
            "reason": override["reason"],
        }
        for step in steps
        for proof, override in _proofs(step)
        if override
    ]


def bank_words(bank: dict | None) -> str:
    if bank is None:
        return _("not on record")
    kind = BatteryType(bank["battery_type"]).label
    return f"{bank['battery_count']} × {bank['battery_ah']:g} Ah {kind}"


def cover_rows(terms: dict) -> list[tuple[str, str, str, str]]:
    """Return part group, months, last day and run hours of each cover."""
    return [
        (
            capfirst(cover_label(row["part_group"], row["counts_from"])),
            number(row["months"], 0),
            row["ends_on"],
            number(row["run_hours"], 0) if row["run_hours"] else "–",
        )
        for row in terms["rows"]
    ]


def _proofs(step: dict) -> Iterator[tuple[Proof, dict | None]]:
    for said in step["proofs"]:
        known = {name: value for name, value in said.items() if name != "override"}
        yield Proof(step=step["step"], **known), said["override"]


def _line(proof: Proof, override: dict | None, unit_system: System) -> ProofLine:
    verdict = verdict_label(proof.verdict)
    if proof.verdict != Verdict.PROVED:
        verdict = f"{verdict}. {reason_text(proof, unit_system)}"
    return ProofLine(
        label=proof_label(proof.code),
        measured=measured_text(proof, unit_system),
        proves=limits_text(proof, unit_system) or (_("yes") if proof.kind == "yes" else "–"),
        verdict=verdict,
        passed_by=override["person"] if override else "",
    )


def _signed(step: dict) -> str:
    return _("%(step)s: %(technician)s, %(day)s") % {
        "step": step_label(step["step"]),
        "technician": step["technician"]["name"],
        "day": _day(step["taken_at"]),
    }


def _day(moment: str) -> str:
    at = timezone.localtime(datetime.fromisoformat(moment), timezone.get_default_timezone())
    return date_format(at, "Y-m-d")
