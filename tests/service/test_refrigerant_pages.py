"""The pages of the refrigerant book."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.urls import reverse

from service import book
from service.models import Cylinder, CylinderEntry, Holds, Movement, MovementKind
from tests.factories import (
    CertifiedFactory,
    CustomerFactory,
    CylinderFactory,
    InstallFactory,
    MovementFactory,
    UnitFactory,
)
from tests.service.refrigerant import NOW, START, by, held, in_book

pytestmark = pytest.mark.django_db
AT = "2024-06-01T08:30"


@pytest.fixture
def office(client, olga):
    olga.unit_system = "si"
    olga.save()
    client.force_login(olga)
    return client


def act(client, on, name, /, **fields):
    typed = {"sent_id": uuid4(), "at": AT} | fields
    data = {f"{name}-{key}": value for key, value in typed.items()}
    return client.post(reverse("cylinder_act", args=[on.pk, name]), data)


def text(response) -> str:
    return " ".join(response.content.decode().replace("\xa0", " ").split())


def test_the_list_says_what_each_cylinder_holds_and_which_are_known_by_name_only(office):
    in_book(9_480, code="C-7", van="Tomás")
    CylinderFactory(code="OLD-1")
    page = text(office.get(reverse("cylinders")))
    assert "C-7" in page and "9480.0 g" in page.replace(",", "")
    assert page.index("Known by name only") < page.index("OLD-1")


def test_a_new_cylinder_is_entered_opened_and_bought_for(office):
    typed = {"code": "C-9", "refrigerant": "R-134a", "tare_g": "5900", "van": "Tomás"}
    response = office.post(reverse("cylinder_new"), typed)
    cylinder = Cylinder.objects.get(code="C-9")
    assert response.url == cylinder.get_absolute_url() and cylinder.tare_g == 5_900
    act(office, cylinder, "open", mass_g="100", holds="new")
    act(office, cylinder, "buy", mass_g="13600", document="INV-1")
    assert held(cylinder) == 13_700
    assert CylinderEntry.objects.get(kind="bought").person.username == "olga"


def test_a_cylinder_of_one_code_is_entered_once(office):
    CylinderFactory(code="C-9")
    response = office.post(reverse("cylinder_new"), {"code": "c-9", "refrigerant": "R-134a"})
    assert "There is a cylinder with this code already." in text(response)


def test_a_movement_is_written_by_serial(office):
    cylinder, technician = in_book(), CertifiedFactory()
    unit = UnitFactory(serial="S-1")
    fields = {"serial": "s-1", "movement": "charged", "mass_g": "520", "technician": technician.pk}
    assert act(office, cylinder, "move", **fields).status_code == 302
    assert Movement.objects.get().unit == unit and held(cylinder) == 9_480


def test_what_is_refused_stands_at_the_form_with_what_was_typed(office):
    cylinder = in_book(100)
    UnitFactory(serial="S-1")
    fields = {"serial": "S-1", "movement": "charged", "mass_g": "520"}
    response = act(office, cylinder, "move", **fields, technician=CertifiedFactory().pk)
    assert "cannot give what it does not hold" in text(response)
    assert 'value="520"' in text(response) and not Movement.objects.exists()


def test_a_weighing_shows_the_difference_first_and_writes_it_with_its_reason(office):
    cylinder = in_book(10_000, tare_g=5_000)
    response = act(office, cylinder, "weigh", gross_g="14970")
    assert "a difference of −30 g" in text(response) and held(cylinder) == 10_000
    act(office, cylinder, "weigh", gross_g="14970", why="left in the hoses")
    assert held(cylinder) == 9_970


def test_a_form_that_is_sent_twice_is_written_once(office):
    cylinder, sent_id = in_book(), uuid4()
    for _time in range(2):
        act(
            office,
            cylinder,
            "send",
            sent_id=sent_id,
            mass_g="100",
            sent_to="Reclaimer, 1 Mill Lane",
        )
    assert held(cylinder) == 9_900


def test_an_entry_and_a_movement_are_corrected_on_the_page(office):
    cylinder, technician = in_book(), CertifiedFactory()
    movement = book.move(
        UnitFactory(), MovementKind.CHARGED, 520, cylinder, book.By(START, START, technician)
    )
    # The page offers movements of the last year only.
    Movement.objects.update(at=datetime.now(UTC))
    fields = {"movement": movement.pk, "cylinder": cylinder.pk, "technician": technician.pk}
    act(office, cylinder, "correct-move", **fields, mass_g="500", why="misread the scale")
    assert held(cylinder) == 9_500
    opening = CylinderEntry.objects.get(kind="opening")
    act(office, cylinder, "correct", entry=opening.pk, mass_g="9000", why="the tare was wrong")
    assert held(cylinder) == 8_500
    act(office, cylinder, "correct-move", **fields, mass_g="0", why="told twice")
    assert held(cylinder) == 9_000
    assert "was wrong; corrected, does not count" in text(office.get(cylinder.get_absolute_url()))


def test_the_running_balance_ends_at_what_is_held(office):
    cylinder = in_book()
    book.move(UnitFactory(), MovementKind.CHARGED, 520, cylinder, by())
    lines = office.get(cylinder.get_absolute_url()).context["lines"]
    assert [line.held.replace(",", "") for line in lines] == ["9480.0", "10000.0"]


def test_an_act_that_makes_no_sense_is_not_there(office):
    assert act(office, in_book(), "open", mass_g="5", holds="new").status_code == 404
    assert act(office, in_book(0, Holds.RECOVERED), "buy", mass_g="5").status_code == 404
    assert act(office, in_book(), "explode").status_code == 404


def test_a_warranty_clerk_reads_and_does_not_write(client, clara):
    client.force_login(clara)
    cylinder = in_book()
    assert "Write down" not in text(client.get(cylinder.get_absolute_url()))
    assert act(client, cylinder, "send", mass_g="5", sent_to="Reclaimer").status_code == 403
    assert client.post(cylinder.get_absolute_url(), {"van": "mine"}).status_code == 403


def test_the_balance_says_that_it_balances_and_when_it_does_not(office):
    cylinder = in_book()
    MovementFactory(cylinder=None, mass_g=33)
    period = {"from": "2024-01-01", "to": "2024-12-31"}
    page = text(office.get(reverse("refrigerant_balance"), period))
    assert "The book balances" in page and "33.0 g" in page
    Cylinder.objects.filter(pk=cylinder.pk).update(held_g=9_990)
    page = text(office.get(reverse("refrigerant_balance"), period))
    assert "does not balance" in page


def test_a_period_that_ends_before_it_begins_is_told(office):
    period = {"from": "2024-12-31", "to": "2024-01-01"}
    assert "ends before it begins" in text(office.get(reverse("refrigerant_balance"), period))
    assert office.get(reverse("refrigerant_workbook"), period).status_code == 404


def test_a_units_page_says_that_the_law_means_larger_charges(office):
    install = InstallFactory(unit__serial="S-1")
    MovementFactory(install=install)
    page = text(office.get(reverse("unit_refrigerant", args=["s-1"])))
    assert "set for far larger charges" in page and "not legal advice" in page
    assert "never read as a charge" in page
    assert "R-134a" in page and "by AR4" in page


def test_the_shops_law_chooses_the_report(office, settings):
    settings.GWP = "AR6"
    InstallFactory(unit__serial="S-1", unit__model__charge_g=500)
    # 0.5 kg of R-134a is 765 kg CO2e by AR6 (check values 1.5).
    assert "0.765 t CO2e by AR6" in text(office.get(reverse("unit_refrigerant", args=["S-1"])))


def test_a_longer_book_takes_no_more_queries(office, django_assert_max_num_queries):
    cylinder = in_book()
    for _number in range(5):
        book.move(UnitFactory(), MovementKind.CHARGED, 20, cylinder, by())
        in_book()
    with django_assert_max_num_queries(18):
        office.get(cylinder.get_absolute_url())
    with django_assert_max_num_queries(14):
        office.get(reverse("refrigerant_balance"), {"from": "2024-01-01", "to": "2024-12-31"})


def test_a_movement_that_is_asked_about_stands_ready_to_be_struck_out(office):
    cylinder = in_book()
    movement = book.move(UnitFactory(), MovementKind.CHARGED, 520, cylinder, by())
    Movement.objects.update(at=datetime.now(UTC))
    asked = text(office.get(cylinder.get_absolute_url(), {"movement": movement.pk}))
    form = asked.split('id="correct-move"')[1].split("</form>")[0]
    assert f'<option value="{movement.pk}" selected>' in form and 'value="0"' in form


def test_a_balance_is_told_by_the_owner_of_the_cylinders(office):
    owner = CustomerFactory(name="Otter Quill Carriers")
    theirs, own = in_book(3_000, owner=owner), in_book(7_000)
    period = {"from": START.date().isoformat(), "to": NOW.date().isoformat()}
    for asked, codes in {"": {theirs, own}, "shop": {own}, str(owner.pk): {theirs}}.items():
        context = office.get(reverse("refrigerant_balance"), period | {"owner": asked}).context
        assert {account for account, _values, _balances in context["by_cylinder"].rows} == codes
        assert context["by_cylinder"].balances
