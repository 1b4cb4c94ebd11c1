"""The way in, and what a person reads when something is not there or goes wrong."""

from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

SECRET = "a-long-enough-secret"


def test_frida_signs_in_and_lands_on_her_findings(client, frida):
    form = {"username": "frida", "password": SECRET}
    response = client.post(reverse("login"), form, follow=True)
    assert response.redirect_chain[-1] == (reverse("findings"), 302)


def test_a_wrong_password_is_told_in_words_and_lets_nobody_in(client, frida):
    response = client.post(reverse("login"), {"username": "frida", "password": "guess"})
    assert "correct username and password" in response.content.decode()
    assert client.get(reverse("findings")).status_code == 302


def test_the_sign_in_page_says_what_the_tool_is(client):
    page = client.get(reverse("login")).content.decode()
    assert "battery-run air conditioners in sleeper cabs" in page


def test_a_page_that_is_not_there_leads_back_to_the_findings(client, frida):
    client.force_login(frida)
    response = client.get("/no-such-page/")
    assert response.status_code == 404
    assert reverse("home") in response.content.decode()


def test_an_expired_form_changes_nothing_and_says_so(frida):
    client = Client(enforce_csrf_checks=True)
    client.force_login(frida)
    response = client.post(reverse("set_unit_system"), {"unit_system": "si"})
    frida.refresh_from_db()
    assert response.status_code == 403
    assert "This form has expired" in response.content.decode()
    assert frida.unit_system == "us"


def test_the_page_of_a_broken_server_needs_nothing_of_the_server():
    assert "Something broke" in render_to_string("500.html")


def test_the_page_is_marked_with_its_language(client):
    client.post(reverse("set_language"), {"language": "es", "next": "/sign-in/"})
    assert '<html lang="es">' in client.get(reverse("login")).content.decode()
