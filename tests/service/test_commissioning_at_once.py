"""Twenty phones at once: a commissioning is begun once, and a form that is sent twice written once."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from installs.models import Commissioning, Install, StepRecord
from service.commissioned import begin, finish, save_step
from service.models import Movement
from tests.factories import BookingFactory, PersonFactory
from tests.installs.proved import MEASURED, proved_commissioning
from tests.service.at_once import CLIENTS, at_once

pytestmark = pytest.mark.usefixtures("threads")
NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)


def test_twenty_who_begin_a_booking_begin_it_once():
    booking, person = BookingFactory(), PersonFactory(role="technician")
    assert at_once(lambda number: begin(booking, person, NOON)) == CLIENTS
    assert Commissioning.objects.count() == Install.objects.count() == 1


def test_a_form_that_arrives_twenty_times_is_written_once():
    commissioning, sent = proved_commissioning(), uuid4()
    before = StepRecord.objects.count()

    def send(number):
        signer, measured = commissioning.technician, MEASURED["charge"]
        save_step(commissioning, "charge", measured, signer, sent, NOON)

    assert at_once(send) == CLIENTS
    assert StepRecord.objects.count() == before + 1
    assert Movement.objects.count() == 1


def test_twenty_who_weigh_again_correct_one_movement():
    commissioning = proved_commissioning()

    def weigh(number):
        measured = {"charge_g": 540 + number, "cylinder": "CYL-9"}
        save_step(commissioning, "charge", measured, commissioning.technician, uuid4(), NOON)

    assert at_once(weigh) == CLIENTS
    assert Movement.objects.count() == 1


def test_twenty_who_hand_over_give_one_certificate():
    commissioning = proved_commissioning()
    signer = commissioning.technician
    given = at_once(lambda number: finish(commissioning, signer, "Dana Driver", [], NOON))
    assert given == CLIENTS
    assert Commissioning.objects.filter(certificate__isnull=False).count() == 1
