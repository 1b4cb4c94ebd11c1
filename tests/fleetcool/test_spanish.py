"""Everything that people read is in Spanish too."""

import gettext
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.core.management import call_command

from tests.factories import ScreenRunFactory
from tests.fleets import fleet_of
from tests.test_access import EXPECTED, address

ROOT = Path(__file__).parents[2]
CATALOG = ROOT / "fleetcool" / "locale" / "es" / "LC_MESSAGES" / "django.po"
TEMPLATES = [
    path
    for app in ("fleetcool", "installs", "service", "reports")
    for path in sorted((ROOT / app / "templates").rglob("*.html"))
]
COMMENT = r"\{% comment %\}.*?\{% endcomment %\}|\{#.*?#\}"
TRANSLATED = r"\{% blocktranslate.*?\{% endblocktranslate %\}"
TAG, COMMAND = r"\{%.*?%\}|\{\{.*?\}\}", "<code>.*?</code>"
# A name, and what is the same in every language.
NAMES = {"Fleetcool", "VIN", "QR", "ics"}


@pytest.fixture
def gettext_tools():
    if shutil.which("xgettext") is None:
        pytest.skip("gettext is not installed: apt-get install gettext")


@pytest.fixture
def catalog() -> dict[str, str]:
    with CATALOG.with_suffix(".mo").open("rb") as compiled:
        messages = gettext.GNUTranslations(compiled)._catalog
    return {key: text for key, text in messages.items() if isinstance(key, str) and key}


def entries(path: Path, *which: str) -> list[str]:
    said = subprocess.run(
        ["msgattrib", "--no-obsolete", "--no-wrap", *which, path], capture_output=True, text=True
    )
    return [line for line in said.stdout.splitlines() if line.startswith("msgid ")][1:]


def test_every_string_of_the_source_is_translated(gettext_tools, settings, tmp_path, monkeypatch):
    folder = tmp_path / "locale" / "es" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    shutil.copy(CATALOG, folder)
    settings.LOCALE_PATHS = [tmp_path / "locale"]
    monkeypatch.chdir(ROOT)
    call_command(
        "makemessages",
        locale=["es"],
        verbosity=0,
        no_location=True,
        ignore_patterns=["tests/*", "var/*", ".venv/*", "fleetcool/locale"],
    )
    found = folder / "django.po"
    assert entries(found, "--untranslated") == []
    assert entries(found, "--only-fuzzy") == []


def test_placeholders_and_plurals_are_whole(gettext_tools):
    said = subprocess.run(
        ["msgfmt", "--check", "-o", "/dev/null", CATALOG], capture_output=True, text=True
    )
    assert (said.returncode, said.stderr) == (0, "")


def test_what_is_compiled_is_what_is_written(gettext_tools, tmp_path):
    fresh = tmp_path / "django.mo"
    subprocess.run(["msgfmt", "-o", fresh, CATALOG], check=True)
    assert fresh.read_bytes() == CATALOG.with_suffix(".mo").read_bytes()


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_no_word_stands_in_a_template_beside_its_translation(template):
    source = template.read_text(encoding="utf-8")
    source = re.sub(f"{COMMENT}|{TRANSLATED}|{TAG}|{COMMAND}", "", source, flags=re.S)
    words = _Words()
    words.feed(source)
    assert {word for word in words.found if word not in NAMES} == set()


class _Words(HTMLParser):
    """The words of a page, also those of attributes that are read out."""

    READ = {"aria-label", "title", "alt", "placeholder"}

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag, attrs) -> None:
        for name, text in attrs:
            if name in self.READ:
                self.handle_data(text or "")

    def handle_data(self, data) -> None:
        if self.cdata_elem is None:
            self.texts.append(" ".join(data.split()))
            self.found += re.findall(r"[A-Za-zÀ-ÿ]{2,}", data)


NO_PAGES = {
    "campaign_letter",
    "claim_packet",
    "claims_workbook",
    "booking_ics",
    "service_worker",
    "fleet_workbook",
    "unit_card",
    "job_packet",
    "certificate_pdf",
    "refrigerant_workbook",
    "label_sheet",
}
PAGES = {name for name, who in EXPECTED.items() if who["osman"] == 200} - NO_PAGES


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_page_in_spanish_has_no_english_of_ours_left(client, osman, frida, catalog, name):
    fleet = fleet_of(frida.customers.get(), ScreenRunFactory(), truck="TRK-1", serial="SER-1")
    client.force_login(osman)
    client.cookies[django_settings.LANGUAGE_COOKIE_NAME] = "es"
    response = client.get(address(name, fleet))
    page = _Words()
    page.feed(response.content.decode())
    english = {key for key, text in catalog.items() if text != key and len(key) > 3}
    # Each language is listed by its own name.
    english -= {"English"}
    assert [text for text in page.texts if text.replace("\u00a0", " ") in english] == []


def test_what_one_english_word_says_of_two_things_agrees_with_each(catalog):
    # A finding and a cause have their gender: un hallazgo programado, todas las causas; una cita, las demás.
    said = {key.partition("\x04")[::2]: text for key, text in catalog.items() if "\x04" in key}
    assert (catalog["booked"], said["finding", "booked"]) == ("programada", "programado")
    assert said["cause", "all"] == "todas"


def test_a_withdrawn_certificate_is_not_called_like_a_unit_that_was_taken_out(catalog):
    told = [text for key, text in catalog.items() if re.search("[Ww]ithdr[ae]w", key)]
    assert len(told) > 8
    assert not [text for text in told if "etirad" in text or "etirar" in text]
