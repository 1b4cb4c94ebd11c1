"""The columns of the fleet workbook: what each is called, what kind of value it holds, how wide.

A kind of quantity (see `fleetcool.quantities`) puts the person's unit into the header. `prose` is
text that wraps; `share` is a number from 0 to 1 shown in per cent. `decimals` are those of a
quantity, where not those that the trade reads it with.
"""

from typing import NamedTuple

from django.utils.translation import gettext_lazy as _

__all__ = [
    "REFRIGERANT",
    "THIS_WEEK",
    "TO_MEASURE",
    "TRUCKS",
    "UNITS",
    "VISITS",
    "Column",
]


class Column(NamedTuple):
    name: str
    kind: str = "text"
    width: int = 14
    decimals: int | None = None


CUSTOMER = Column(_("Customer"), width=26)
TRUCK = Column(_("Truck number"), width=10)
VIN = Column(_("VIN"), width=20)
SERIAL = Column(_("Unit serial"), width=12)
OPEN_FINDINGS = Column(_("Open findings"), "count", 10)

THIS_WEEK = (
    CUSTOMER._replace(kind="prose", width=18),
    TRUCK,
    VIN,
    SERIAL._replace(kind="prose"),
    Column(_("Gauge"), width=8),
    Column(_("Cause"), "prose", 14),
    Column(_("Probability, %"), "share", 13),
    Column(_("State"), "prose", 14),
    Column(_("Since"), "date", 11),
    Column(_("Why"), "prose", 38),
    Column(_("What to do"), "prose", 32),
    Column(_("Caution"), "prose", 32),
    Column(_("Forecast"), "prose", 14),
    Column(_("Forecast day"), "date", 11),
    Column(_("Earliest day"), "date", 11),
    Column(_("Latest day"), "date", 11),
)
TO_MEASURE = (
    CUSTOMER._replace(kind="prose", width=18),
    TRUCK,
    VIN,
    SERIAL,
    Column(_("Yard"), "prose", 14),
    Column(_("By"), "date", 11),
    Column(_("What to measure"), "prose", 18),
    Column(_("Why"), "prose", 34),
    Column(_("How"), "prose", 38),
    Column(_("Caution"), "prose", 32),
    Column(_("Likeliest cause"), "prose", 14),
    Column(_("Probability, %"), "share", 13),
)
TRUCKS = (
    CUSTOMER,
    TRUCK,
    VIN,
    Column(_("Model year"), "year", 8),
    Column(_("System, V"), "count", 9),
    Column(_("Battery type"), width=25),
    Column(_("Batteries"), "count", 10),
    Column(_("One battery at 20 h"), "ah", 13),
    Column(_("Batteries installed on"), "date", 13),
    Column(_("Last renewal"), "moment", 17),
    Column(_("Unit in it now"), width=16),
    Column(_("Last visit"), "moment", 17),
    OPEN_FINDINGS,
)
UNITS = (
    SERIAL,
    Column(_("Model"), width=14),
    Column(_("Refrigerant"), width=12),
    Column(_("Nameplate charge"), "mass", 12),
    Column(_("Lot"), width=10),
    Column(_("Made on"), "date", 11),
    Column(_("Customer now"), width=26),
    Column(_("Truck now"), width=12),
    Column(_("VIN"), width=20),
    Column(_("Installed on"), "date", 11),
    Column(_("Added in service"), "mass", 12),
    Column(_("Last reading"), "moment", 17),
    OPEN_FINDINGS,
)
VISITS = (
    Column(_("Taken at"), "moment", 17),
    CUSTOMER,
    TRUCK,
    SERIAL,
    Column(_("Kind"), width=15),
    Column(_("Output (empty: standing)"), width=12),
    Column(_("Ambient"), "temperature", 10),
    Column(_("Return air"), "temperature", 10),
    Column(_("Supply air"), "temperature", 10),
    Column(_("Suction, gauge"), "pressure", 10),
    Column(_("Discharge, gauge"), "pressure", 11),
    Column(_("Suction line"), "temperature", 10),
    Column(_("Liquid line"), "temperature", 10),
    Column(_("Rest voltage"), "volts", 10),
    Column(_("Rested"), "hours", 9),
    Column(_("Battery"), "temperature", 10),
    Column(_("Voltage under load"), "volts", 11),
    Column(_("Load"), "amps", 9),
    Column(_("Gauge set"), width=11),
    Column(_("Complaint"), "prose", 22),
    Column(_("Found"), "prose", 22),
    Column(_("Done"), "prose", 22),
)
REFRIGERANT = (
    Column(_("Moved at"), "moment", 17),
    CUSTOMER,
    TRUCK,
    SERIAL,
    Column(_("Refrigerant"), width=12),
    Column(_("Movement"), width=20),
    Column(_("Into the unit"), "mass", 13),
    Column(_("Out of the unit"), "mass", 13),
)
