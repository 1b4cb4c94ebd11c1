"""Which trucks to visit next, what to do there and what to measure."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from reports.models import Ask, Cause, Measure
from tests.factories import FindingFactory, InstallFactory, ScreenRunFactory

URL = reverse("next_visits")


@pytest.fixture
def run(db):
    return ScreenRunFactory(as_of=date(2025, 9, 1))


def ask(run, install, *, days=30, measure=Measure.PIPE_TEMPERATURES) -> Ask:
    return Ask.objects.create(
        run=run,
        unit=install.unit,
        tractor=install.tractor,
        customer=install.customer,
        measure=measure,
        by=timezone.localdate() + timedelta(days=days),
        bits=0.5,
        doubt_bits=0.9,
        cause=Cause.REFRIGERANT_LEAK,
        probability=0.35,
    )


def page(client, person) -> str:
    client.force_login(person)
    return client.get(URL).content.decode()


def test_an_unsettled_unit_is_listed_with_what_to_measure_why_and_the_caution(client, run, olga):
    install = InstallFactory()
    ask(run, install)
    text = page(client, olga)
    assert install.tractor.truck_number in text
    assert "Gauges and pipe temperatures" in text
    assert "35" in text and str(Measure.PIPE_TEMPERATURES.caution)[:40] in text


def test_what_is_due_now_comes_before_what_is_due_later(client, run, olga):
    later, now = InstallFactory(), InstallFactory()
    ask(run, later, days=60)
    FindingFactory(run=run, install=now)
    text = page(client, olga)
    assert text.index(now.unit.serial) < text.index(later.unit.serial)


def test_a_fleet_manager_is_asked_of_their_own_trucks_alone(client, run, frida, frank):
    own = InstallFactory(customer=frida.customers.get())
    strangers = InstallFactory(customer=frank.customers.get())
    ask(run, own)
    ask(run, strangers)
    text = page(client, frida)
    assert own.unit.serial in text and strangers.unit.serial not in text


def test_an_older_screening_asks_no_more(client, run, olga):
    install = InstallFactory()
    ask(run, install)
    ScreenRunFactory(as_of=date(2025, 10, 1))
    assert install.unit.serial not in page(client, olga)


def test_the_unit_says_what_to_measure_of_it(client, run, olga):
    install = InstallFactory()
    ask(run, install)
    client.force_login(olga)
    text = client.get(reverse("unit", args=[install.unit.serial])).content.decode()
    assert "Gauges and pipe temperatures" in text


def test_the_number_of_queries_does_not_grow_with_the_list(client, run, olga):
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            page(client, olga)
        return len(seen)

    def more():
        for _ in range(3):
            install = InstallFactory()
            ask(run, install)
            FindingFactory(run=run, install=install)

    more()
    page(client, olga)
    few = queries()
    more()
    assert queries() == few
