"""A book in psi and °F and the same book in kPa, or bar, and °C give the same findings."""

import json
from dataclasses import replace
from io import StringIO

import pandas as pd
import pytest
from django.core.management import call_command
from django.db import transaction

from fixtures.simulator.fleet import Fleet, simulate
from fixtures.simulator.write import write_fleet

# NIST SP 811: one psi is 6.894757 kPa, one bar 100 kPa.
PER_PSI = {"kpa": 6.894757293168, "bar": 0.06894757293168}


@pytest.mark.parametrize("unit", PER_PSI)
def test_a_metric_book_gives_the_findings_of_the_book_in_psi(db, tmp_path, unit):
    fleet = simulate(units=50, years=2, seed=11, pipe_temperatures=0.5, overnights=0.3)
    in_psi = findings(fleet, tmp_path / "psi")
    assert len(in_psi) > 5
    metric = findings(in_other_units(fleet, unit), tmp_path / unit)
    assert [named(one) for one in metric] == [named(one) for one in in_psi]
    for ours, theirs in zip(metric, in_psi, strict=True):
        assert ours["probability"] == pytest.approx(theirs["probability"], abs=1e-6)
        for row, other in zip(ours["evidence"], theirs["evidence"], strict=True):
            assert row == pytest.approx(other, abs=1e-6)


def named(finding: dict) -> tuple:
    return finding["serial"], finding["cause"], finding["since"], str(finding["forecast"])


def in_other_units(fleet: Fleet, unit: str) -> Fleet:
    columns = {}
    for header, values in fleet.book["readings"].items():
        if header.endswith("_psi"):
            columns[header.replace("_psi", f"_{unit}")] = values * PER_PSI[unit]
        elif header.endswith("_f"):
            columns[header.removesuffix("_f") + "_c"] = (values - 32) / 1.8
        else:
            columns[header] = values
    return replace(fleet, book=fleet.book | {"readings": pd.DataFrame(columns)})


def findings(fleet: Fleet, folder) -> list[dict]:
    """What the screen says of a book in an otherwise empty shop, which is empty again after."""
    write_fleet(fleet, folder)
    out = StringIO()
    with transaction.atomic():
        call_command("load_records", str(folder), stdout=StringIO())
        call_command("screen", "--as-of", fleet.last_day.isoformat(), format="json", stdout=out)
        transaction.set_rollback(True)
    return json.loads(out.getvalue())
