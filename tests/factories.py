"""Sensible rows to start a test from: `UnitFactory(serial="K-7")` makes all that a unit needs."""

from datetime import UTC, date, datetime, time
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from fleetcool.models import Person, Role
from installs import models as installs
from reports import models as reports
from service import models as service


def vin(number: int) -> str:
    """A well-formed invented VIN with the check digit of 49 CFR 565.15."""
    values = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", map(int, "12345678123457923456789"), strict=True))
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    draft = f"1ZZTC0A00RA{number:06d}"
    total = sum(
        w * (int(c) if c.isdigit() else values[c]) for c, w in zip(draft, weights, strict=True)
    )
    return draft[:8] + "0123456789X"[total % 11] + draft[9:]


class PersonFactory(DjangoModelFactory):
    class Meta:
        model = Person
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    role = Role.OFFICE
    password = factory.django.Password("a-long-enough-secret")


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = installs.Customer

    code = factory.Sequence(lambda n: f"C{n}")
    name = factory.Sequence(lambda n: f"Fleet {n}")


class YardFactory(DjangoModelFactory):
    class Meta:
        model = installs.Yard

    customer = factory.SubFactory(CustomerFactory)
    name = "North yard"


class TechnicianFactory(DjangoModelFactory):
    class Meta:
        model = installs.Technician

    name = factory.Sequence(lambda n: f"Technician {n}")


class TractorFactory(DjangoModelFactory):
    class Meta:
        model = installs.Tractor

    vin = factory.Sequence(vin)
    customer = factory.SubFactory(CustomerFactory)
    truck_number = factory.Sequence(lambda n: f"{100 + n}")
    model_year = 2024


class BatteryBankFactory(DjangoModelFactory):
    class Meta:
        model = installs.BatteryBank

    tractor = factory.SubFactory(TractorFactory)
    battery_type = installs.BatteryType.AGM
    battery_count = 4
    battery_ah = 105
    installed_on = date(2024, 3, 1)


class BatteryRenewalFactory(DjangoModelFactory):
    class Meta:
        model = installs.BatteryRenewal

    bank = factory.SubFactory(BatteryBankFactory)
    at = datetime(2025, 3, 1, 12, tzinfo=UTC)
    renewed_count = 4
    entered_at = factory.SelfAttribute("at")


class UnitModelFactory(DjangoModelFactory):
    class Meta:
        model = installs.UnitModel

    # No name that a test gives a model of its own.
    name = factory.Sequence(lambda n: f"Model {n:03d}")
    refrigerant = "R-134a"
    charge_g = 520
    system_v = 12
    draw_low_a = 22
    draw_mid_a = 36
    draw_high_a = 58
    cutoff_v = 11.2


class UnitFactory(DjangoModelFactory):
    class Meta:
        model = installs.Unit

    serial = factory.Sequence(lambda n: f"S-{n:03d}")
    model = factory.SubFactory(UnitModelFactory)
    lot = "L1"
    made_on = date(2024, 1, 15)


class InstallFactory(DjangoModelFactory):
    class Meta:
        model = installs.Install

    unit = factory.SubFactory(UnitFactory)
    tractor = factory.SubFactory(TractorFactory)
    customer = factory.SelfAttribute("tractor.customer")
    installed_on = date(2024, 3, 4)
    entered_at = datetime(2024, 3, 4, 18, tzinfo=UTC)


class BayFactory(DjangoModelFactory):
    """A bay in a yard of the shop's own."""

    class Meta:
        model = installs.Bay

    yard = factory.SubFactory(YardFactory, customer=None, name="Shop yard")
    name = factory.Sequence(lambda n: f"Bay {n}")


class JobFactory(DjangoModelFactory):
    class Meta:
        model = installs.Job

    name = factory.Sequence(lambda n: f"Install {n}")
    minutes = 360
    puts_a_unit_in = True
    opens_the_circuit = True


class CertifiedFactory(TechnicianFactory):
    """A technician who may open a circuit, at work on weekdays from 8 to 17 in `yard`."""

    class Meta:
        skip_postgeneration_save = True

    certification_scheme = "US EPA section 609"
    certification_number = factory.Sequence(lambda n: f"T-{n}")

    @factory.post_generation
    def yard(self, create, yard, **kwargs):
        for weekday in range(5) if yard else ():
            installs.Shift.objects.create(
                technician=self, yard=yard, weekday=weekday, begins=time(8), ends=time(17)
            )


class BookingFactory(DjangoModelFactory):
    """An install booked for a Monday, 8 to 14 o'clock by the shop's clock (UTC-6)."""

    class Meta:
        model = installs.Booking

    bay = factory.SubFactory(BayFactory)
    technician = factory.SubFactory(CertifiedFactory)
    job = factory.SubFactory(JobFactory)
    tractor = factory.SubFactory(TractorFactory)
    customer = factory.SelfAttribute("tractor.customer")
    unit = factory.SubFactory(UnitFactory, yard=factory.SelfAttribute("..bay.yard"))
    unit_model = factory.SelfAttribute("unit.model")
    begins_at = datetime(2026, 11, 30, 14, tzinfo=UTC)
    ends_at = datetime(2026, 11, 30, 20, tzinfo=UTC)
    pass_through = installs.PassThrough.FLOOR
    mounting_side = installs.MountingSide.LEFT


class CommissioningFactory(DjangoModelFactory):
    class Meta:
        model = installs.Commissioning

    install = factory.SubFactory(InstallFactory)
    technician = factory.SubFactory(CertifiedFactory)
    began_at = datetime(2024, 3, 4, 15, tzinfo=UTC)


class StepRecordFactory(DjangoModelFactory):
    class Meta:
        model = installs.StepRecord

    commissioning = factory.SubFactory(CommissioningFactory)
    technician = factory.SelfAttribute("commissioning.technician")
    step = installs.InstallStep.MOUNTING
    measured = {"pads_fitted": True, "torqued": True, "firm": True}
    taken_at = factory.SelfAttribute("commissioning.began_at")


class EventFactory(DjangoModelFactory):
    """An event of a unit in the truck it is installed in; give `install` to choose it."""

    class Meta:
        abstract = True
        exclude = ["install"]

    install = factory.SubFactory(InstallFactory)
    unit = factory.SelfAttribute("install.unit")
    tractor = factory.SelfAttribute("install.tractor")
    customer = factory.SelfAttribute("install.customer")


class VisitFactory(EventFactory):
    class Meta:
        model = service.Visit

    at = datetime(2024, 6, 4, 15, tzinfo=UTC)
    entered_at = factory.SelfAttribute("at")


class ClaimFactory(DjangoModelFactory):
    """A draft on one hose, 2 × 40.00 USD, logged by a clerk of its own; give `visit` to choose it."""

    class Meta:
        model = service.Claim
        skip_postgeneration_save = True

    visit = factory.SubFactory(VisitFactory)
    unit = factory.SelfAttribute("visit.unit")
    customer = factory.SelfAttribute("visit.customer")
    install = factory.LazyAttribute(lambda claim: claim.unit.installs.current().first())
    currency = "USD"
    failed_on = date(2024, 6, 4)
    words = "The liquid hose weeps at its crimp."
    logged_by = factory.SubFactory(PersonFactory, role=Role.WARRANTY_CLERK)
    logged_at = datetime(2024, 6, 5, 15, tzinfo=UTC)

    @factory.post_generation
    def lines(self, create, lines, **kwargs):
        for line in lines or [{}]:
            told = {"kind": "part", "part_group": "hoses", "name": "liquid hose"}
            told |= {"quantity": Decimal(2), "unit_price": Decimal("40.00")}
            service.ClaimLine.objects.create(claim=self, entered_by=self.logged_by, **told | line)


class CampaignFactory(DjangoModelFactory):
    """An open campaign with no units in it yet."""

    class Meta:
        model = service.Campaign

    number = factory.Sequence(lambda n: f"B-{n}")
    title = "Fan bearings"
    words = "The fan's bearing can run dry. We put in another."
    until_done = "If it grinds, switch it off and call us."
    opened_at = datetime(2025, 3, 3, 15, tzinfo=UTC)
    opened_by = factory.SubFactory(PersonFactory)


class CampaignUnitFactory(DjangoModelFactory):
    class Meta:
        model = service.CampaignUnit

    campaign = factory.SubFactory(CampaignFactory)
    unit = factory.SubFactory(UnitFactory)


class ReadingFactory(EventFactory):
    class Meta:
        model = service.Reading

    taken_at = datetime(2024, 6, 4, 15, tzinfo=UTC)
    entered_at = factory.SelfAttribute("taken_at")
    kind = service.ReadingKind.VISIT
    output = service.Output.HIGH
    ambient_c = 30.0
    return_air_c = 25.0
    suction_kpa = 310.0
    discharge_kpa = 1130.0
    rest_v = 12.7
    rest_h = 8
    battery_c = 22
    load_v = 12.5
    load_a = 36
    gauge = "G1"


class OvernightFactory(EventFactory):
    class Meta:
        model = service.Overnight

    began_at = datetime(2024, 6, 5, 3, tzinfo=UTC)
    entered_at = factory.SelfAttribute("began_at")
    run_h = 9.0
    drawn_ah = 200.0
    start_v = 12.7
    end_v = 12.0
    ended_by = service.EndedBy.SWITCH
    ambient_c = 24


class CylinderFactory(DjangoModelFactory):
    class Meta:
        model = service.Cylinder

    code = factory.Sequence(lambda n: f"CYL-{n}")
    refrigerant = "R-134a"


class MovementFactory(EventFactory):
    class Meta:
        model = service.Movement

    at = datetime(2024, 3, 4, 14, tzinfo=UTC)
    entered_at = factory.SelfAttribute("at")
    movement = service.MovementKind.CHARGED
    mass_g = 520
    cylinder = factory.SubFactory(CylinderFactory)


class ScreenRunFactory(DjangoModelFactory):
    class Meta:
        model = reports.ScreenRun

    as_of = date(2025, 9, 1)
    started_at = datetime(2025, 9, 1, 12, tzinfo=UTC)
    finished_at = datetime(2025, 9, 1, 12, 1, tzinfo=UTC)
    units_screened = 60
    units_undecided = 3
    expected_false = 0.2


class ConcernFactory(DjangoModelFactory):
    class Meta:
        model = reports.Concern
        exclude = ["install"]

    install = factory.SubFactory(InstallFactory)
    unit = factory.SelfAttribute("install.unit")
    customer = factory.SelfAttribute("install.customer")
    cause = reports.Cause.REFRIGERANT_LEAK
    first_said_on = date(2025, 8, 1)
    last_said_on = date(2025, 9, 1)
    since = date(2025, 2, 1)


class AskFactory(DjangoModelFactory):
    """A measurement that would settle a leak; give `cause=""` and no numbers for too few readings."""

    class Meta:
        model = reports.Ask
        exclude = ["install"]

    run = factory.SubFactory(ScreenRunFactory)
    install = factory.SubFactory(InstallFactory)
    unit = factory.SelfAttribute("install.unit")
    tractor = factory.SelfAttribute("install.tractor")
    customer = factory.SelfAttribute("install.customer")
    measure = reports.Measure.PIPE_TEMPERATURES
    by = date(2026, 1, 15)
    bits = 0.7
    doubt_bits = 1.1
    cause = reports.Cause.REFRIGERANT_LEAK
    probability = 0.35


class FindingFactory(DjangoModelFactory):
    class Meta:
        model = reports.Finding
        exclude = ["install"]

    run = factory.SubFactory(ScreenRunFactory)
    install = factory.SubFactory(InstallFactory)
    unit = factory.SelfAttribute("install.unit")
    tractor = factory.SelfAttribute("install.tractor")
    customer = factory.SelfAttribute("install.customer")
    cause = reports.Cause.REFRIGERANT_LEAK
    probability = 0.97
    since = date(2025, 2, 1)
    evidence = [
        {
            "feature": "condensing_lift_k",
            "baseline": 18.2,
            "now": 12.9,
            "slope_per_year": -6.1,
            "n": 7,
        },
        {
            "feature": "evaporating_depression_k",
            "baseline": 17.0,
            "now": 23.5,
            "slope_per_year": 7.4,
            "n": 7,
        },
    ]
    forecast_event = reports.ForecastEvent.CHARGE
    forecast_on = date(2025, 11, 20)
    forecast_low = date(2025, 10, 2)
    forecast_high = date(2026, 2, 1)
