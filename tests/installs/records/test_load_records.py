"""`manage.py load_records`: what it prints, how it ends, and what a crash leaves."""

import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from installs.models import Unit
from service.models import Reading
from tests.books import a_fleet, a_reading, write_folder

ROOT = Path(__file__).resolve().parents[3]


def run(path, *words):
    out, err = StringIO(), StringIO()
    call_command("load_records", path, *words, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


@pytest.fixture
def book(tmp_path):
    bad = a_reading(taken_at="2024-06-05T09:30", suction_psi="45 psi")
    return write_folder(tmp_path / "book", a_fleet() | {"readings": [a_reading(), bad]})


@pytest.mark.django_db
def test_json_is_the_account_and_nothing_else(book):
    out, err = run(book, "--format", "json")
    assert json.loads(out)["readings"] == {
        "read": 2,
        "new": 1,
        "unchanged": 0,
        "changed": 0,
        "rejected": 1,
    }
    assert "  readings suction_psi (1)\n    row 3: “45 psi”: write 45 alone" in err


@pytest.mark.django_db
def test_the_table_is_aligned_and_adds_up(book):
    lines = run(book)[0].splitlines()
    assert lines[0].split() == ["sheet", "read", "new", "unchanged", "changed", "rejected"]
    assert ["readings", "2", "1", "0", "0", "1"] in [line.split() for line in lines]
    assert len({len(line) for line in lines}) == 1


@pytest.mark.django_db
def test_a_check_writes_nothing_and_says_so(book):
    out, err = run(book, "--check", "--format", "json")
    assert json.loads(out)["units"]["new"] == 2
    assert "Nothing was written" in err
    assert not Unit.objects.exists()


@pytest.mark.django_db
def test_the_rejects_are_written_where_asked(book, tmp_path):
    run(book, "--rejects", tmp_path / "rejects.xlsx")
    assert (tmp_path / "rejects.xlsx").exists()


@pytest.mark.django_db
def test_only_the_first_rejects_of_a_sheet_are_shown_and_reasons_are_counted(tmp_path):
    rows = [a_reading(serial=f"S-{n}", taken_at=f"2024-06-{n:02}") for n in range(10, 30)]
    err = run(write_folder(tmp_path / "book", a_fleet() | {"readings": rows}))[1]
    assert "20 rows were rejected" in err
    assert "readings serial (20)" in err
    assert err.count(" row ") == 5
    assert "and 15 more" in err


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["nowhere/rejects.xlsx", "rejects.csv"])
def test_a_place_where_no_workbook_can_be_written_is_noticed_before_the_load(book, tmp_path, name):
    with pytest.raises(CommandError, match="no place"):
        run(book, "--rejects", tmp_path / name)
    assert not Unit.objects.exists()


@pytest.mark.django_db
def test_a_path_that_is_not_there_ends_in_words(tmp_path):
    with pytest.raises(CommandError, match="nowhere"):
        run(tmp_path / "nowhere")


def manage(database, *words, **options):
    env = os.environ | {"DATABASE_URL": f"sqlite:///{database}"}
    command = [sys.executable, ROOT / "manage.py", *map(str, words)]
    return subprocess.Popen(command, env=env, cwd=ROOT, **options)


def ask(database, question):
    with closing(sqlite3.connect(database)) as connection:
        # Django's name for patterns, which a check constraint of the tractors asks for.
        connection.create_function(
            "REGEXP", 2, lambda pattern, text: bool(re.search(pattern, text))
        )
        return connection.execute(question).fetchone()[0]


def count(database, table):
    return ask(database, f"SELECT count(*) FROM {table}")


def test_a_load_that_is_killed_leaves_the_old_state_or_the_new(tmp_path):
    """The kill comes at different moments; the last load is left alone and takes every row."""
    database = tmp_path / "shop.sqlite3"
    stamps = [
        f"2024-{m:02}-{d:02}T{h:02}:00"
        for m in range(4, 8)
        for d in range(1, 29)
        for h in range(24)
    ]
    readings = [
        a_reading(taken_at=stamp, serial=serial) for stamp in stamps for serial in ("S-1", "S-2")
    ]
    book = write_folder(tmp_path / "book", a_fleet() | {"readings": readings})
    assert manage(database, "migrate", "--verbosity", "0").wait() == 0
    for moment in (0.8, 1.1, 1.3, 1.5, 1.8):
        load = manage(database, "load_records", book, stdout=subprocess.DEVNULL)
        time.sleep(moment)
        load.send_signal(signal.SIGKILL)
        load.wait()
        assert ask(database, "PRAGMA integrity_check") == "ok"
        kept = count(database, "service_reading")
        assert kept in (0, len(readings))
        assert count(database, "installs_unit") == (2 if kept else 0)
    load = manage(database, "load_records", book, stdout=subprocess.DEVNULL)
    assert load.wait() == 0
    assert count(database, "service_reading") == len(readings)


def test_a_database_that_is_not_made_yet_is_told_in_words(tmp_path, book):
    load = manage(tmp_path / "new.sqlite3", "load_records", book, stderr=subprocess.PIPE)
    assert "migrate" in load.communicate()[1].decode()
    assert load.returncode == 1


@pytest.mark.django_db
def test_a_rejected_row_leaves_its_neighbours_in_the_records(book):
    run(book)
    assert Reading.objects.count() == 1
