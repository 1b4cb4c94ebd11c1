"""The arrows point one way, and computation knows nothing of Django."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
APPS = ["fleetcool", "installs", "service", "reports", "fixtures"]
# The root list of routes and the demo command name what lies above them.
ASIDE = {"fleetcool/urls.py", "fleetcool/management/commands/demo.py"}
PLAIN = [
    "installs/engineering",
    "service/engineering",
    "reports/analysis",
    "reports/knowledge.py",
    "reports/replay.py",
    "fixtures/scoring",
    "fixtures/simulator",
    "installs/vin.py",
    "fleetcool/quantities.py",
]


def sources(*places: str) -> list[Path]:
    found = []
    for place in places:
        path = ROOT / place
        found += [path] if path.suffix == ".py" else sorted(path.rglob("*.py"))
    return [path for path in found if "migrations" not in path.parts]


def imported(path: Path) -> set[str]:
    """Every module that a file imports, wherever in it the import stands."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


@pytest.mark.parametrize("app", APPS)
def test_an_app_imports_only_those_below_it(app):
    above = APPS[APPS.index(app) + 1 :]
    against = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in sources(app)
        if str(path.relative_to(ROOT)) not in ASIDE
        for name in imported(path)
        if name.split(".")[0] in above
    ]
    assert against == []


def test_computation_imports_no_django():
    against = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in sources(*PLAIN)
        for name in imported(path)
        if name.split(".")[0] == "django" or ".models" in name
    ]
    assert against == []


def test_no_file_outgrows_its_subject():
    long = {
        str(path.relative_to(ROOT)): lines
        for path in sources(*APPS, "tests")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 450
    }
    assert long == {}
