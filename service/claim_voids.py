"""What would end cover on a unit, as far as it is on record: yes, no, or nobody can say."""

from collections.abc import Callable, Mapping

from installs.engineering.battery import SURVIVAL_FLOOR_V
from installs.models import Certificate, Credential, Install, InstallStep, StepRecord, VoidCode
from service.book_rules import day_of
from service.engineering.coverage import Ref, Said
from service.models import Claim, Movement, MovementKind

__all__ = ["certificates_of", "voids_of"]

# Beyond the nameplate charge by this part it is an overcharge, as at the install (7 %: common
# practice, no source).
OVERCHARGE = 0.07


def voids_of(claim: Claim) -> Mapping[str, Said]:
    """Return what the terms of a claim ask after, by code; nothing else is looked up."""
    if claim.terms is None:
        return {}
    asked = [void.code for void in claim.terms.voids.all()]
    return {code: LOOKED_UP[code](claim) for code in asked}


def certificates_of(claim: Claim):
    """The certificates of the unit in the truck it stood in, that stand and came before the visit."""
    return Certificate.objects.filter(
        commissioning__install__unit=claim.unit_id,
        commissioning__install__tractor=claim.visit.tractor_id,
        issued_at__lte=claim.visit.at,
        withdrawn_at=None,
    )


def _no_certificate(claim: Claim) -> Said:
    return _without(claim, "certificate", certificates_of(claim))


def _no_evacuation_record(claim: Claim) -> Said:
    return _without(claim, "step_record", _records(claim, InstallStep.EVACUATION))


def _without(claim: Claim, kind: str, rows) -> Said:
    """Whether there is no such record; nobody can say of a unit that stood in no truck."""
    if claim.visit.tractor_id is None:
        return Said(None)
    keys = rows.values_list("pk", flat=True)
    return Said(not keys, tuple(Ref(kind, pk) for pk in keys))


def _records(claim: Claim, step: str):
    return StepRecord.objects.filter(
        commissioning__install__unit=claim.unit_id,
        commissioning__install__tractor=claim.visit.tractor_id,
        step=step,
        taken_at__lte=claim.visit.at,
    ).order_by("-taken_at", "-pk")


def _cutoff_below_floor(claim: Claim) -> Said:
    """By the last settings on record, against the lowest a bank of its type survives."""
    record = _records(claim, InstallStep.SETTINGS).first()
    cutoff_v = record.measured.get("cutoff_v") if record else None
    if cutoff_v is None:
        return Said(None)
    rests_on = (Ref("step_record", record.pk),)
    bank = getattr(claim.visit.tractor, "bank", None)
    kinds = [bank.battery_type] if bank and bank.battery_type else list(SURVIVAL_FLOOR_V)
    below = {cutoff_v < SURVIVAL_FLOOR_V[kind] * claim.unit.model.system_v / 12 for kind in kinds}
    return Said(below.pop() if len(below) == 1 else None, rests_on)


def _overcharge(claim: Claim) -> Said:
    """By the last weighed charge and what was added to it and recovered since."""
    held_g, rests_on = None, []
    for row in _earlier_movements(claim):
        if row.movement == MovementKind.CHARGED:
            held_g, rests_on = row.mass_g, [row]
        elif held_g is not None:
            held_g += row.mass_g if row.movement == MovementKind.ADDED else -row.mass_g
            rests_on.append(row)
    if held_g is None:
        return Said(None)
    over = held_g > claim.unit.model.charge_g * (1 + OVERCHARGE)
    return Said(over, tuple(Ref("movement", row.pk) for row in rests_on))


def _uncertified_work(claim: Claim) -> Said:
    """Whether anyone who moved refrigerant had no certificate that is accepted here, on its day."""
    accepted, doubtful = Credential.accepted(), []
    for row in _earlier_movements(claim):
        if row.certified_by:
            continue
        if row.moved_by is None:
            doubtful.append(row)
        elif not row.moved_by.may_sign_refrigerant(day_of(row.at), accepted):
            return Said(True, (Ref("movement", row.pk),))
    if doubtful:
        return Said(None, tuple(Ref("movement", row.pk) for row in doubtful))
    return Said(False)


def _earlier_movements(claim: Claim) -> list[Movement]:
    rows = Movement.objects.filter(unit=claim.unit_id, at__lt=claim.visit.at)
    return list(rows.exclude(visit=claim.visit_id).select_related("moved_by").order_by("at"))


def _moved_by_others(claim: Claim) -> Said:
    """By what the customer was asked; else by who put it into each truck after the first."""
    if claim.moved_by_others is not None:
        return Said(claim.moved_by_others, (Ref("claim", claim.pk),))
    installs = list(
        Install.objects.filter(unit=claim.unit_id, installed_on__lte=claim.failed_on)
        .order_by("installed_on")
        .prefetch_related("commissionings")
    )
    doubtful = [
        later
        for before, later in zip(installs, installs[1:], strict=False)
        if later.tractor_id != before.tractor_id
        and later.installed_by_id is None
        and not later.commissionings.all()
    ]
    if doubtful:
        return Said(None, tuple(Ref("install", one.pk) for one in doubtful))
    return Said(False, tuple(Ref("install", one.pk) for one in installs))


LOOKED_UP: Mapping[str, Callable[[Claim], Said]] = {
    VoidCode.NO_CERTIFICATE: _no_certificate,
    VoidCode.NO_EVACUATION_RECORD: _no_evacuation_record,
    VoidCode.CUTOFF_BELOW_FLOOR: _cutoff_below_floor,
    VoidCode.OVERCHARGE: _overcharge,
    VoidCode.UNCERTIFIED_WORK: _uncertified_work,
    VoidCode.MOVED_BY_OTHERS: _moved_by_others,
}
