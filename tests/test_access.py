"""One table of rights: every route of the resolver, as nobody, each role and a stranger.

A new route fails here until someone has said who may open it.
"""

from collections.abc import Iterator
from io import BytesIO

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from fleetcool.access import PUBLIC_ROUTES
from tests.factories import ScreenRunFactory
from tests.fleets import Fleet, fleet_of

SHOP = ("olga", "tomas", "clara", "osman")
CAST = (*SHOP, "frida", "frank")
# Django's own sign-out, which asks for no role of ours.
OF_DJANGO = ("logout",)


def everyone(status: int) -> dict[str, int]:
    return dict.fromkeys(CAST, status)


FRIDAS_OWN = everyone(200) | {"frank": 404}
# What each person gets by GET; nobody is always sent to sign in, but for the public routes.
# Routes with an object get one of Frida's fleet.
EXPECTED = {
    "home": everyone(302),
    "findings": everyone(200),
    "finding": FRIDAS_OWN,
    "fleet_workbook": everyone(200),
    "next_visits": everyone(200),
    "visit_day": everyone(200) | {"frida": 403, "frank": 403},
    "visit_open": everyone(200) | {"frida": 403, "frank": 403},
    "visit_log": everyone(200) | {"frida": 403, "frank": 403},
    "visit": FRIDAS_OWN,
    # No photo is there.
    "visit_photo": everyone(404),
    "visit_meanwhile": everyone(405),
    "labels": everyone(200) | {"frida": 403, "frank": 403},
    # Nothing is chosen: it leads to the page where that is done.
    "label_sheet": everyone(302) | {"frida": 403, "frank": 403},
    "quality": everyone(403) | {"olga": 200, "osman": 200},
    "units": everyone(200),
    "unit": FRIDAS_OWN,
    "unit_card": FRIDAS_OWN,
    "tractors": everyone(200),
    "tractor": FRIDAS_OWN,
    "customers": everyone(200),
    "customer": FRIDAS_OWN,
    "fit_check": everyone(200) | {"frida": 403, "frank": 403},
    "hours": everyone(200) | {"frida": 403, "frank": 403},
    "bookings": everyone(200) | {"frida": 403, "frank": 403},
    "booking": everyone(200) | {"frida": 403, "frank": 403},
    "booking_ics": everyone(200) | {"frida": 403, "frank": 403},
    "booking_new": everyone(403) | {"olga": 200, "osman": 200},
    "booking_move": everyone(403) | {"olga": 200, "osman": 200},
    "calendars": everyone(403) | {"olga": 200, "osman": 200, "tomas": 200},
    # No feed has this address, and nobody is told more.
    "calendar_feed": everyone(404),
    "stock": everyone(200) | {"frida": 403, "frank": 403},
    "stock_unit": everyone(200) | {"frida": 403, "frank": 403},
    "stock_receive": everyone(200) | {"clara": 403, "frida": 403, "frank": 403},
    "tractor_sell": everyone(403) | {"olga": 200, "osman": 200},
    "terms": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    "terms_new": everyone(403) | {"osman": 200},
    "job_packet": everyone(200) | {"frida": 403, "frank": 403},
    "certificate": FRIDAS_OWN,
    "certificate_pdf": FRIDAS_OWN,
    # Whoever holds the paper: the serial, the day, whether it stands.
    "certificate_public": everyone(200),
    "commissioning": everyone(200) | {"frida": 403, "frank": 403},
    "commissioning_step": everyone(200) | {"frida": 403, "frank": 403},
    # No photo is there; who is not of the shop is not told so.
    "photo": everyone(404) | {"frida": 403, "frank": 403},
    "cylinders": everyone(200) | {"frida": 403, "frank": 403},
    "cylinder": everyone(200) | {"frida": 403, "frank": 403},
    "cylinder_new": everyone(200) | {"clara": 403, "frida": 403, "frank": 403},
    "refrigerant_balance": everyone(200) | {"frida": 403, "frank": 403},
    "refrigerant_workbook": everyone(200) | {"frida": 403, "frank": 403},
    "unit_refrigerant": everyone(200) | {"frida": 403, "frank": 403},
    "claims": everyone(200),
    "claim": FRIDAS_OWN,
    "claim_packet": everyone(200) | {"frida": 403, "frank": 403},
    "claims_recovery": everyone(200) | {"frida": 403, "frank": 403},
    "claims_workbook": everyone(200) | {"frida": 403, "frank": 403},
    "coming": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    "campaigns": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    "campaign": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    "campaign_new": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    "campaign_letter": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    "campaign_unit": everyone(200) | {"tomas": 403, "frida": 403, "frank": 403},
    # Acts: a GET is refused with 405 before anything is done.
    "booking_amend": everyone(405),
    "booking_hold": everyone(405),
    "booking_release": everyone(405),
    "booking_done": everyone(405),
    "booking_call_off": everyone(405),
    "booking_confirm": everyone(405),
    "calendar_change": everyone(405),
    "commissioning_begin": everyone(405),
    "commissioning_begin_install": everyone(405),
    "commissioning_photo": everyone(405),
    "commissioning_let_pass": everyone(405),
    "commissioning_certificate": everyone(405),
    "certificate_withdraw": everyone(405),
    "stock_receive_sheet": everyone(405),
    "stock_put_in": everyone(405),
    "stock_remove": everyone(405),
    "stock_move": everyone(405),
    "stock_return": everyone(405),
    "stock_scrap": everyone(405),
    "day_off_end": everyone(405),
    "cylinder_act": everyone(405),
    "fit_keep": everyone(405),
    "claim_open": everyone(405),
    "claim_describe": everyone(405),
    "claim_lines": everyone(405),
    "claim_step": everyone(405),
    "campaign_send": everyone(405),
    "campaign_told": everyone(405),
    "concern_acknowledge": everyone(405),
    "concern_put_off": everyone(405),
    "concern_book": everyone(405),
    "concern_found": everyone(405),
    "set_unit_system": everyone(405),
    "logout": everyone(405),
    # The same for everyone, and kept on phones: what serves pages without a network.
    "service_worker": everyone(200),
    "no_network": everyone(200),
    # Public: who is signed in already is sent on.
    "login": everyone(302),
    "set_language": everyone(302),
}


def routes(
    resolver: URLResolver | None = None, space: str = ""
) -> Iterator[tuple[str, URLPattern]]:
    """Every route of the project by name, those of a namespace as `space:name`."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from routes(entry, f"{entry.namespace}:" if entry.namespace else space)
        else:
            yield f"{space}{entry.name}", entry


OURS = {name: route for name, route in routes() if not name.startswith("admin:")}
BACK_OFFICE = {name: route for name, route in routes() if name.startswith("admin:")}


@pytest.fixture
def fleets(frida, frank) -> dict[str, Fleet]:
    run = ScreenRunFactory(units_screened=2)
    return {
        "frida": fleet_of(frida.customers.get(), run, truck="TRK-FRIDA", serial="SER-FRIDA"),
        "frank": fleet_of(frank.customers.get(), run, truck="TRK-FRANK", serial="SER-FRANK"),
    }


def address(name: str, fleet: Fleet) -> str:
    arguments = {
        "serial": fleet.unit.serial,
        "vin": fleet.tractor.vin,
        "pk": _key(name, fleet),
        "token": fleet.certificate.token,
        "step": "mounting",
        "act": "buy",
        "kind": "submit",
        "customer": fleet.customer.pk,
    }
    wanted = OURS[name].pattern.converters
    return reverse(name, kwargs={key: arguments[key] for key in wanted})


def _key(name: str, fleet: Fleet) -> int:
    """The number of what a route opens, by how the route's address begins."""
    opened = {
        "customers": fleet.customer,
        "findings": fleet.finding,
        "concerns": fleet.finding.concern,
        "bookings": fleet.booking,
        "commissioning": fleet.commissioning,
        "certificates": fleet.certificate,
        "stock": fleet.unit,
        "refrigerant": fleet.cylinder,
        "visits": fleet.visit,
        "claims": fleet.claim,
        "campaigns": fleet.campaign,
    }
    first = str(OURS[name].pattern).partition("/")[0]
    return opened[first].pk if first in opened else 0


def body(response) -> str:
    """All that a person can read in a response, also inside a workbook or a PDF."""
    content = b"".join(response.streaming_content) if response.streaming else response.content
    kind = response.headers.get("Content-Type", "")
    if kind == "application/pdf":
        return "\n".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)
    if "spreadsheet" in kind:
        book = CalamineWorkbook.from_filelike(BytesIO(content))
        sheets = [book.get_sheet_by_name(name).to_python() for name in book.sheet_names]
        return repr(sheets)
    return content.decode()


def test_every_route_has_an_expectation():
    assert set(OURS) == set(EXPECTED)


def test_every_view_of_ours_says_which_roles_may_open_it():
    without = {name for name, route in OURS.items() if not hasattr(route.callback, "roles")}
    assert without == {*PUBLIC_ROUTES, *OF_DJANGO}


@pytest.mark.parametrize("name", EXPECTED)
def test_nobody_is_sent_to_sign_in(client, fleets, name):
    response = client.get(address(name, fleets["frida"]))
    if name in ("login", "certificate_public", "service_worker", "no_network"):
        assert response.status_code == 200
    elif name == "calendar_feed":
        assert response.status_code == 404
    elif name == "set_language":
        assert (response.status_code, response.url) == (302, "/")
    else:
        assert response.status_code == 302
        assert response.url.startswith(reverse("login"))


@pytest.mark.parametrize("person", CAST)
@pytest.mark.parametrize("name", EXPECTED)
def test_each_person_gets_what_the_table_says(client, request, fleets, name, person):
    client.force_login(request.getfixturevalue(person))
    response = client.get(address(name, fleets["frida"]))
    assert response.status_code == EXPECTED[name][person]


# What each may do by POST with a concern of Frida's fleet: a stranger finds nothing there.
ACTS = {
    "concern_acknowledge": everyone(302) | {"clara": 403, "frank": 404},
    "concern_put_off": everyone(200) | {"clara": 403, "frank": 404},
    "concern_book": everyone(200) | {"clara": 403, "frida": 403, "frank": 403},
    "concern_found": everyone(200) | {"clara": 403, "frida": 403, "frank": 403},
}


OFFICE_ONLY = {"tomas": 403, "clara": 403, "frida": 403, "frank": 403}
# What each may do by POST with a booking; where words are asked for and none given, it stays.
BOOKING_ACTS = {
    "booking_new": everyone(200) | OFFICE_ONLY,
    "booking_move": everyone(200) | OFFICE_ONLY,
    "booking_amend": everyone(302) | OFFICE_ONLY,
    "booking_hold": everyone(200) | OFFICE_ONLY,
    "booking_release": everyone(302) | OFFICE_ONLY,
    "booking_done": everyone(302) | OFFICE_ONLY,
    "booking_call_off": everyone(200) | OFFICE_ONLY,
    "booking_confirm": everyone(302) | OFFICE_ONLY,
}


def test_every_act_on_a_booking_has_an_expectation():
    pages = {"booking", "booking_ics"}
    assert set(BOOKING_ACTS) == {n for n in OURS if n.partition("_")[0] == "booking"} - pages


@pytest.mark.parametrize("person", CAST)
@pytest.mark.parametrize("name", BOOKING_ACTS)
def test_a_booking_is_changed_by_the_office_and_the_owner_only(
    client, request, fleets, name, person
):
    client.force_login(request.getfixturevalue(person))
    response = client.post(address(name, fleets["frida"]))
    assert response.status_code == BOOKING_ACTS[name][person]


SIGNERS_ONLY = {"olga": 403, "clara": 403, "frida": 403, "frank": 403}
# What each may do by POST with a commissioning; nothing is given, so nothing is written.
COMMISSIONING_ACTS = {
    "commissioning_begin": everyone(302) | SIGNERS_ONLY,
    "commissioning_begin_install": everyone(404) | SIGNERS_ONLY,
    "commissioning_step": everyone(200) | SIGNERS_ONLY,
    "commissioning_photo": everyone(200) | SIGNERS_ONLY,
    "commissioning_let_pass": everyone(200) | SIGNERS_ONLY,
    "commissioning_certificate": everyone(200) | SIGNERS_ONLY,
}


def test_every_act_on_a_commissioning_has_an_expectation():
    pages = {"commissioning"}
    assert set(COMMISSIONING_ACTS) == {n for n in OURS if n.startswith("commissioning")} - pages


@pytest.mark.parametrize("person", CAST)
@pytest.mark.parametrize("name", COMMISSIONING_ACTS)
def test_an_install_is_proved_by_those_who_may_only(client, request, fleets, name, person):
    client.force_login(request.getfixturevalue(person))
    response = client.post(address(name, fleets["frida"]))
    assert response.status_code == COMMISSIONING_ACTS[name][person]


def test_every_act_on_a_concern_has_an_expectation():
    assert set(ACTS) == {name for name in OURS if name.startswith("concern_")}


@pytest.mark.parametrize("person", CAST)
@pytest.mark.parametrize("name", ACTS)
def test_an_act_is_done_by_those_who_may_only(client, request, fleets, name, person):
    client.force_login(request.getfixturevalue(person))
    response = client.post(address(name, fleets["frida"]))
    assert response.status_code == ACTS[name][person]
    steps = fleets["frida"].finding.concern.steps.count()
    assert steps == (1 if response.status_code == 302 else 0)
    if person == "frank":
        assert [word for word in fleets["frida"].names if word in body(response)] == []


# What each may do by POST with a visit; nothing is told, so nothing is written.
VISIT_ACTS = {
    "visit_log": everyone(200) | {"frida": 403, "frank": 403},
    "visit_meanwhile": everyone(302) | {"frida": 403, "frank": 403},
}


@pytest.mark.parametrize("person", CAST)
@pytest.mark.parametrize("name", VISIT_ACTS)
def test_a_visit_is_logged_and_settled_by_the_shop_only(client, request, fleets, name, person):
    client.force_login(request.getfixturevalue(person))
    response = client.post(address(name, fleets["frida"]))
    assert response.status_code == VISIT_ACTS[name][person]


CLERKS_ONLY = {"olga": 403, "tomas": 403, "frida": 403, "frank": 403}
# What each may do by POST with a claim; opening it anew finds the one there is.
CLAIM_ACTS = {
    "claim_open": everyone(302) | CLERKS_ONLY,
    "claim_describe": everyone(200) | CLERKS_ONLY,
    "claim_lines": everyone(200) | CLERKS_ONLY,
    "claim_step": everyone(302) | CLERKS_ONLY,
}


def test_every_act_on_a_claim_has_an_expectation():
    pages = {"claim", "claim_packet"}
    assert set(CLAIM_ACTS) == {n for n in OURS if n.partition("_")[0] == "claim"} - pages


@pytest.mark.parametrize("person", CAST)
@pytest.mark.parametrize("name", CLAIM_ACTS)
def test_a_claim_is_made_and_decided_by_the_clerk_and_the_owner_only(
    client, request, fleets, name, person
):
    client.force_login(request.getfixturevalue(person))
    response = client.post(address(name, fleets["frida"]))
    assert response.status_code == CLAIM_ACTS[name][person]


@pytest.mark.parametrize("whose", ["frida", "frank"])
@pytest.mark.parametrize("name", EXPECTED)
def test_no_response_to_frank_names_anything_of_fridas(client, frank, fleets, name, whose):
    client.force_login(frank)
    text = body(client.get(address(name, fleets[whose])))
    # The address that was asked for may be repeated in the page's own forms.
    text = text.replace(address(name, fleets[whose]), "")
    if name == "certificate_public":
        # It is there to show the serial to whoever holds the paper, and nothing else.
        text = text.replace(fleets["frida"].unit.serial, "")
    assert [word for word in fleets["frida"].names if word in text] == []


@pytest.mark.parametrize(
    "name", ["findings", "next_visits", "units", "tractors", "fleet_workbook", "customers"]
)
def test_a_strangers_customer_in_the_address_opens_nothing(client, frank, fleets, name):
    client.force_login(frank)
    asked = {"customer": fleets["frida"].customer.pk}
    response = client.get(address(name, fleets["frank"]), asked)
    assert response.status_code in (200, 404)
    assert [word for word in fleets["frida"].names if word in body(response)] == []


@pytest.mark.parametrize("name", ["findings", "units", "tractors", "customers"])
def test_a_search_for_a_strangers_name_finds_nothing(client, frank, fleets, name):
    client.force_login(frank)
    for word in fleets["frida"].names:
        response = client.get(address(name, fleets["frank"]), {"q": word})
        assert len(response.context["table"].rows) == 0


@pytest.mark.parametrize(
    "name", ["findings", "next_visits", "units", "tractors", "customers", "fleet_workbook"]
)
def test_frida_sees_her_own_fleet(client, frida, fleets, name):
    client.force_login(frida)
    text = body(client.get(address(name, fleets["frida"])))
    assert any(word in text for word in fleets["frida"].names[1:]) or name == "customers"


@pytest.mark.parametrize("name", ["unit", "tractor", "unit_card"])
def test_letters_may_be_small_in_an_address(client, frida, fleets, name):
    client.force_login(frida)
    path = address(name, fleets["frida"]).replace("SER-FRIDA", "ser-frida")
    path = path.replace(fleets["frida"].tractor.vin, fleets["frida"].tractor.vin.lower())
    assert client.get(path).status_code == 200


def back_office_address(name: str) -> str:
    if name == "admin:None":
        return reverse("admin:index") + "no-such-page/"
    groups = BACK_OFFICE[name].pattern.regex
    if groups.groupindex:
        arguments = {"app_label": "installs"}
        return reverse(name, kwargs={key: arguments.get(key, "1") for key in groups.groupindex})
    return reverse(name, args=["1"] * groups.groups)


@pytest.mark.parametrize("person", [person for person in CAST if person != "osman"])
def test_the_back_office_sends_everyone_but_the_owner_to_its_own_sign_in(client, request, person):
    client.force_login(request.getfixturevalue(person))
    asked = set(BACK_OFFICE) - {"admin:login", "admin:logout"}
    sent_to = {name: client.get(back_office_address(name)) for name in asked}
    assert len(sent_to) > 20
    opened = [name for name, response in sent_to.items() if response.status_code != 302]
    assert opened == []
    assert all("sign-in" in r.url or "login" in r.url for r in sent_to.values())


def test_the_owner_opens_the_back_office(client, osman):
    client.force_login(osman)
    assert client.get(reverse("admin:index")).status_code == 200


def test_a_signed_out_person_keeps_nothing_open(client, frida, fleets):
    client.force_login(frida)
    client.post(reverse("logout"))
    assert client.get(reverse("findings")).status_code == 302
