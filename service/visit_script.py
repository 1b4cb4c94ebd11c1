"""What the page of a visit carries for its scripts: the numbers and the words to judge with."""

from fleetcool.models import UnitSystem
from fleetcool.quantities import ENTRY_UNIT, System, to_internal
from service.advice_words import all_words
from service.engineering.visit_physics import Physics
from service.forms.visit import TAKEN, quantity_fields

__all__ = ["carried"]


def carried(physics: Physics) -> dict:
    """Return `Physics.as_dict()` with `words`, and by unit system and field `units` and `labels`.

    A number typed in a field's unit is internal as `scale` times it plus `offset`.
    """
    return physics.as_dict() | {
        "units": {system: _units(system) for system in UnitSystem.values},
        "labels": {system: _labels(system) for system in UnitSystem.values},
        "words": all_words(),
    }


def _units(system: System) -> dict[str, dict[str, float]]:
    return {taken.name: _line(ENTRY_UNIT[taken.kind, system]) for taken in TAKEN}


def _labels(system: System) -> dict[str, str]:
    """The labels as the form has them, for numbers that were typed in other units than the page's."""
    return {name: str(field.label) for name, field in quantity_fields(system).items()}


def _line(unit: str) -> dict[str, float]:
    """A unit's own line through two points: every unit of the trade is one."""
    at_zero, at_one = (float(to_internal(typed, unit)) for typed in (0.0, 1.0))
    return {"scale": at_one - at_zero, "offset": at_zero}
