"""A commissioning that is proved, and people who sign in to it."""

from datetime import UTC, datetime

import pytest

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
