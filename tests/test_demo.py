"""The demo as someone on a fresh machine runs it."""

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from fixtures.demo import CAST, PEOPLE
from fleetcool.models import Role
from reports.models import Step
from service.models import ClaimStepKind
from tests.factories import CustomerFactory

MANAGE = Path(__file__).resolve().parent.parent / "manage.py"


def run_demo(folder: Path, *words: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, MANAGE, "demo", *words],
        env=elsewhere(folder),
        capture_output=True,
        text=True,
        timeout=240,
    )


def elsewhere(folder: Path) -> dict[str, str]:
    """An environment in which the database and all files lie in a folder of their own."""
    database = f"sqlite:///{folder / 'demo.sqlite3'}"
    return os.environ | {"DATABASE_URL": database, "FLEETCOOL_VAR": str(folder)}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> tuple[Path, str]:
    """A folder in which the demo was built from nothing, and what it said."""
    folder = tmp_path_factory.mktemp("demo")
    done = run_demo(folder, "--no-serve")
    assert done.returncode == 0, done.stderr
    return folder, done.stdout


def test_it_loads_every_row_of_its_book(built):
    _folder, said = built
    read, new, rejected = map(
        int, re.search(r"(\d+) rows read, (\d+) new, .* (\d+) rejected", said).groups()
    )
    assert read == new > 10_000
    assert rejected == 0


def test_it_finds_leaks_tired_banks_and_the_dropped_gauge(built):
    _folder, said = built
    lines = re.findall(r"^ +(\d+)  (\S.*)$", said, re.M)
    found = {label: int(count) for count, label in lines}
    assert found["Refrigerant leak"] >= 5
    assert found["Worn battery bank"] >= 2
    assert found["Doubtful gauge"] == 1


def test_it_names_everyone_who_can_sign_in(built):
    _folder, said = built
    for username, _name, role, _customers in PEOPLE:
        assert re.search(rf"^  {username} +{re.escape(str(Role(role).label))}", said, re.M)
    assert "http://127.0.0.1:8000/" in said


def test_it_writes_a_workbook_and_a_unit_card(built):
    folder, said = built
    workbook, card = folder / "demo" / "fleet-workbook.xlsx", folder / "demo" / "unit-card.pdf"
    assert str(workbook) in said
    assert str(card) in said
    trucks = CalamineWorkbook.from_path(workbook).get_sheet_by_name("Trucks").to_python()
    assert len(trucks) > 20
    assert len(PdfReader(card).pages) == 1


def concerns_in(folder: Path) -> list[tuple]:
    """Every concern with how many steps were taken with it, as the database has them."""
    with closing(sqlite3.connect(folder / "demo.sqlite3")) as database:
        return database.execute(
            "SELECT c.*, count(s.id) FROM reports_concern c LEFT JOIN reports_concernstep s"
            " ON s.concern_id = c.id GROUP BY c.id ORDER BY c.id"
        ).fetchall()


def test_its_claims_took_every_step(built):
    folder, _said = built
    with closing(sqlite3.connect(folder / "demo.sqlite3")) as database:
        taken = {kind for (kind,) in database.execute("SELECT kind FROM service_claimstep")}
    assert taken == set(ClaimStepKind)


def test_its_people_have_answered_the_screen_in_every_way(built):
    folder, _said = built
    with closing(sqlite3.connect(folder / "demo.sqlite3")) as database:
        taken = {what for (what,) in database.execute("SELECT what FROM reports_concernstep")}
    assert taken == set(Step)


def test_building_it_again_changes_nothing(built):
    folder, _said = built
    before = concerns_in(folder)
    again = run_demo(folder, "--no-serve")
    assert again.returncode == 0, again.stderr
    read, unchanged = map(
        int, re.search(r"(\d+) rows read, 0 new, (\d+) unchanged", again.stdout).groups()
    )
    assert read == unchanged
    assert before
    assert concerns_in(folder) == before


def test_it_serves_where_its_papers_lead_to_and_ends_on_ctrl_c(built):
    folder, _said = built
    port = free_port()
    served = subprocess.Popen(
        [sys.executable, MANAGE, "demo", "--port", str(port)],
        env=elsewhere(folder),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert status_once_up(served, port) == 200
        card = PdfReader(folder / "demo" / "unit-card.pdf").pages[0].extract_text()
        assert f"http://127.0.0.1:{port}/units/" in card
        served.send_signal(signal.SIGINT)
        _out, errors = served.communicate(timeout=30)
        assert served.returncode == 0
        assert "Traceback" not in errors
    finally:
        served.kill()


def status_once_up(served: subprocess.Popen, port: int) -> int:
    for _second in range(120):
        assert served.poll() is None, served.stderr.read()
        try:
            with closing(HTTPConnection("127.0.0.1", port, timeout=30)) as connection:
                connection.request("GET", "/sign-in/")
                return connection.getresponse().status
        except ConnectionRefusedError:
            time.sleep(1)
    raise AssertionError("the demo did not serve within two minutes")


def test_it_refuses_a_port_that_is_taken():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(CommandError, match="choose another with --port"):
            call_command("demo", port=taken.getsockname()[1])


@pytest.mark.django_db
def test_it_does_not_mix_with_another_shop(settings, tmp_path):
    settings.VAR_DIR = tmp_path
    CustomerFactory(code="REAL-1")
    with pytest.raises(CommandError, match="REAL-1"):
        call_command("demo", no_serve=True)
    assert not (tmp_path / "demo" / "book").exists()


def test_one_yard_lies_high():
    assert max(customer.elevation_m for customer in CAST.customers) > 1500
