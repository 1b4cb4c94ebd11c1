"""Trucks to visit next: what was found, what is booked, and what to measure, by their days."""

from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.formats import date_format

from installs.models import Yard
from reports.asking_words import ask_text, when_text
from reports.models import Ask, Cause, Measure
from tests.factories import (
    AskFactory,
    ConcernFactory,
    FindingFactory,
    InstallFactory,
    ReadingFactory,
    ScreenRunFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)

URL = "/visits/next/"
LONG_AGO = datetime(2025, 9, 1, 15, tzinfo=UTC)


def on(days: int) -> date:
    """So many days from today."""
    return timezone.localdate() + timedelta(days=days)


@pytest.fixture
def run(db):
    return ScreenRunFactory()


@pytest.fixture
def ours(frida):
    return frida.customers.get()


def install_in(customer, truck: str, **changes):
    return InstallFactory(tractor=TractorFactory(customer=customer, truck_number=truck), **changes)


def found(run, customer, truck: str, **changes):
    """A finding on a truck, with its concern."""
    install = install_in(customer, truck)
    return FindingFactory(
        run=run, install=install, concern=ConcernFactory(install=install), **changes
    )


def asked(run, customer, truck: str, **changes):
    return AskFactory(run=run, install=install_in(customer, truck), **changes)


def stops(client, person, **asked_for) -> list:
    client.force_login(person)
    return list(client.get(URL, asked_for).context["page"].object_list)


def trucks(client, person, **asked_for) -> list[str]:
    return [stop.tractor.truck_number for stop in stops(client, person, **asked_for)]


def words_of(client, person) -> str:
    client.force_login(person)
    return client.get(URL).content.decode().replace("\xa0", " ")


def test_trucks_stand_in_the_order_of_their_days(client, frida, olga, run, ours):
    asked(run, ours, "LATER", by=on(180))
    booked = found(run, ours, "BOOKED")
    booked.concern.book(olga, on(31), at=timezone.now())
    found(run, ours, "FOUND")
    asked(run, ours, "SOON", by=on(18))
    asked(run, ours, "NOW", by=on(-1))
    assert trucks(client, frida) == ["FOUND", "NOW", "SOON", "BOOKED", "LATER"]


def test_of_one_day_the_worst_finding_and_the_most_telling_measure_come_first(
    client, frida, run, ours
):
    asked(run, ours, "TELLS LESS", bits=0.3)
    asked(run, ours, "TELLS MORE", bits=0.9)
    found(run, ours, "FAR", forecast_on=date(2026, 1, 15))
    found(run, ours, "NEAR", forecast_on=date(2025, 10, 15))
    assert trucks(client, frida) == ["NEAR", "FAR", "TELLS MORE", "TELLS LESS"]


def test_what_is_put_off_or_settled_is_left_out(client, frida, tomas, run, ours):
    found(run, ours, "PUT OFF").concern.put_off(frida, "Busy", on(7), at=timezone.now())
    mended = found(run, ours, "MENDED").concern
    mended.found(tomas, mended.cause, on(0), mended=True, at=timezone.now())
    assert trucks(client, frida) == []
    assert "No truck is to be visited for this" in words_of(client, frida)


def test_all_there_is_to_do_at_a_truck_stands_together(client, frida, run, ours):
    finding = found(run, ours, "T-1")
    ask = AskFactory(
        run=run,
        install=finding.unit.installs.get(),
        measure=Measure.NIGHTS,
        cause=Cause.BATTERY_WEAR,
        by=on(90),
    )
    [stop] = stops(client, frida)
    assert [(due.finding, due.ask) for due in stop.due] == [(finding, None), (None, ask)]


def test_each_thing_says_what_to_measure_by_when_why_how_and_what_can_hurt(
    client, frida, run, ours
):
    unit = UnitFactory(model=UnitModelFactory(refrigerant="R-290"))
    by = on(60)
    AskFactory(run=run, install=install_in(ours, "T-1", unit=unit), by=by)
    page = words_of(client, frida)
    assert date_format(by, "F Y") in page
    assert (
        f"A refrigerant leak is 35 % likely; gauges and pipe temperatures in {date_format(by, 'F')} "
        "would settle most of it." in page
    )
    assert "Clamp a thermometer on the suction line" in page
    assert "R-290 burns" in page
    assert "goggles and gloves" in page


def test_a_weighed_charge_is_for_certified_people(client, frida, run, ours):
    asked(run, ours, "T-1", measure=Measure.WEIGHED_CHARGE)
    assert "Only people certified for it, by the local code, recover" in words_of(client, frida)


def test_a_booked_day_that_has_passed_asks_what_was_found(client, frida, olga, run, ours):
    concern = found(run, ours, "T-1").concern
    concern.book(olga, date(2025, 9, 2), at=LONG_AGO)
    assert "was booked for 2 September 2025" in words_of(client, frida)


@pytest.mark.parametrize(
    ("bits", "words"),
    [(0.9, "settle most of it"), (0.4, "a good part of it"), (0.15, "a little of it")],
)
def test_the_sentence_says_how_much_would_be_settled(bits, words):
    ask = Ask(
        measure=Measure.GAUGES,
        by=on(0),
        bits=bits,
        doubt_bits=1.0,
        cause=Cause.RESTRICTION,
        probability=0.2,
    )
    text = ask_text(ask, on(0)).replace("\xa0", " ")
    assert text.startswith(
        "A restriction in the circuit is 20 % likely; both gauges read again now"
    )
    assert words in text


@pytest.mark.parametrize(
    ("by", "when"),
    [
        (date(2026, 1, 5), "now"),
        (date(2026, 3, 5), "in March"),
        (date(2027, 3, 5), "in March 2027"),
    ],
)
def test_a_month_needs_its_year_only_when_it_is_far(by, when):
    assert when_text(Ask(by=by), date(2026, 1, 5)) == when


def test_too_few_readings_ask_for_readings(client, frida, run, ours):
    asked(run, ours, "T-1", cause="", bits=None, doubt_bits=None, probability=None)
    assert "Not enough readings to say anything yet" in words_of(client, frida)


def test_trucks_narrow_by_customer_yard_and_words(client, olga, frida, frank, run, ours):
    theirs = frank.customers.get()
    north = YardFactory(customer=ours, name="North")
    asked(run, theirs, "THEIRS")
    ask = asked(run, ours, "NORTHERN")
    ask.tractor.yard = north
    ask.tractor.save()
    found(run, ours, "ROAMING")
    assert set(trucks(client, olga)) == {"THEIRS", "NORTHERN", "ROAMING"}
    assert trucks(client, olga, customer=theirs.pk) == ["THEIRS"]
    assert trucks(client, olga, yard=north.pk) == ["NORTHERN"]
    assert trucks(client, olga, q="roam") == ["ROAMING"]


def test_a_manager_sees_and_chooses_from_their_own_only(client, frida, frank, run, ours):
    YardFactory(customer=frank.customers.get(), name="Frank's yard")
    asked(run, frank.customers.get(), "THEIRS")
    asked(run, ours, "OURS")
    assert trucks(client, frida) == ["OURS"]
    assert "Frank&#x27;s yard" not in words_of(client, frida)
    other = Yard.objects.get(name="Frank's yard")
    assert trucks(client, frida, yard=other.pk) == ["OURS"]


def test_many_trucks_come_in_pages(client, frida, run, ours):
    for number in range(30):
        asked(run, ours, f"T-{number}")
    assert len(trucks(client, frida)) == 25
    assert len(trucks(client, frida, page=2)) == 5


def test_before_the_first_screening_the_page_says_so(client, frida):
    assert "has not been screened yet" in words_of(client, frida)


# What is kept, and what the database refuses.


def test_a_screening_keeps_what_it_asks_and_says_it_in_one_line(ours):
    install = install_in(ours, "T-1")
    ReadingFactory(install=install)
    out = StringIO()
    call_command("screen", "--as-of", "2025-09-01", stdout=out)
    ask = Ask.objects.get()
    assert (ask.unit, ask.customer, ask.by) == (install.unit, ours, date(2025, 9, 1))
    assert (ask.cause, ask.bits) == ("", None)
    assert (
        "1 unit is undecided; asked for most: Gauges and pipe temperatures (1)." in out.getvalue()
    )


@pytest.mark.parametrize(
    "wrong",
    [
        {"bits": None},
        {"probability": None},
        {"bits": 1.2, "doubt_bits": 1.1},
        {"bits": -0.1},
        {"cause": ""},
        {"measure": "guess"},
    ],
)
def test_an_ask_has_all_its_numbers_or_none(run, ours, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        asked(run, ours, "T-1", **wrong)
