"""The papers say what the code does: commands, settings and columns of the record book."""

import re
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.utils.module_loading import import_string

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def own_commands() -> set[str]:
    return {
        path.stem
        for app in apps.get_app_configs()
        if Path(app.path).parent == ROOT
        for path in (Path(app.path) / "management" / "commands").glob("[!_]*.py")
    }


def test_every_command_is_in_the_readme_and_the_reverse():
    told = set(re.findall(r"^\| `(\w+)[^|]*` \|", README, flags=re.MULTILINE))
    told = {name for name in told if not name.isupper() and "FLEETCOOL" not in name}
    assert own_commands() == told


def test_every_setting_is_in_the_readme_and_the_reverse():
    source = (ROOT / "fleetcool" / "settings.py").read_text(encoding="utf-8")
    read = set(re.findall(r'"(FLEETCOOL_\w+)"', source))
    rows = re.findall(r"^\| (`FLEETCOOL_[^|]+) \|", README, flags=re.MULTILINE)
    told = {name for row in rows for name in re.findall(r"FLEETCOOL_\w+", row)}
    assert read == told


@pytest.mark.parametrize("module", settings.RECORD_SHEETS)
def test_every_sheet_of_the_record_book_is_in_the_readme(module):
    for sheet in import_string(f"{module}.SHEETS"):
        row = re.search(rf"^\| {sheet.name} \| ([^|]*) \| ([^|]*) \|", README, flags=re.MULTILINE)
        assert row, sheet.name


def test_no_path_of_a_machine_stands_in_the_papers():
    for name in ("README.md", "DEVELOPERS.md", ".ci/run"):
        assert not re.search(r"/(home|root|work)/", (ROOT / name).read_text(encoding="utf-8"))
