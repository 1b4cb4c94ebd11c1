"""A phone in a test: Chromium with its own folder, which outlives a restart; it counts the taps."""

import re
from pathlib import Path

from PIL import Image
from playwright.sync_api import BrowserType, Page, expect

PASSWORD = "a-long-enough-secret"
WIDTH, HEIGHT = 360, 800


class Phone:
    """One phone of one person. Things are found by name and number: it reads any language."""

    def __init__(self, chromium: BrowserType, launch: dict, folder: Path, address: str) -> None:
        self._start = lambda: chromium.launch_persistent_context(
            folder, viewport={"width": WIDTH, "height": HEIGHT}, **launch
        )
        self.address = address
        self.taps = 0
        self.context = self._start()

    @property
    def page(self) -> Page:
        return self.context.pages[0]

    def restart(self, *, offline: bool) -> None:
        self.context.close()
        self.context = self._start()
        self.context.set_offline(offline)

    def lose_the_network(self) -> None:
        self.context.set_offline(True)

    def find_the_network(self) -> None:
        # A page that the emulated phone opened without network believes itself online: told again,
        # and given a moment, it hears the change as one on a real phone does.
        for offline in (False, True, False):
            self.context.set_offline(offline)
            self.page.wait_for_timeout(300)

    def speak(self, language: str) -> None:
        self.context.add_cookies(
            [{"name": "django_language", "value": language, "url": self.address}]
        )

    def open(self, path: str) -> None:
        self.page.goto(f"{self.address}{path}")

    def sign_in(self, username: str, page: Page | None = None) -> None:
        page = page or self.page
        page.goto(f"{self.address}/sign-in/")
        page.locator("#id_username").fill(username)
        page.locator("#id_password").fill(PASSWORD)
        page.locator("form.panel button").click()
        page.wait_for_url(lambda url: "/sign-in/" not in url)

    def sign_out(self) -> None:
        self.page.locator("header form button").click()
        self.page.wait_for_url("**/sign-in/**")

    def keep_the_day(self, units: int) -> None:
        """Open the day's list and wait until each of its units is on the phone."""
        self.open("/visits/")
        expect(self.page.locator("#visit-notice [data-slot=kept]")).to_have_text(str(units))

    def tap(self, selector: str) -> None:
        self.taps += 1
        self.page.locator(selector).click()

    def type(self, name: str, value) -> None:
        """A tap into the field, and one group of keystrokes."""
        self.taps += 2
        self.page.locator(f"#visit-form [name={name}]").fill(str(value))

    def add_photos(self, *photos: Path) -> None:
        """A tap to unfold them, and for each photo one to open the camera and one to take it."""
        self.tap("#visit-form details:has([name=photos]) > summary")
        self.taps += 2 * len(photos)
        self.page.locator("#visit-form [name=photos]").set_input_files(photos)

    def unit_of(self, serial: str) -> None:
        self.tap(f"a[data-visit-log][href*='{serial}']")
        expect(self.page.locator("#visit-form")).to_be_visible()

    def save(self) -> None:
        self.tap("#visit-form .save-bar button")

    def is_at_the_visit(self) -> None:
        """The page of a visit that the server has."""
        expect(self.page).to_have_url(re.compile(r"/visits/\d+/(#log)?$"), timeout=20_000)

    def waiting(self, state: str = "waiting"):
        return self.page.locator(f"#visit-notice [data-state={state}]")


def photo(folder: Path, number: int) -> Path:
    """A photo that is like no other."""
    path = folder / f"photo-{number}.jpg"
    Image.new("RGB", (320, 240), (40 * number % 256, 90, 120)).save(path)
    return path
