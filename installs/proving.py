"""What a commissioning proves as its records stand: step by step, and what still bars a certificate."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.conf import settings

from installs.engineering.acceptance import STEPS, Nameplate, Place, Proof, Verdict, proofs_of
from installs.engineering.battery import SURVIVAL_FLOOR_V
from installs.engineering.proofs import Reason
from installs.engineering.saturation import air_kpa
from installs.models import Commissioning, InstallStep, Override, StepRecord, UnitModel

__all__ = [
    "StepProofs",
    "can_be_let_pass",
    "nameplate_of",
    "open_points",
    "place_of",
    "proofs_by_step",
    "verdict",
]

# No measurement, or one that says nothing: nobody can answer for what was not seen.
NOT_MEASURED = {Reason.MISSING, Reason.STANDING, Reason.SWAPPED}


@dataclass(frozen=True)
class StepProofs:
    """A step: its newest record, what that record proves, and what of it was let pass.

    Of a step that was not taken yet `record` is None and there are no proofs. `overrides` are those
    of the newest record, by the code of the proof.
    """

    step: InstallStep
    record: StepRecord | None
    proofs: list[Proof]
    overrides: dict[str, Override]

    @property
    def open_proofs(self) -> list[Proof]:
        """The proofs that do not hold and that nobody let pass."""
        return [
            proof
            for proof in self.proofs
            if proof.verdict is not Verdict.PROVED and proof.code not in self.overrides
        ]

    @property
    def verdict(self) -> Verdict | None:
        """The worst of its proofs that nobody let pass; None while the step was not taken."""
        return None if self.record is None else verdict([self])

    @property
    def is_settled(self) -> bool:
        return self.record is not None and not self.open_proofs


def proofs_by_step(commissioning: Commissioning) -> list[StepProofs]:
    """Return all ten steps in their order. Two queries, beside what the commissioning itself has
    not loaded (`Commissioning.objects.with_all()` has it)."""
    records = commissioning.records.select_related("technician").prefetch_related(
        "overrides__person"
    )
    newest = {record.step: record for record in records.order_by("taken_at", "pk")}
    nameplate, place = nameplate_of(commissioning.install.unit.model), place_of(commissioning)
    return [_proved(InstallStep(step), newest.get(step), nameplate, place) for step in STEPS]


def open_points(steps: Iterable[StepProofs]) -> list[tuple[InstallStep, Proof | None]]:
    """Return what bars a certificate: each open proof, and None for a step not taken yet."""
    points = []
    for one in steps:
        if one.record is None:
            points.append((one.step, None))
        points += [(one.step, proof) for proof in one.open_proofs]
    return points


def verdict(steps: Iterable[StepProofs]) -> Verdict:
    """Return the worst of what is open: PROVED only where a certificate may be given."""
    points = open_points(steps)
    if any(proof is None for _, proof in points):
        return Verdict.NOT_PROVED
    order = list(Verdict)
    return max((proof.verdict for _, proof in points), key=order.index, default=Verdict.PROVED)


def can_be_let_pass(proof: Proof) -> bool:
    """Whether a person may answer for it: not where it holds, nor where nothing was measured."""
    return proof.verdict is not Verdict.PROVED and proof.reason not in NOT_MEASURED


def nameplate_of(model: UnitModel) -> Nameplate:
    return Nameplate(
        refrigerant=model.refrigerant,
        charge_g=model.charge_g,
        system_v=model.system_v,
        draw_low_a=model.draw_low_a,
        draw_mid_a=model.draw_mid_a,
        draw_high_a=model.draw_high_a,
        cutoff_v=model.cutoff_v,
    )


def place_of(commissioning: Commissioning) -> Place:
    """Where the gauges were read, and on which batteries.

    A truck whose bank is not on record is taken as the type that survives the least.
    """
    bank = getattr(commissioning.install.tractor, "bank", None)
    most_tender = max(SURVIVAL_FLOOR_V, key=SURVIVAL_FLOOR_V.get)
    yard = commissioning.yard
    return Place(
        battery_type=bank.battery_type if bank else most_tender,
        air_kpa=yard.air_kpa if yard else float(air_kpa(settings.SHOP_ELEVATION_M)),
    )


def _proved(
    step: InstallStep, record: StepRecord | None, nameplate: Nameplate, place: Place
) -> StepProofs:
    if record is None:
        return StepProofs(step, None, [], {})
    overrides = {one.proof: one for one in record.overrides.all()}
    return StepProofs(step, record, proofs_of(step, record.measured, nameplate, place), overrides)
