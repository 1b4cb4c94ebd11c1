"""A shop in which a truck can be booked in: one bay, one technician, one job, some stock."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from installs.bookings import book, find_slots, slot_of
from tests.factories import (
    BayFactory,
    CertifiedFactory,
    JobFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
)

# A Monday; the shop's clock is UTC-6 then. 26 November 2026 is a public holiday (5 USC 6103).
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


def at(day: int, hour: int, minute: int = 0, month: int = 12) -> datetime:
    """A moment by the shop's clock in the winter of 2026."""
    return datetime(2026, month, day, hour + 6, minute, tzinfo=UTC)


class Shop:
    """A yard with one bay, one technician, one job and stock of one model."""

    def __init__(self, units: int = 2, tractor=None) -> None:
        self.bay = BayFactory(name="Bay 1")
        self.yard = self.bay.yard
        self.ann = CertifiedFactory(name="Ann", yard=self.yard)
        self.job = JobFactory(name="Install", minutes=360)
        self.model = UnitModelFactory(name="Cab-12")
        self.units = [
            UnitFactory(serial=f"U-{n}", model=self.model, yard=self.yard, made_on=date(2026, 9, n))
            for n in range(units, 0, -1)
        ]
        self.tractor = tractor or TractorFactory()

    def find(self, **kwargs):
        asked = {
            "job": self.job,
            "yard": self.yard,
            "tractor": self.tractor,
            "unit_model": self.model,
            "from_": NOW,
        }
        return find_slots(**{**asked, **kwargs})

    def slot(self, begins_at=None, bay=None, technician=None):
        begins_at = begins_at or at(1, 8)
        return slot_of(self.job, begins_at, bay or self.bay, technician or self.ann)

    def book(self, slot=None, **kwargs):
        asked = {"by": None, "now": NOW, "unit_model": self.model, "tractor": self.tractor}
        asked |= kwargs
        return book(self.job, slot=slot or self.slot(), **asked)


def refusal(*args, field: str, **kwargs) -> str:
    act, *args = args
    with pytest.raises(ValidationError) as refused:
        act(*args, **kwargs)
    return " ".join(refused.value.message_dict[field])
