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
