"""The cast: people who stand in every test of who may see what.

Olga (office), Tomás (technician), Clara (warranty clerk) and Osman (owner) work in the shop;
Frida and Frank each manage a fleet of their own and are strangers to one another.
"""

import os

import pytest
from django.utils import translation

from fleetcool.models import Role
from tests.factories import CustomerFactory, PersonFactory

# Playwright runs an event loop in the test's thread; the live server's own threads use the ORM.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")


def pytest_configure(config):
    # The live server's threads must let go of the database with each request.
    from django.conf import settings

    settings.DATABASES["default"]["CONN_MAX_AGE"] = 0


@pytest.fixture(autouse=True)
def quick_settings(settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def english():
    """The language that a request asks for stays with its thread, which here is the next test's too."""
    with translation.override("en"):
        yield


@pytest.fixture
def olga(db):
    return PersonFactory(username="olga", role=Role.OFFICE)


@pytest.fixture
def tomas(db):
    return PersonFactory(username="tomas", role=Role.TECHNICIAN)


@pytest.fixture
def clara(db):
    return PersonFactory(username="clara", role=Role.WARRANTY_CLERK)


@pytest.fixture
def osman(db):
    return PersonFactory(username="osman", role=Role.OWNER, is_staff=True, is_superuser=True)


@pytest.fixture
def frida(db):
    person = PersonFactory(username="frida", role=Role.FLEET_MANAGER)
    CustomerFactory(code="FRI", name="Frida's fleet").people.add(person)
    return person


@pytest.fixture
def frank(db):
    person = PersonFactory(username="frank", role=Role.FLEET_MANAGER)
    CustomerFactory(code="FRA", name="Frank's fleet").people.add(person)
    return person


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    """In CI nothing may be missing: a test that skips there has failed."""
    outcome = yield
    report = outcome.get_result()
    if report.skipped and os.environ.get("CI") == "true" and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped, which CI does not allow: {report.longrepr[2]}"
