"""What care is due at a unit, and that care done at a visit begins anew."""

import importlib
import uuid
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from service.book import By
from service.care import care_caution, care_of
from service.models import CareDone, CareItem, CareTask, Visit
from service.visiting import Told, log_visit
from tests.factories import (
    BookingFactory,
    CertifiedFactory,
    InstallFactory,
    OvernightFactory,
    UnitFactory,
    VisitFactory,
)

NOON = datetime(2026, 6, 30, 17, tzinfo=UTC)
TODAY = NOON.date()


@pytest.fixture(autouse=True)
def rules(db):
    """Rules of this file's own: what the owner has edited does not matter here."""
    CareItem.objects.all().delete()
    CareItem.objects.create(task=CareTask.FILTER, months=3, run_hours=100)
    CareItem.objects.create(task=CareTask.COILS, months=6)


@pytest.fixture
def install():
    return InstallFactory(installed_on=date(2026, 5, 1))


@pytest.fixture
def by(tomas):
    return By(NOON, NOON, CertifiedFactory(person=tomas), tomas)


def nights(install, count: int, first: datetime) -> None:
    for number in range(count):
        OvernightFactory(install=install, began_at=first + timedelta(days=number), run_h=10)


def stands(install, user, today=TODAY) -> dict:
    return {care.task: care for care in care_of([install.unit], user, today)[install.unit_id]}


def due_tasks(install, user, today=TODAY) -> list[str]:
    return [task for task, care in stands(install, user, today).items() if care.is_due]


def test_care_is_counted_from_the_install(install, olga):
    care = stands(install, olga)
    assert care["filter"].due_on == date(2026, 8, 1)
    assert care["coils"].due_on == date(2026, 11, 1)
    assert due_tasks(install, olga) == []


def test_whichever_comes_first_makes_care_due(install, olga):
    assert due_tasks(install, olga, date(2026, 8, 1)) == ["filter"]
    nights(install, 10, datetime(2026, 5, 2, 3, tzinfo=UTC))
    assert due_tasks(install, olga) == ["filter"]


def test_care_done_at_a_visit_begins_anew(install, by, olga):
    nights(install, 10, datetime(2026, 5, 2, 3, tzinfo=UTC))
    log_visit(install.unit, Told(care_done=["filter"]), by, uuid.uuid4(), NOON)
    nights(install, 2, NOON + timedelta(hours=10))
    care = stands(install, olga)["filter"]
    assert (care.last_done, care.due_on) == (TODAY, date(2026, 9, 30))
    assert (care.left_h, care.is_due) == (80, False)
    assert stands(install, olga)["coils"].last_done is None


def test_a_visit_that_is_sent_again_tells_its_care_once(install, by):
    sent_id, told = uuid.uuid4(), Told(care_done=["filter", "coils"])
    for _replay in range(3):
        log_visit(install.unit, told, by, sent_id, NOON)
    assert sorted(CareDone.objects.values_list("task", flat=True)) == ["coils", "filter"]


def test_an_unknown_task_leaves_no_visit_behind(install, by):
    with pytest.raises(ValidationError):
        log_visit(install.unit, Told(care_done=["polish"]), by, uuid.uuid4(), NOON)
    assert not Visit.objects.exists()


def test_a_row_of_the_models_own_comes_before_that_of_every_model(install, olga):
    CareItem.objects.create(task=CareTask.COILS, unit_model=install.unit.model, months=1)
    other = InstallFactory(installed_on=install.installed_on)
    assert due_tasks(install, olga) == ["coils"]
    assert due_tasks(other, olga) == []


def test_a_unit_in_no_truck_has_no_care_due(install, olga):
    install.removed_on = TODAY
    install.save()
    assert care_of([install.unit, UnitFactory()], olga, TODAY) == {}


def test_a_unit_that_came_from_another_truck_is_counted_from_its_first_install(install, olga):
    install.removed_on = date(2026, 6, 1)
    install.save()
    again = InstallFactory(unit=install.unit, installed_on=date(2026, 6, 1))
    assert stands(again, olga)["filter"].due_on == date(2026, 8, 1)


def test_a_fleet_sees_nothing_of_an_earlier_fleets_time(install, frida, olga):
    nights(install, 10, datetime(2026, 5, 2, 3, tzinfo=UTC))
    CareDone.objects.create(task="coils", visit=VisitFactory(install=install, at=NOON))
    install.removed_on = date(2026, 6, 1)
    install.save()
    hers = InstallFactory(
        unit=install.unit,
        tractor__customer=frida.customers.get(),
        installed_on=date(2026, 6, 1),
    )
    care = stands(hers, frida)
    assert (care["filter"].left_h, care["filter"].due_on) == (100, date(2026, 9, 1))
    assert care["coils"].last_done is None
    assert stands(hers, olga)["coils"].last_done == TODAY


def test_many_units_cost_as_much_as_one(olga, django_assert_num_queries):
    units = [InstallFactory().unit for _number in range(4)]
    # Installs, rules, what was done, and the run hours of the one task that counts them.
    for some in (units[:1], units):
        with django_assert_num_queries(4):
            care_of(some, olga, TODAY)


def test_a_rule_says_at_least_months_or_run_hours():
    with pytest.raises(IntegrityError, match="care_item_is_dated"), transaction.atomic():
        CareItem.objects.create(task=CareTask.DRAIN)
    with pytest.raises(ValidationError, match="Give months, run hours or both"):
        CareItem(task=CareTask.DRAIN).full_clean()


def test_every_model_has_one_rule_a_task():
    with pytest.raises(IntegrityError), transaction.atomic():
        CareItem.objects.create(task=CareTask.COILS, months=9)


def test_a_new_book_begins_with_the_usual_rules():
    CareItem.objects.all().delete()
    editor = SimpleNamespace(connection=connection)
    importlib.import_module("service.migrations.0006_care").add(apps, editor)
    given = {row.task: (row.months, row.run_hours) for row in CareItem.objects.all()}
    # Common practice, no source.
    assert given == {
        "filter": (3, 500),
        "coils": (6, None),
        "fasteners": (12, None),
        "hoses": (12, None),
        "drain": (6, None),
    }


@pytest.mark.parametrize("task", CareTask.values)
def test_every_task_has_its_caution(task):
    assert care_caution(task)


@pytest.mark.parametrize("task", ["coils", "drain"])
def test_water_meets_no_unit_that_is_live(task):
    assert "Unit off and battery disconnected" in care_caution(task)


# The pages


@pytest.fixture
def old():
    """In its truck for so long that everything is due on whatever day the tests run."""
    return InstallFactory(installed_on=date(2024, 3, 4))


def test_the_first_screen_says_what_is_due_and_the_form_takes_it(client, tomas, old):
    client.force_login(tomas)
    address = f"/visits/log/{old.unit.serial}/"
    text = client.get(address).content.decode()
    assert "Care due at this stop:</strong> " in text
    assert "Coils" in text.split("Care due at this stop:")[1].split("</p>")[0]
    section = text.split('id="care"')[1].split("</fieldset>")[0]
    assert "battery disconnected" in section.split('value="coils"')[0]
    told = {"sent_id": uuid.uuid4(), "seen_at": "", "care_done": ["coils", "filter"]}
    client.post(address, told)
    visit = Visit.objects.get()
    assert {care.task for care in visit.care.all()} == {"coils", "filter"}
    page = client.get(visit.get_absolute_url()).content.decode()
    assert "<td>coils, filter</td>" in page
    assert "Care due at this stop:" not in client.get(address).content.decode()


def test_a_refused_form_keeps_what_was_ticked(client, tomas, old):
    client.force_login(tomas)
    told = {"sent_id": uuid.uuid4(), "care_done": ["filter"], "suction_kpa": "many"}
    text = client.post(f"/visits/log/{old.unit.serial}/", told).content.decode()
    ticked = text.split('value="filter"')[1].split(">")[0]
    assert "checked" in ticked
    assert "checked" not in text.split('value="coils"')[1].split(">")[0]


def test_the_unit_page_lists_care_for_the_fleet_too(client, frida):
    hers = InstallFactory(tractor__customer=frida.customers.get(), installed_on=date(2024, 3, 4))
    client.force_login(frida)
    text = client.get(f"/units/{hers.unit.serial}/").content.decode()
    assert "<strong>Filter</strong>: now due; due on 2024-06-04" in text


def test_the_list_of_the_day_says_what_is_due_at_a_booked_truck(client, olga, old):
    now = timezone.now()
    BookingFactory(tractor=old.tractor, begins_at=now, ends_at=now + timedelta(hours=1))
    client.force_login(olga)
    text = client.get("/visits/").content.decode()
    assert "Care due: filter, coils" in text
