"""`manage.py replay`: what the screen would have said, and that `screen` said the same."""

import json
from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fixtures.simulator.fleet import simulate
from fixtures.simulator.write import write_fleet
from installs.models import Install
from installs.records.loader import load_book
from reports.acts import replay_fleet
from reports.models import Finding, ScreenRun
from reports.replay import look_days
from service.models import Reading

DAYS = [date(2026, 3, 15), date(2026, 7, 15), date(2026, 11, 15)]


def said(command: str, *words: str) -> list[dict]:
    out = StringIO()
    call_command(command, *words, "--format", "json", stdout=out)
    return json.loads(out.getvalue())


def replayed(*words: str) -> list[dict]:
    return said("replay", "--from", "2026-03-15", "--to", "2026-11-15", *words)


@pytest.fixture
def shop(db, tmp_path):
    """A book of sixty units, with late entries, moves and renewals in it, loaded as any other."""
    write_fleet(simulate(units=60, years=1.8, seed=5, pipe_temperatures=1.0), tmp_path / "book")
    load_book(tmp_path / "book")


def test_looks_a_month_apart_end_with_short_months():
    days = look_days(date(2026, 1, 31), date(2026, 4, 30), "month")
    assert days == [date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31), date(2026, 4, 30)]


@pytest.mark.parametrize(("every", "looks"), [("week", 53), ("month", 13), ("quarter", 5)])
def test_a_year_has_so_many_looks(every, looks):
    assert len(look_days(date(2025, 6, 1), date(2026, 6, 1), every)) == looks


def test_replay_says_what_screen_said_on_the_day(shop):
    found = [one for day in DAYS for one in said("screen", "--as-of", day.isoformat())]
    again = [one for one in replayed() if one["as_of"] in {day.isoformat() for day in DAYS}]
    assert found
    assert again == found


def test_replay_stores_nothing(shop):
    assert replayed("--every", "quarter")
    assert not ScreenRun.objects.exists()
    assert not Finding.objects.exists()


def test_two_processes_say_what_one_says(shop):
    one, two = (
        [[finding.as_dict() for finding in found] for _run, found in replay_fleet(DAYS, processes)]
        for processes in (1, 2)
    )
    assert two == one


def test_what_was_written_down_later_was_not_known(shop):
    Reading.objects.filter(taken_at__gte=datetime(2025, 6, 1, tzinfo=UTC)).update(
        entered_at=datetime(2026, 11, 1, tzinfo=UTC)
    )
    as_of = {one["as_of"] for one in replayed()}
    assert as_of == {"2026-11-15"}


def test_a_removal_to_come_leaves_a_finding_where_it_was(shop):
    found = replayed("--every", "quarter")
    last_before = max(one["as_of"] for one in found if one["as_of"] < "2026-11-15")
    removed_on = date.fromisoformat(last_before) + timedelta(days=1)
    Install.objects.filter(removed_on=None).update(removed_on=removed_on)
    again = replayed("--every", "quarter")
    assert [one for one in again if one["as_of"] <= last_before] == [
        one for one in found if one["as_of"] <= last_before
    ]
    assert [one["cause"] for one in again if one["as_of"] > last_before and one["serial"]] == []


def test_the_table_has_a_line_a_look(shop):
    out = StringIO()
    call_command("replay", "--from", "2026-09-15", "--to", "2026-11-15", stdout=out)
    assert [line.split()[0] for line in out.getvalue().splitlines()[1:]] == [
        "2026-09-15",
        "2026-10-15",
        "2026-11-15",
    ]


@pytest.mark.parametrize("words", [("2026-05-01", "2026-04-01"), ("01/05/2026", "2026-06-01")])
def test_days_that_cannot_be_are_refused(words):
    with pytest.raises(CommandError):
        call_command("replay", "--from", words[0], "--to", words[1])
