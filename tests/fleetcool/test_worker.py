"""What a browser is given to serve pages with where there is no network."""

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from fleetcool import views

pytestmark = pytest.mark.django_db


def test_the_worker_may_serve_every_page_and_is_asked_for_anew_each_time(client):
    response = client.get("/worker.js")
    assert response.headers["Content-Type"].startswith("text/javascript")
    assert response.headers["Service-Worker-Allowed"] == "/"
    assert response.headers["Cache-Control"] == "no-cache"


def test_the_worker_knows_the_doors_and_keeps_out_of_the_back_office(client):
    text = client.get("/worker.js").content.decode()
    shop = text.partition("\n")[0]
    for name in ("login", "logout", "admin:index", "no_network"):
        assert f'"{reverse(name)}"' in shop


def test_a_changed_worker_has_another_version(client, tmp_path, monkeypatch):
    before = client.get("/worker.js").content.partition(b"\n")[0]
    changed = tmp_path / "worker.js"
    changed.write_text(views.WORKER.read_text() + "// one line more\n")
    monkeypatch.setattr(views, "WORKER", changed)
    assert client.get("/worker.js").content.partition(b"\n")[0] != before


def test_every_file_of_the_shell_is_there():
    assert [name for name in views.SHELL if finders.find(name) is None] == []


def test_the_page_without_a_network_names_nobody(client, tomas):
    client.force_login(tomas)
    text = client.get(reverse("no_network")).content.decode()
    assert "tomas" not in text
    assert reverse("logout") not in text
    assert reverse("visit_day") in text
