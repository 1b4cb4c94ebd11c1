from service.claim_states import Age, ClaimState, ClaimStepKind, LineKind
from service.models.campaigns import Campaign, CampaignState, CampaignUnit
from service.models.care import CareDone, CareItem, CareTask
from service.models.claims import Claim, ClaimLine, ClaimStep
from service.models.cylinders import Cylinder, CylinderEntry, EntryKind, Holds
from service.models.ledger import Movement, MovementKind
from service.models.overnights import EndedBy, Overnight
from service.models.readings import Output, Reading, ReadingKind
from service.models.recoveries import Recovery, Supplier
from service.models.visits import FoundKind, Result, Settled, Visit, VisitPart, VisitPhoto

__all__ = [
    "Age",
    "Campaign",
    "CampaignState",
    "CampaignUnit",
    "Claim",
    "ClaimLine",
    "ClaimState",
    "ClaimStep",
    "ClaimStepKind",
    "CareDone",
    "CareItem",
    "CareTask",
    "Cylinder",
    "CylinderEntry",
    "EndedBy",
    "EntryKind",
    "FoundKind",
    "Holds",
    "LineKind",
    "Movement",
    "MovementKind",
    "Output",
    "Overnight",
    "Reading",
    "ReadingKind",
    "Recovery",
    "Result",
    "Settled",
    "Supplier",
    "Visit",
    "VisitPart",
    "VisitPhoto",
]
