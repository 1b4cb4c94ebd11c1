"""One phone that sends a visit many times at once, and people who log the same unit at once."""

import uuid

from service.models import Visit
from service.visiting import Told, log_visit
from tests.factories import InstallFactory
from tests.service.at_once import CLIENTS, at_once
from tests.service.refrigerant import by

FOUND = Told(words={"found": "x"}, reading={"ambient_c": 30.0, "output": "", "gauge": ""})


def test_twenty_sendings_at_once_make_one_visit(threads):
    unit, hand, sent_id = InstallFactory().unit, by(), uuid.uuid4()
    answered = at_once(lambda number: log_visit(unit, FOUND, hand, sent_id, None))
    assert answered == CLIENTS
    assert Visit.objects.count() == 1


def test_twenty_visits_to_one_unit_at_once_all_stand(threads):
    unit, hand = InstallFactory().unit, by()
    logged = at_once(lambda number: log_visit(unit, FOUND, hand, uuid.uuid4(), None))
    assert logged == CLIENTS == Visit.objects.count()
