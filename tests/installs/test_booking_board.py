"""The board of bookings: the day and the week by bay, the holidays among them."""

from datetime import UTC, date, datetime, timedelta
from html import unescape

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags

from installs.closed_days import holiday_name
from installs.models import Booking, BookingState, DayOff
from tests.factories import (
    BayFactory,
    BookingFactory,
    CertifiedFactory,
    TractorFactory,
    YardFactory,
)
from tests.installs.bookable import Shop

pytestmark = pytest.mark.django_db

MONDAY = "2026-11-30"


def text(response) -> str:
    return " ".join(unescape(response.content.decode()).split())


def words(response) -> str:
    """What is read on a page, without its tags."""
    return " ".join(unescape(strip_tags(response.content.decode())).split())


@pytest.fixture
def shop():
    return Shop(tractor=TractorFactory(truck_number="T-104", customer__name="Big fleet"))


@pytest.fixture
def office(client, olga):
    client.force_login(olga)
    return client


@pytest.fixture
def monday(shop):
    return BookingFactory(bay=shop.bay, technician=shop.ann, job=shop.job, tractor=shop.tractor)


@pytest.mark.parametrize("span", ["day", "week"])
def test_the_board_says_what_a_booking_is(client, tomas, monday, span):
    client.force_login(tomas)
    page = text(client.get(reverse("bookings"), {"day": MONDAY, "span": span}))
    for words in (
        "08:00–14:00",
        "truck T-104",
        "Big fleet",
        "Install, Ann",
        f"unit {monday.unit} held; booked",
        monday.get_absolute_url(),
    ):
        assert words in page


def test_a_day_shows_that_day_only_and_a_week_goes_from_monday(office, monday):
    address = reverse("bookings")
    assert "T-104" not in text(office.get(address, {"day": "2026-12-01"}))
    assert "T-104" in text(office.get(address, {"day": "2026-12-06", "span": "week"}))
    assert "T-104" not in text(office.get(address, {"day": "2026-12-07", "span": "week"}))


def test_the_table_of_a_day_gives_a_booking_as_many_rows_as_it_lasts(office, shop, monday):
    other = BookingFactory(
        bay=BayFactory(yard=shop.yard, name="Bay 2"),
        begins_at=monday.begins_at + timedelta(hours=2),
        ends_at=monday.ends_at + timedelta(hours=2),
    )
    page = office.get(reverse("bookings"), {"day": MONDAY})
    rows = [
        [(cell.booking, cell.rows) for cell in cells]
        for _begin, _end, cells in page.context["days"][0].table()
    ]
    assert rows == [[(monday, 2), (None, 1)], [(other, 2)], [(None, 1)]]


def test_what_is_called_off_leaves_the_board(office, monday):
    Booking.objects.update(state=BookingState.CALLED_OFF)
    assert "T-104" not in text(office.get(reverse("bookings"), {"day": MONDAY}))


def test_the_board_names_holidays_and_who_is_away(office, shop):
    DayOff.objects.create(
        technician=shop.ann, first_day=date(2026, 11, 24), last_day=date(2026, 11, 27)
    )
    page = words(office.get(reverse("bookings"), {"day": "2026-11-26"}))
    assert "Public holiday: Thanksgiving Day" in page
    assert "Away: Ann" in page


def test_the_board_goes_to_the_days_before_and_after(office, shop):
    page = text(office.get(reverse("bookings"), {"day": MONDAY, "span": "week"}))
    assert "span=week&day=2026-11-23" in page
    assert "span=week&day=2026-12-07" in page


def test_the_board_of_another_yard_is_its_own(office, shop, monday):
    south = YardFactory(customer=None, name="South yard")
    BayFactory(yard=south)
    page = office.get(reverse("bookings"), {"day": MONDAY, "yard": south.pk})
    assert "T-104" not in text(page)


@pytest.mark.parametrize("nonsense", [{"day": "soon"}, {"yard": "x"}, {"span": "year"}])
def test_nonsense_in_the_address_shows_today(office, shop, nonsense):
    page = office.get(reverse("bookings"), nonsense)
    assert page.status_code == 200
    assert page.context["asked"].first == timezone.localdate()


def test_without_a_yard_the_page_says_who_enters_one(office):
    assert "The owner enters yards" in text(office.get(reverse("bookings")))


@pytest.mark.parametrize("span", ["day", "week"])
def test_the_board_takes_the_same_queries_for_one_booking_and_for_many(
    office, shop, monday, span, django_assert_num_queries
):
    for n in range(5):
        BookingFactory(
            bay=BayFactory(yard=shop.yard, name=f"More {n}"),
            technician=CertifiedFactory(name=f"More {n}", yard=shop.yard),
        )
    # Session, person, the yard, its bays, bookings, days off, the yards to choose from (twice).
    with django_assert_num_queries(8):
        page = office.get(reverse("bookings"), {"day": MONDAY, "span": span})
    assert (
        len({one for day in page.context["days"] for lane in day.lanes for one in lane.bookings})
        == 6
    )


def test_the_holidays_are_those_of_the_shops_region(settings):
    # 5 USC 6103; Texas Government Code 662.003: 2 March is a state holiday.
    assert holiday_name(date(2026, 7, 3)).startswith("Independence Day")
    assert holiday_name(date(2026, 3, 2)) == ""
    settings.REGION = "US-TX"
    assert holiday_name(date(2026, 3, 2)) == "Texas Independence Day"


@pytest.mark.parametrize("region", ["QQ", "US-QQ"])
def test_an_unknown_region_is_said_with_the_setting_to_mend(settings, region):
    settings.REGION = region
    with pytest.raises(ImproperlyConfigured, match=f"FLEETCOOL_REGION is '{region}'"):
        holiday_name(datetime(2026, 1, 1, tzinfo=UTC).date())
