"""A commissioning that is proved, people who sign in to it, and a database for many threads."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest
from django.db import connections

from tests.factories import CertifiedFactory
from tests.installs.proved import proved_commissioning

LONG_AGO = datetime(2024, 3, 4, 15, tzinfo=UTC)


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def tina(tomas):
    """Tomás signs in; Tina is the certified technician that he is in the records."""
    return CertifiedFactory(name="Tina Tecnica", person=tomas)


@pytest.fixture
def commissioning(db):
    """Proved long ago, so that what a page saves now is the newest."""
    commissioning = proved_commissioning()
    commissioning.records.update(taken_at=LONG_AGO)
    return commissioning


@pytest.fixture
def technician(client, tomas, tina):
    client.force_login(tomas)
    return client


@pytest.fixture
def owner(client, osman):
    client.force_login(osman)
    return client


@pytest.fixture
def threads(transactional_db, tmp_path):
    """The test's database, reached from many threads; SQLite's is copied into a file for it.

    In memory all threads would share one connection, which no real shop does.
    """
    inside = connections["default"]
    if inside.vendor != "sqlite":
        yield
        return
    file = str(tmp_path / "shop.sqlite3")
    with closing(sqlite3.connect(file)) as target:
        inside.connection.backup(target)
    settings, name = connections.settings["default"], inside.settings_dict["NAME"]
    settings["NAME"] = file
    connections["default"] = connections.create_connection("default")
    yield
    connections["default"].close()
    connections["default"] = inside
    settings["NAME"] = name
