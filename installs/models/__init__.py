from installs.models.bookings import (
    Bay,
    Booking,
    BookingState,
    CalendarFeed,
    Job,
    MountingSide,
    PassThrough,
)
from installs.models.certificates import Certificate
from installs.models.commissioning import (
    Commissioning,
    InstallStep,
    Override,
    Photo,
    StepRecord,
)
from installs.models.customers import Customer, Yard
from installs.models.fit import FitCheck, FitVerdict
from installs.models.installs import Install
from installs.models.stock import StockMove, StockMoveKind
from installs.models.technicians import Credential, DayOff, Shift, Skill, Technician, Weekday
from installs.models.terms import (
    CountsFrom,
    Cover,
    PartGroup,
    ReplacedPart,
    Terms,
    TermsVoid,
    VoidCode,
)
from installs.models.tractors import (
    BatteryBank,
    BatteryRenewal,
    BatteryType,
    SystemVolts,
    Tractor,
    VinKind,
)
from installs.models.units import (
    Expansion,
    LeftStock,
    SheetLine,
    SheetPart,
    Unit,
    UnitModel,
)

__all__ = [
    "BatteryBank",
    "BatteryRenewal",
    "BatteryType",
    "Bay",
    "Booking",
    "BookingState",
    "CalendarFeed",
    "Certificate",
    "Commissioning",
    "CountsFrom",
    "Cover",
    "Credential",
    "Customer",
    "DayOff",
    "Expansion",
    "FitCheck",
    "FitVerdict",
    "Install",
    "InstallStep",
    "Job",
    "LeftStock",
    "MountingSide",
    "Override",
    "PartGroup",
    "PassThrough",
    "Photo",
    "ReplacedPart",
    "SheetLine",
    "SheetPart",
    "Shift",
    "Skill",
    "StepRecord",
    "StockMove",
    "StockMoveKind",
    "SystemVolts",
    "Technician",
    "Terms",
    "TermsVoid",
    "Tractor",
    "Unit",
    "UnitModel",
    "VinKind",
    "VoidCode",
    "Weekday",
    "Yard",
]
