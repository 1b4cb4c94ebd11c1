"""Small record books to load: each sheet is a list of rows, each row a dict by header."""

import csv
from pathlib import Path

from openpyxl import Workbook

from installs.records.loader import Account, Load, load_book
from tests.factories import vin

VIN = vin(1)
OTHER_VIN = vin(2)


def a_fleet() -> dict[str, list[dict]]:
    """One fleet, two trucks, one model, two units, the first unit installed in the first truck."""
    bank = {"battery_type": "agm", "battery_count": 4, "battery_ah": 105}
    return {
        "customers": [{"customer": "ALD", "name": "Alder Creek", "contact_email": ""}],
        "tractors": [
            {"vin": VIN, "customer": "ALD", "truck_number": "101", "system_v": 12, **bank},
            {"vin": OTHER_VIN, "customer": "ALD", "truck_number": "102", "system_v": 12, **bank},
        ],
        "unit_models": [
            {"model": "K5-12", "refrigerant": "R-134a", "charge_g": 520, "system_v": 12}
        ],
        "units": [
            {"serial": "S-1", "model": "K5-12", "lot": "L1", "made_on": "2024-01-15"},
            {"serial": "S-2", "model": "K5-12", "lot": "L1", "made_on": "2024-01-15"},
        ],
        "installs": [{"serial": "S-1", "installed_on": "2024-03-04", "vin": VIN, "removed_on": ""}],
    }


def a_reading(**changes) -> dict:
    return {
        "serial": "S-1",
        "taken_at": "2024-06-04T09:30",
        "kind": "visit",
        "output": "high",
        "ambient_c": 30,
        "suction_psi": 45,
        "discharge_psi": 165,
        "taken_by": "T. Ash",
    } | changes


def write_folder(folder: Path, sheets: dict[str, list[dict]]) -> Path:
    folder.mkdir(exist_ok=True)
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    return folder


def write_workbook(path: Path, sheets: dict[str, list[dict]]) -> Path:
    workbook = Workbook()
    workbook.remove(workbook.active)
    for name, rows in sheets.items():
        sheet = workbook.create_sheet(name)
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append(list(row.values()))
    workbook.save(path)
    return path


def load_rows(tmp_path: Path, sheets: dict[str, list[dict]], **options) -> Load:
    """Load these rows as a folder of CSV files that is fresh each time."""
    folder = tmp_path / f"book{len(list(tmp_path.iterdir()))}"
    return load_book(write_folder(folder, sheets), **options)


def reasons(load: Load) -> list[str]:
    return [one.words for one in load.refused]


def account(load: Load, sheet: str) -> Account:
    """Return a sheet's account, having seen that it adds up."""
    one = load.accounts[sheet]
    assert one.read == one.new + one.unchanged + one.changed + one.rejected
    return one
