"""A small but whole fleet: one of everything that belongs to a customer."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from installs import models as installs
from installs.certificates import says_of
from installs.proving import proofs_by_step
from reports.models import Finding
from service.models import Campaign, Claim, Cylinder, Visit
from tests.factories import (
    AskFactory,
    BatteryBankFactory,
    BatteryRenewalFactory,
    BookingFactory,
    CampaignUnitFactory,
    ClaimFactory,
    CommissioningFactory,
    ConcernFactory,
    FindingFactory,
    InstallFactory,
    MovementFactory,
    OvernightFactory,
    ReadingFactory,
    StepRecordFactory,
    TractorFactory,
    UnitFactory,
    VisitFactory,
    YardFactory,
)
from tests.installs.proved import MEASURED

COMMISSIONED = datetime(2024, 3, 4, 15, tzinfo=UTC)


@dataclass(frozen=True)
class Fleet:
    """One truck of a customer with the unit in it and all that happened to both."""

    customer: installs.Customer
    tractor: installs.Tractor
    unit: installs.Unit
    install: installs.Install
    finding: Finding
    booking: installs.Booking
    commissioning: installs.Commissioning
    certificate: installs.Certificate
    cylinder: Cylinder
    claim: Claim
    campaign: Campaign

    @property
    def visit(self) -> Visit:
        return Visit.objects.get(unit=self.unit)

    @property
    def names(self) -> tuple[str, ...]:
        """The words that tell whose it is: no stranger's page or file may hold one of them."""
        tractor = self.tractor
        return self.customer.name, tractor.vin, tractor.truck_number, self.unit.serial


def fleet_of(customer, run, *, truck: str, serial: str, visits: int = 5) -> Fleet:
    """Make a truck with a unit that leaks, seen at some visits, and a finding and an ask of `run`."""
    yard = YardFactory(customer=customer, name=f"Yard of {truck}")
    tractor = TractorFactory(customer=customer, truck_number=truck, yard=yard)
    bank = BatteryBankFactory(tractor=tractor)
    BatteryRenewalFactory(bank=bank)
    unit = UnitFactory(serial=serial, model=_model())
    install = InstallFactory(unit=unit, tractor=tractor, installed_on=date(2024, 3, 4))
    movement = MovementFactory(install=install)
    visit = VisitFactory(install=install, complaint=f"{serial} cools badly")
    claim = ClaimFactory(visit=visit, words=f"{serial} weeps at the liquid hose")
    OvernightFactory(install=install)
    for number in range(visits):
        ReadingFactory(
            install=install,
            taken_at=COMMISSIONED + timedelta(days=75 * number),
            kind="visit" if number else "commissioning",
            discharge_kpa=1130 - 30 * number,
            suction_kpa=310 - 12 * number,
        )
    AskFactory(install=install, run=run, measure="nights", cause="battery_wear")
    finding = FindingFactory(install=install, run=run, concern=ConcernFactory(install=install))
    booking = BookingFactory(tractor=tractor, unit=None, unit_model=unit.model)
    commissioning = CommissioningFactory(install=install, began_at=COMMISSIONED)
    for step, measured in MEASURED.items():
        StepRecordFactory(commissioning=commissioning, step=step, measured=measured)
    technician = commissioning.technician
    certificate = installs.Certificate.objects.create(
        commissioning=commissioning,
        issued_at=COMMISSIONED,
        technician=technician,
        says=says_of(commissioning, proofs_by_step(commissioning), technician),
        received_by=f"Driver of {truck}",
    )
    return Fleet(
        customer=customer,
        tractor=tractor,
        unit=unit,
        install=install,
        finding=finding,
        booking=booking,
        commissioning=commissioning,
        certificate=certificate,
        cylinder=movement.cylinder,
        claim=claim,
        campaign=CampaignUnitFactory(unit=unit).campaign,
    )


def _model() -> installs.UnitModel:
    """The one model that every fleet runs: a model's name is no one's secret."""
    return installs.UnitModel.objects.get_or_create(
        name="K5-12",
        defaults={
            "refrigerant": "R-290",
            "charge_g": 320,
            "system_v": 12,
            "draw_low_a": 22,
            "cutoff_v": 11.2,
            "expansion": "valve",
        },
    )[0]
