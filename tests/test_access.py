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
    "quality": everyone(403) | {"olga": 200, "osman": 200},
    "units": everyone(200),
    "unit": FRIDAS_OWN,
    "unit_card": FRIDAS_OWN,
    "tractors": everyone(200),
    "tractor": FRIDAS_OWN,
    "customers": everyone(200),
    "customer": FRIDAS_OWN,
    # Acts: a GET is refused with 405 before anything is done.
    "concern_acknowledge": everyone(405),
    "concern_put_off": everyone(405),
    "concern_book": everyone(405),
    "concern_found": everyone(405),
    "set_unit_system": everyone(405),
    "logout": everyone(405),
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
    }
    wanted = OURS[name].pattern.converters
    return reverse(name, kwargs={key: arguments[key] for key in wanted})


def _key(name: str, fleet: Fleet) -> int:
    """The number of what a route opens."""
    if name == "customer":
        return fleet.customer.pk
    return fleet.finding.pk if name == "finding" else fleet.finding.concern_id


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
    if name == "login":
        assert response.status_code == 200
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


@pytest.mark.parametrize("whose", ["frida", "frank"])
@pytest.mark.parametrize("name", EXPECTED)
def test_no_response_to_frank_names_anything_of_fridas(client, frank, fleets, name, whose):
    client.force_login(frank)
    text = body(client.get(address(name, fleets[whose])))
    # The address that was asked for may be repeated in the page's own forms.
    text = text.replace(address(name, fleets[whose]), "")
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
