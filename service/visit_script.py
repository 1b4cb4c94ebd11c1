"""What the page of a visit carries for its scripts: the numbers and the words to judge with."""

from fleetcool.quantities import ENTRY_UNIT, System, to_internal
from service.advice_words import all_words
from service.engineering.visit_physics import Physics
from service.forms.visit import TAKEN

__all__ = ["carried"]


def carried(physics: Physics, system: System) -> dict:
    """Return `Physics.as_dict()` with `units` and `words`.

    A number typed in a field's unit is internal as `scale` times it plus `offset`.
    """
    units = {taken.name: _line(ENTRY_UNIT[taken.kind, system]) for taken in TAKEN}
    return physics.as_dict() | {"units": units, "words": all_words()}


def _line(unit: str) -> dict[str, float]:
    """A unit's own line through two points: every unit of the trade is one."""
    at_zero, at_one = (float(to_internal(typed, unit)) for typed in (0.0, 1.0))
    return {"scale": at_one - at_zero, "offset": at_zero}
