"""Giving the certificate of an install, and taking it back.

A certificate prints only what `Certificate.says` holds, so that it reads in ten years as it did on
the day. Its shape, all in internal units and codes, days and moments as ISO 8601 text:

    serial, lot, model
    nameplate     refrigerant, charge_g, system_v, draw_low_a, draw_mid_a, draw_high_a, cutoff_v
    vin, truck_number, model_year, customer, yard
    bank          battery_type, battery_count, battery_ah; None where it is not on record
    installed_on
    technician    name, scheme, number: whoever signs the certificate
    steps         in their order, each: step, taken_at, technician (as above), and
                  proofs, each: code, measured, low, high, kind, verdict, reason, and
                  override: person, reason, at; None where nobody had to let it pass
    charge_g, cylinder, cutoff_v, set_point_c    as last measured
    terms         name, counted_from, rows of part_group, counts_from, months, run_hours, ends_on;
                  None where there are none or where they are another customer's affair
"""

from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from installs.cover import dated_terms, first_install
from installs.engineering.acceptance import REFRIGERANT_STEPS, Proof, Verdict
from installs.models import (
    Certificate,
    Commissioning,
    Install,
    InstallStep,
    Override,
    Technician,
    Terms,
    Tractor,
    UnitModel,
)
from installs.proof_words import proof_label, verdict_label
from installs.proving import StepProofs, open_points, proofs_by_step
from installs.signature import clean_strokes

__all__ = ["issue", "says_of", "withdraw"]

PLATE = (
    "refrigerant",
    "charge_g",
    "system_v",
    "draw_low_a",
    "draw_mid_a",
    "draw_high_a",
    "cutoff_v",
)
# What counts as a reason: a word is none.
LEAST_WHY = 8


@transaction.atomic
def issue(
    commissioning: Commissioning,
    technician: Technician,
    received_by: str,
    signature: list,
    at: datetime,
) -> Certificate:
    """Give the certificate: what was proved, as it stands now, to whoever takes the truck.

    `received_by` is their name as typed, `signature` the strokes they drew, empty where the name
    alone was given. Asked for twice, the one that stands is returned. Raises ValidationError with
    one message for each point that is open.
    """
    # Two phones at once: the second waits here and then finds the first one's certificate.
    Commissioning.objects.select_for_update().get(pk=commissioning.pk)
    commissioning = Commissioning.objects.with_all().get(pk=commissioning.pk)
    if given := Certificate.objects.filter(commissioning=commissioning).first():
        if given.withdrawn_at is None:
            return given
        raise ValidationError(
            _("This certificate was withdrawn. Prove the install anew: begin a new commissioning.")
        )
    steps = proofs_by_step(commissioning)
    open_words = _open_words(commissioning, steps)
    if not received_by.strip():
        open_words.append(_("Type the name of the person who takes the truck."))
    if open_words:
        raise ValidationError(open_words)
    return Certificate.objects.create(
        commissioning=commissioning,
        issued_at=at,
        technician=technician,
        says=says_of(commissioning, steps, technician),
        received_by=received_by.strip(),
        signature=clean_strokes(signature),
    )


def withdraw(certificate: Certificate, person, why: str, at: datetime) -> None:
    """Take a certificate back, by name and with a reason. Raises ValidationError without one."""
    why = why.strip()
    if len(why) < LEAST_WHY:
        raise ValidationError(_("Say in a few words why it is withdrawn."))
    withdrawn = Certificate.objects.filter(pk=certificate.pk, withdrawn_at=None).update(
        withdrawn_at=at, withdrawn_by=person, withdrawn_why=why
    )
    if not withdrawn:
        raise ValidationError(_("This certificate was withdrawn already."))


def says_of(
    commissioning: Commissioning, steps: list[StepProofs], technician: Technician
) -> dict[str, object]:
    """Return all that the certificate will ever print, in the shape told above."""
    install = commissioning.install
    unit, measured = install.unit, _measured(steps)
    return {
        "serial": unit.serial,
        "lot": unit.lot,
        "model": unit.model.name,
        "nameplate": _nameplate(unit.model),
        **_truck(install.tractor),
        "customer": install.customer.name,
        "yard": commissioning.yard.name if commissioning.yard else "",
        "installed_on": install.installed_on.isoformat(),
        "technician": _signer(technician),
        "steps": [_step(one) for one in steps],
        "charge_g": measured.get("charge_g"),
        "cylinder": measured.get("cylinder") or "",
        "cutoff_v": measured.get("cutoff_v"),
        "set_point_c": measured.get("set_point_c"),
        "terms": _terms(install),
    }


def _open_words(commissioning: Commissioning, steps: list[StepProofs]) -> list[str]:
    """What bars the certificate, a line for each point."""
    words = [_open_point(step, proof) for step, proof in open_points(steps)]
    words += [
        _("%(step)s: %(technician)s had no accepted refrigerant certificate that day.")
        % {"step": one.step.label, "technician": one.record.technician}
        for one in steps
        if one.record and one.step in REFRIGERANT_STEPS and not _may_sign(one)
    ]
    if not commissioning.install.still_stands():
        words.append(_("The unit has been taken out of this truck."))
    return words


def _open_point(step: InstallStep, proof: Proof | None) -> str:
    if proof is None:
        return _("%(step)s: not done yet.") % {"step": step.label}
    words = {"proof": proof_label(proof.code), "verdict": verdict_label(proof.verdict).lower()}
    return f"{step.label}: " + _("%(proof)s: %(verdict)s.") % words


def _may_sign(one: StepProofs) -> bool:
    return one.record.technician.may_sign_refrigerant(_day(one.record.taken_at))


def _measured(steps: list[StepProofs]) -> dict[str, object]:
    """The charge and the settings as last measured."""
    records = [one.record for one in steps if one.record]
    told = {record.step: record.measured for record in records}
    return {**told.get("charge", {}), **told.get("settings", {})}


def _nameplate(model: UnitModel) -> dict[str, object]:
    return {name: getattr(model, name) for name in PLATE}


def _truck(tractor: Tractor) -> dict[str, object]:
    bank = getattr(tractor, "bank", None)
    names = ("battery_type", "battery_count", "battery_ah")
    return {
        "vin": tractor.vin,
        "truck_number": tractor.truck_number,
        "model_year": tractor.model_year,
        "bank": {name: getattr(bank, name) for name in names} if bank else None,
    }


def _signer(technician: Technician) -> dict[str, str]:
    return {
        "name": technician.name,
        "scheme": technician.certification_scheme,
        "number": technician.certification_number,
    }


def _step(one: StepProofs) -> dict[str, object]:
    return {
        "step": str(one.step),
        "taken_at": one.record.taken_at.isoformat(),
        "technician": _signer(one.record.technician),
        "proofs": [_proof(proof, one.overrides.get(proof.code)) for proof in one.proofs],
    }


def _proof(proof: Proof, override: Override | None) -> dict[str, object]:
    return {
        "code": proof.code,
        "measured": proof.measured,
        "low": proof.low,
        "high": proof.high,
        "kind": proof.kind,
        "verdict": str(proof.verdict),
        "reason": str(proof.reason),
        "override": _override(override) if override and proof.verdict != Verdict.PROVED else None,
    }


def _override(override: Override) -> dict[str, str]:
    return {
        "person": override.person.get_full_name() or override.person.get_username(),
        "reason": override.reason,
        "at": override.at.isoformat(),
    }


def _terms(install: Install) -> dict[str, object] | None:
    """The terms that run from the unit's first install, if that was in this customer's truck."""
    first = first_install(install.unit)
    dated = dated_terms(first, Terms.objects.all()) if first else None
    if dated is None or first.customer_id != install.customer_id:
        return None
    return {
        "name": dated.terms.name,
        "counted_from": dated.counted_from.isoformat(),
        "rows": [
            {
                "part_group": cover.part_group,
                "counts_from": cover.counts_from,
                "months": cover.months,
                "run_hours": cover.run_hours,
                "ends_on": ends_on.isoformat(),
            }
            for cover, ends_on in dated.rows
            if cover.months
        ],
    }


def _day(at: datetime) -> date:
    return timezone.localtime(at, timezone.get_default_timezone()).date()
