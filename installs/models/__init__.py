from installs.models.customers import Customer, Yard
from installs.models.installs import Install
from installs.models.technicians import Technician
from installs.models.terms import Cover, PartGroup, Terms
from installs.models.tractors import (
    BatteryBank,
    BatteryRenewal,
    BatteryType,
    SystemVolts,
    Tractor,
    VinKind,
)
from installs.models.units import Expansion, Unit, UnitModel

__all__ = [
    "BatteryBank",
    "BatteryRenewal",
    "BatteryType",
    "Cover",
    "Customer",
    "Expansion",
    "Install",
    "PartGroup",
    "SystemVolts",
    "Technician",
    "Terms",
    "Tractor",
    "Unit",
    "UnitModel",
    "VinKind",
    "Yard",
]
