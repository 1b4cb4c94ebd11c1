from service.models.care import CareDone, CareItem, CareTask
from service.models.cylinders import Cylinder, CylinderEntry, EntryKind, Holds
from service.models.ledger import Movement, MovementKind
from service.models.overnights import EndedBy, Overnight
from service.models.readings import Output, Reading, ReadingKind
from service.models.visits import FoundKind, Result, Settled, Visit, VisitPart, VisitPhoto

__all__ = [
    "CareDone",
    "CareItem",
    "CareTask",
    "Cylinder",
    "CylinderEntry",
    "EndedBy",
    "EntryKind",
    "FoundKind",
    "Holds",
    "Movement",
    "MovementKind",
    "Output",
    "Overnight",
    "Reading",
    "ReadingKind",
    "Result",
    "Settled",
    "Visit",
    "VisitPart",
    "VisitPhoto",
]
