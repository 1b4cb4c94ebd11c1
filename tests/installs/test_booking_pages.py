"""The pages of bookings, as office staff and technicians open them."""

from datetime import date, timedelta
from html import unescape

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags

from installs.certificates import issue
from installs.forms.bookings import SlotField
from installs.models import Booking, DayOff, Unit
from tests.factories import (
    BayFactory,
    BookingFactory,
    CertifiedFactory,
    CustomerFactory,
    JobFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)
from tests.installs.proved import proved_commissioning

pytestmark = pytest.mark.django_db

NEW = reverse("booking_new")
MONDAY = "2026-11-30"


def text(response) -> str:
    return " ".join(unescape(response.content.decode()).split())


def words(response) -> str:
    """What is read on a page, without its tags."""
    return " ".join(unescape(strip_tags(response.content.decode())).split())


class Shop:
    def __init__(self) -> None:
        self.bay = BayFactory(name="Bay 1")
        self.yard = self.bay.yard
        self.ann = CertifiedFactory(name="Ann", yard=self.yard)
        self.job = JobFactory(name="Install a unit")
        self.model = UnitModelFactory(name="Cab-12")
        for n in (1, 2, 3):
            UnitFactory(serial=f"U-{n}", model=self.model, yard=self.yard)
        fleet = CustomerFactory(name="Big fleet", contact_email="boss@fleet.example")
        self.tractor = TractorFactory(truck_number="T-104", customer=fleet)

    def asked(self, **kwargs) -> dict:
        asked = {
            "tractor": "T-104",
            "job": self.job.pk,
            "yard": self.yard.pk,
            "model": "Cab-12",
            "from_day": f"{timezone.localdate() + timedelta(days=7)}",
        }
        return asked | kwargs


@pytest.fixture
def shop(db):
    return Shop()


@pytest.fixture
def office(client, olga):
    client.force_login(olga)
    return client


def offered(response) -> list:
    return response.context["form"].slots


def book_first(office, shop, **kwargs):
    slot = offered(office.get(NEW, shop.asked()))[0]
    return office.post(NEW, shop.asked(slot=SlotField.written(slot), **kwargs))


# A new booking


def test_the_way_from_a_truck_number_to_a_booking(office, shop, olga):
    page = office.get(NEW, shop.asked())
    first = offered(page)[0]
    assert SlotField.written(first) in text(page)
    assert 'value="boss@fleet.example"' in text(page)
    response = office.post(
        NEW,
        shop.asked(
            slot=SlotField.written(first),
            pass_through="wall",
            mounting_side="rear",
            contact_email="driver@fleet.example",
            note="Comes at night",
        ),
    )
    booking = Booking.objects.get()
    assert response.url == booking.get_absolute_url()
    assert (booking.begins_at, booking.bay, booking.technician) == (
        first.begins_at,
        shop.bay,
        shop.ann,
    )
    assert (booking.pass_through, booking.mounting_side) == ("wall", "rear")
    assert (booking.contact_email, booking.note) == ("driver@fleet.example", "Comes at night")
    assert (booking.booked_by, booking.unit.serial) == (olga, "U-1")


def test_a_page_opened_from_a_truck_asks_for_the_rest_without_complaint(office, shop):
    page = office.get(NEW, {"tractor": shop.tractor.vin, "model": "Cab-12"})
    assert f'value="{shop.tractor.vin}"' in text(page)
    assert '<option value="Cab-12" selected>' in text(page)
    assert "invalid" not in text(page)
    assert page.context["form"] is None


@pytest.mark.parametrize("typed", ["t-104", "#T-104", " T-104 ", "{vin}", "{end}", "{spaced}"])
def test_a_truck_is_found_however_it_is_typed(office, shop, typed):
    vin = shop.tractor.vin
    typed = typed.format(vin=vin.lower(), end=vin[-6:], spaced=f"{vin[:3]} {vin[3:11]}-{vin[11:]}")
    page = office.get(NEW, shop.asked(tractor=typed))
    assert page.context["asked"].cleaned_data["tractor"] == shop.tractor


def test_the_letter_o_in_a_vin_is_a_zero(office, shop):
    page = office.get(NEW, shop.asked(tractor=shop.tractor.vin.replace("0", "O")))
    assert page.context["asked"].cleaned_data["tractor"] == shop.tractor


def test_where_several_trucks_fit_they_are_listed_to_choose_from(office, shop):
    other = TractorFactory(truck_number="T-104")
    page = office.get(NEW, shop.asked())
    assert "Several trucks fit" in text(page)
    assert shop.tractor.vin in text(page)
    link = f"?tractor={other.vin}&job={shop.job.pk}&model=Cab-12&yard={shop.yard.pk}"
    assert link in text(page)
    chosen = office.get(NEW + link)
    assert chosen.context["asked"].cleaned_data["tractor"] == other


def test_an_unknown_truck_is_said(office, shop):
    page = office.get(NEW, shop.asked(tractor="NO-SUCH"))
    assert "No truck on record has this number or VIN" in text(page)
    assert 'value="NO-SUCH"' in text(page)


def test_two_clicks_are_one_booking(office, shop):
    slot = SlotField.written(offered(office.get(NEW, shop.asked()))[0])
    urls = {office.post(NEW, shop.asked(slot=slot)).url for _click in range(2)}
    assert urls == {Booking.objects.get().get_absolute_url()}


def test_who_comes_second_keeps_what_they_wrote_and_gets_the_next_times(office, shop):
    slot = offered(office.get(NEW, shop.asked()))[0]
    BookingFactory(
        bay=shop.bay, technician=shop.ann, begins_at=slot.begins_at, ends_at=slot.ends_at
    )
    asked = shop.asked(slot=SlotField.written(slot), note="Blue cab", contact_email="a@b.example")
    page = office.post(NEW, asked)
    assert page.status_code == 200
    assert "The bay was just taken for that time." in text(page)
    assert "The technician was just booked for that time." in text(page)
    assert "Blue cab" in text(page)
    assert 'value="a@b.example"' in text(page)
    assert offered(page)
    again = office.post(NEW, asked | {"slot": SlotField.written(offered(page)[0])})
    assert again.status_code == 302
    assert Booking.objects.count() == 2


@pytest.mark.parametrize(
    "slot",
    ["", "nonsense", "20261201T1400Z.x.1", "20261201T1400Z.999999.999999", "20261399T1400Z.1.1"],
)
def test_a_slot_that_is_none_is_refused_and_others_are_shown(office, shop, slot):
    page = office.post(NEW, shop.asked(slot=slot))
    assert page.status_code == 200
    assert "Choose" in str(page.context["form"].errors["slot"])
    assert offered(page)
    assert Booking.objects.count() == 0


def test_a_bay_of_another_yard_is_refused(office, shop):
    slot = offered(office.get(NEW, shop.asked()))[0]
    other = BayFactory(yard=YardFactory(customer=None, name="South yard"))
    key = SlotField.written(slot).replace(f".{shop.bay.pk}.", f".{other.pk}.")
    page = office.post(NEW, shop.asked(slot=key))
    assert "This bay is in another yard" in text(page)


def test_a_model_that_is_not_in_stock_is_said_with_the_yards_that_have_one(office, shop):
    model = UnitModelFactory(name="Cab-9")
    UnitFactory(model=model, yard=YardFactory(customer=None, name="South yard"))
    page = office.get(NEW, shop.asked(model="Cab-9"))
    assert "No Cab-9 is free in Shop yard. Free elsewhere: South yard (1)." in text(page)
    assert "Choose a time" not in text(page)


def test_who_comes_second_for_the_last_unit_asks_anew_and_loses_nothing(office, shop):
    slot = SlotField.written(offered(office.get(NEW, shop.asked()))[0])
    other = UnitModelFactory(name="Cab-9")
    Unit.objects.update(model=other)
    asked = shop.asked(slot=slot, note="Blue cab", contact_email="a@b.example")
    page = office.post(NEW, asked)
    assert "No Cab-12 is free in any yard" in text(page)
    assert "Blue cab" in text(page)
    del asked["slot"]
    page = office.post(NEW, asked | {"model": "Cab-9"})
    assert offered(page)
    assert "Blue cab" in text(page)
    assert 'value="a@b.example"' in text(page)
    assert Booking.objects.count() == 0


def test_a_serial_that_cannot_be_held_is_said_at_its_field(office, shop):
    page = book_first(office, shop, serial="NONE")
    assert "No unit NONE is on record" in str(page.context["form"].errors["serial"])
    assert Booking.objects.count() == 0


def test_a_job_without_a_unit_asks_for_none(office, shop):
    job = JobFactory(name="Look at it", minutes=60, puts_a_unit_in=False, opens_the_circuit=False)
    page = office.get(NEW, shop.asked(job=job.pk, model=""))
    assert offered(page)
    assert "serial" not in page.context["form"].fields
    first = SlotField.written(offered(page)[0])
    office.post(NEW, shop.asked(job=job.pk, model="", slot=first))
    assert Booking.objects.get().unit is None


def test_where_no_time_is_free_the_page_says_where_to_look(office, shop):
    DayOff.objects.create(
        technician=shop.ann, first_day=date(2020, 1, 1), last_day=date(2099, 1, 1)
    )
    assert "No time is free in the next four months" in text(office.get(NEW, shop.asked()))


def test_a_new_booking_is_shown_in_a_bounded_number_of_queries(
    office, shop, django_assert_max_num_queries
):
    for n in range(5):
        BayFactory(yard=shop.yard, name=f"More {n}")
        CertifiedFactory(name=f"More {n}", yard=shop.yard)
    with django_assert_max_num_queries(20):
        office.get(NEW, shop.asked())


def test_a_technician_may_be_asked_for(office, shop):
    bob = CertifiedFactory(name="Bob", yard=shop.yard)
    page = office.get(NEW, shop.asked(technician=bob.pk))
    assert {slot.technician for slot in offered(page)} == {bob}


# One booking


@pytest.fixture
def monday(shop):
    return BookingFactory(bay=shop.bay, technician=shop.ann, job=shop.job, tractor=shop.tractor)


def test_a_technician_reads_a_booking_and_changes_nothing(client, tomas, monday):
    client.force_login(tomas)
    page = text(client.get(monday.get_absolute_url()))
    assert monday.tractor.vin in page
    assert "through the floor" in page
    assert "Call it off" not in page
    for name in (
        "booking_call_off",
        "booking_amend",
        "booking_hold",
        "booking_release",
        "booking_done",
    ):
        assert client.post(reverse(name, args=[monday.pk])).status_code == 403
    assert client.get(reverse("booking_move", args=[monday.pk])).status_code == 403


def test_the_page_of_a_flammable_unit_carries_the_caution(office, monday):
    assert "burns" not in text(office.get(monday.get_absolute_url()))
    monday.unit_model.refrigerant = "R-290"
    monday.unit_model.save()
    assert "R-290 burns" in text(office.get(monday.get_absolute_url()))


def test_a_booking_leads_to_its_commissioning_and_certificate(office, monday):
    commissioning = proved_commissioning()
    commissioning.booking = monday
    commissioning.save()
    page = monday.get_absolute_url()
    assert commissioning.get_absolute_url() in text(office.get(page))
    certificate = issue(
        commissioning, commissioning.technician, "R. Quillfeather", [], timezone.now()
    )
    assert certificate.get_absolute_url() in text(office.get(page))


def test_in_spanish_a_day_is_said_as_spanish_says_it(office, monday):
    office.cookies[settings.LANGUAGE_COOKIE_NAME] = "es"
    assert "lunes, 30 de noviembre de 2026" in text(office.get(monday.get_absolute_url()))


def test_a_booking_is_moved_by_picking_another_slot(office, shop):
    booking = Booking.objects.get(pk=book_first(office, shop).url.split("/")[-2])
    move = reverse("booking_move", args=[booking.pk])
    later = offered(office.get(move, {"from_day": f"{timezone.localdate() + timedelta(days=14)}"}))[
        0
    ]
    response = office.post(move, {"slot": SlotField.written(later)}, follow=True)
    booking.refresh_from_db()
    assert (booking.begins_at, booking.sequence) == (later.begins_at, 1)
    assert "Moved." in text(response)


def test_a_move_onto_what_was_taken_meanwhile_offers_others(office, shop):
    booking = Booking.objects.get(pk=book_first(office, shop).url.split("/")[-2])
    move = reverse("booking_move", args=[booking.pk])
    slot = offered(office.get(move, {"from_day": f"{timezone.localdate() + timedelta(days=14)}"}))[
        0
    ]
    BookingFactory(
        bay=shop.bay, technician=shop.ann, begins_at=slot.begins_at, ends_at=slot.ends_at
    )
    page = office.post(move, {"slot": SlotField.written(slot)})
    assert "The bay was just taken for that time." in text(page)
    assert offered(page)
    booking.refresh_from_db()
    assert booking.sequence == 0


def test_another_unit_is_held_and_let_go(office, shop):
    booking = Booking.objects.get(pk=book_first(office, shop).url.split("/")[-2])
    page = office.post(reverse("booking_hold", args=[booking.pk]), {"serial": "u-3"}, follow=True)
    assert "Unit U-3 is held." in text(page)
    page = office.post(reverse("booking_release", args=[booking.pk]), follow=True)
    assert "The unit is free again." in text(page)
    booking.refresh_from_db()
    assert booking.unit is None


def test_a_unit_that_is_not_there_is_said_on_the_bookings_page(office, monday):
    page = office.post(reverse("booking_hold", args=[monday.pk]), {"serial": "NONE"})
    assert page.status_code == 200
    assert "No unit NONE is on record" in text(page)


def test_what_is_noted_is_changed_on_the_bookings_page(office, monday):
    address = reverse("booking_amend", args=[monday.pk])
    page = office.post(address, {"contact_email": "not an address"})
    assert "Enter a valid email address" in text(page)
    noted = {"contact_email": "new@fleet.example", "pass_through": "wall", "note": "Blue cab"}
    page = text(office.post(address, noted, follow=True))
    assert "through the wall" in page
    assert "Blue cab" in page
    assert "new@fleet.example has not been told of it as it is now" in page


def test_a_booking_is_called_off_with_a_reason(office, monday):
    address = reverse("booking_call_off", args=[monday.pk])
    assert "This field is required" in text(office.post(address, {"why": ""}))
    page = words(office.post(address, {"why": "Truck sold"}, follow=True))
    assert "Called off: Truck sold" in page
    assert "Move to another time" not in page
    assert "is called off already" in text(office.post(address, {"why": "again"}))


def test_a_booking_is_marked_done_once_it_has_begun(office, shop):
    now = timezone.now()
    later = BookingFactory(begins_at=now + timedelta(hours=1), ends_at=now + timedelta(hours=2))
    begun = BookingFactory(begins_at=now - timedelta(hours=1), ends_at=now + timedelta(hours=2))
    for booking, state in ((later, "booked"), (begun, "done")):
        page = office.post(reverse("booking_done", args=[booking.pk]), follow=True)
        booking.refresh_from_db()
        assert booking.state == state
        assert ("has not begun" in text(page)) is (state == "booked")


def test_a_booking_is_taken_away_as_a_calendar_file(office, monday):
    response = office.get(reverse("booking_ics", args=[monday.pk]))
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert f"UID:{monday.uid}" in response.content.decode()
