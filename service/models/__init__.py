from service.models.ledger import Cylinder, Movement, MovementKind
from service.models.overnights import EndedBy, Overnight
from service.models.readings import Output, Reading, ReadingKind
from service.models.visits import Visit

__all__ = [
    "Cylinder",
    "EndedBy",
    "Movement",
    "MovementKind",
    "Output",
    "Overnight",
    "Reading",
    "ReadingKind",
    "Visit",
]
