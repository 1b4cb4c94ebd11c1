"""Chromium as the system has it; no browser is downloaded."""

import shutil

import pytest


@pytest.fixture(scope="session")
def browser_type_launch_args():
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("Chromium is not installed: apt-get install chromium")
    return {"executable_path": chromium, "args": ["--no-sandbox"]}


@pytest.fixture(scope="session")
def base_url() -> None:
    """No address of its own: each test asks the live server. The plugin's fixture warns in pytest 9."""
