"""What the pages of a commissioning show: its steps and proofs in words, ready for a template."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from fleetcool.quantities import System
from installs.engineering.acceptance import Proof, Verdict
from installs.models import Certificate, Commissioning, InstallStep, Override
from installs.proof_mends import mend_text
from installs.proof_words import (
    limits_text,
    measured_text,
    proof_label,
    reason_text,
    step_cautions,
    step_how,
    verdict_label,
)
from installs.proving import (
    StepProofs,
    can_be_let_pass,
    proofs_by_step,
    verdict,
)
from service.commissioned import MAY_ANSWER
from service.to_know import to_know

__all__ = ["ProofRow", "StepRow", "step_page", "steps_page"]

# A mark beside the word, so that the eye finds it; the word says it all.
MARKS = {Verdict.PROVED: "✓", Verdict.LOOK_AGAIN: "?", Verdict.NOT_PROVED: "✗"}


@dataclass(frozen=True)
class ProofRow:
    code: str
    label: str
    measured: str
    limits: str
    state: str
    mark: str
    css: str
    reason: str
    # Where to look first, for whoever stands at the truck.
    mend: str
    override: Override | None
    # The roles that may let it pass; none where it holds or was let pass already.
    may_answer: tuple[str, ...]


@dataclass(frozen=True)
class StepRow:
    """A step on the list: `css` names its verdict, `is_next` the first that is not settled."""

    number: int
    label: str
    url: str
    state: str
    mark: str
    css: str
    let_pass: int
    open_labels: list[str]
    proofs: StepProofs
    is_next: bool


def steps_page(commissioning: Commissioning) -> dict[str, object]:
    """Return the ten steps and what still bars the certificate."""
    steps = proofs_by_step(commissioning)
    return {
        "commissioning": commissioning,
        "certificate": Certificate.objects.filter(commissioning=commissioning).first(),
        "steps": _step_rows(commissioning, steps),
        "is_ready": verdict(steps) is Verdict.PROVED,
    }


def step_page(commissioning: Commissioning, step: InstallStep, system: System) -> dict[str, object]:
    """Return one step: cautions, instructions, what its newest record proves, and what comes next."""
    steps = proofs_by_step(commissioning)
    rows = _step_rows(commissioning, steps)
    place = list(InstallStep).index(step)
    now = steps[place]
    model = commissioning.install.unit.model
    return {
        "commissioning": commissioning,
        "certificate": Certificate.objects.filter(commissioning=commissioning).first(),
        "step": rows[place],
        "step_value": step.value,
        "last": now.record,
        "proofs": [_proof_row(proof, now, system) for proof in now.proofs],
        "before": [row for row in rows[:place] if not row.proofs.is_settled],
        "next": rows[place + 1] if place + 1 < len(rows) else None,
        "cautions": step_cautions(step, model.refrigerant),
        "how": step_how(step),
        "to_know": to_know(commissioning, now, system),
        "photos": commissioning.photos.filter(step=step),
        # So that a phone knows which of what it kept has arrived.
        "saved_ids": " ".join(
            str(sent)
            for sent in commissioning.records.filter(step=step).values_list("sent_id", flat=True)
        ),
    }


def _step_rows(commissioning: Commissioning, steps: list[StepProofs]) -> list[StepRow]:
    first_open = next((one.step for one in steps if not one.is_settled), None)
    return [
        StepRow(
            number=number,
            label=str(one.step.label),
            url=reverse("commissioning_step", args=[commissioning.pk, one.step.value]),
            **_standing(one),
            let_pass=len(one.overrides),
            open_labels=[proof_label(proof.code) for proof in one.open_proofs],
            proofs=one,
            is_next=one.step == first_open,
        )
        for number, one in enumerate(steps, start=1)
    ]


def _standing(one: StepProofs) -> dict[str, str]:
    """The verdict of a step in a word, a mark and a class; what was let pass is not called proved."""
    if one.verdict is None:
        return {"state": _("Not yet"), "mark": "·", "css": "not_yet"}
    if one.is_settled and one.overrides:
        return {"state": _("Let pass"), "mark": "!", "css": "look_again"}
    return {
        "state": verdict_label(one.verdict),
        "mark": MARKS[one.verdict],
        "css": one.verdict.value,
    }


def _proof_row(proof: Proof, now: StepProofs, system: System) -> ProofRow:
    override = now.overrides.get(proof.code)
    answerable = override is None and can_be_let_pass(proof)
    return ProofRow(
        code=proof.code,
        label=proof_label(proof.code),
        measured=measured_text(proof, system),
        limits=limits_text(proof, system),
        state=verdict_label(proof.verdict),
        mark=MARKS[proof.verdict],
        css=proof.verdict.value,
        reason=reason_text(proof, system),
        mend=mend_text(proof),
        override=override,
        may_answer=MAY_ANSWER[proof.verdict] if answerable else (),
    )
