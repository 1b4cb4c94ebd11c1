"""A truck is sold: from that day on it is another fleet's, and each sees its own time only."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from installs.models import Booking, Install, Terms, Unit
from installs.sales import sell_tractor
from reports.cover import cover_of
from reports.epochs import bank_epochs
from reports.frames import fleet_frames
from service.models import Movement, Overnight, Reading, Visit
from tests.factories import (
    BatteryRenewalFactory,
    BookingFactory,
    CustomerFactory,
    InstallFactory,
    MovementFactory,
    OvernightFactory,
    ReadingFactory,
    ScreenRunFactory,
    TractorFactory,
    UnitFactory,
    VisitFactory,
    YardFactory,
)
from tests.fleets import fleet_of
from tests.test_access import body

pytestmark = pytest.mark.django_db

AT = datetime(2025, 3, 1, 18, tzinfo=UTC)
SOLD_ON = date(2024, 9, 1)
IN_SALE_YEAR = datetime(2024, 10, 2, 15, tzinfo=UTC)


def refused(words: str):
    return pytest.raises(ValidationError, match=words)


@pytest.fixture
def buyer():
    return CustomerFactory(name="Birch Haulage")


@pytest.fixture
def install():
    """In its truck since 2024-03-04."""
    return InstallFactory(tractor__truck_number="T-1", unit__serial="K-7")


def sell(tractor, buyer, on_day=SOLD_ON, number="B-5", by=None) -> None:
    sell_tractor(tractor, buyer, on_day, number, by, AT)


def spans(unit) -> list[tuple]:
    return list(unit.installs.values_list("customer__name", "installed_on", "removed_on"))


class TestTheSale:
    def test_the_install_ends_for_the_seller_and_begins_for_the_buyer(self, install, buyer):
        seller = install.customer
        sell(install.tractor, buyer)
        assert spans(install.unit) == [
            (seller.name, date(2024, 3, 4), SOLD_ON),
            (buyer.name, SOLD_ON, None),
        ]
        assert {one.tractor for one in install.unit.installs.all()} == {install.tractor}

    def test_the_truck_is_the_buyers_under_their_own_number(self, install, buyer, olga):
        sell(install.tractor, buyer, by=olga)
        install.tractor.refresh_from_db()
        assert (install.tractor.customer, install.tractor.truck_number) == (buyer, "B-5")
        written = install.tractor.history.first()
        assert written.history_user == olga
        assert "Birch Haulage" in written.history_change_reason

    def test_the_sellers_yard_stays_the_sellers(self, install, buyer):
        tractor = install.tractor
        tractor.yard = YardFactory(customer=tractor.customer)
        tractor.save()
        sell(tractor, buyer)
        tractor.refresh_from_db()
        assert tractor.yard is None

    def test_a_truck_without_a_unit_is_sold_too(self, buyer):
        tractor = TractorFactory()
        sell(tractor, buyer)
        assert (tractor.customer, Install.objects.count()) == (buyer, 0)

    def test_on_the_day_of_the_install_the_install_changes_hands(self, install, buyer):
        sell(install.tractor, buyer, on_day=install.installed_on)
        assert spans(install.unit) == [(buyer.name, date(2024, 3, 4), None)]

    def test_on_the_day_itself(self, install, buyer):
        sell(install.tractor, buyer, on_day=date(2025, 3, 1))
        assert install.unit.installs.current().get().customer == buyer

    def test_sold_on_again_and_back(self, install, buyer):
        seller = install.customer
        sell(install.tractor, buyer)
        sell(install.tractor, seller, on_day=date(2024, 12, 1), number="T-1")
        assert [span[0] for span in spans(install.unit)] == [
            seller.name,
            buyer.name,
            seller.name,
        ]

    def test_the_database_still_refuses_a_second_current_install(self, install, buyer):
        sell(install.tractor, buyer)
        with pytest.raises(IntegrityError), transaction.atomic():
            InstallFactory(unit=install.unit, installed_on=date(2025, 1, 1))


class TestRefusals:
    def test_to_whom_it_is_already(self, install):
        with refused("already"):
            sell(install.tractor, install.customer)

    def test_on_a_day_to_come(self, install, buyer):
        with refused("still to come"):
            sell(install.tractor, buyer, on_day=date(2025, 3, 2))

    def test_before_the_unit_went_in(self, install, buyer):
        with refused("K-7 was put in on 2024-03-04"):
            sell(install.tractor, buyer, on_day=date(2024, 3, 3))

    def test_before_the_seller_had_a_unit_taken_out(self, install, buyer):
        install.removed_on = date(2024, 10, 1)
        install.save()
        with refused("taken out on 2024-10-01"):
            sell(install.tractor, buyer)

    def test_while_the_seller_has_it_booked_in(self, install, buyer):
        BookingFactory(tractor=install.tractor, unit=UnitFactory())
        with refused("booked in for 2026-11-30"):
            sell(install.tractor, buyer)

    def test_a_refusal_changes_nothing(self, install, buyer):
        with refused("put in"):
            sell(install.tractor, buyer, on_day=date(2024, 3, 3))
        install.tractor.refresh_from_db()
        assert install.tractor.customer == install.customer
        assert Install.objects.count() == 1


EVENTS = [
    (VisitFactory, Visit, "at"),
    (ReadingFactory, Reading, "taken_at"),
    (OvernightFactory, Overnight, "began_at"),
    (MovementFactory, Movement, "at"),
]


class TestWhatIsOnRecord:
    @pytest.mark.parametrize(("factory", "model", "time"), EVENTS)
    def test_of_after_the_sale_follows_to_the_buyer(self, install, buyer, factory, model, time):
        # UTC-5 in summer: the first is still the evening before the sale, at the shop.
        moments = [
            datetime(2024, 9, 1, 4, 59, tzinfo=UTC),
            datetime(2024, 9, 1, 5, 1, tzinfo=UTC),
            IN_SALE_YEAR,
        ]
        for moment in moments:
            factory(install=install, **{time: moment})
        sell(install.tractor, buyer)
        owners = model.objects.order_by(time).values_list("customer__name", "tractor")
        truck = install.tractor_id
        assert list(owners) == [
            (install.customer.name, truck),
            (buyer.name, truck),
            (buyer.name, truck),
        ]


class TestWhatEachFleetSees:
    """Frida sells her truck to Frank on 2024-09-01."""

    @pytest.fixture
    def sold(self, frida, frank):
        run = ScreenRunFactory()
        fleet = fleet_of(frida.customers.get(), run, truck="TRK-FRIDA", serial="SER-SOLD", visits=0)
        for number in range(4):
            when = datetime(2024, 4 + 2 * number, 10, 15, tzinfo=UTC)
            VisitFactory(install=fleet.install, at=when, complaint=f"complaint of {when:%B}")
            ReadingFactory(install=fleet.install, taken_at=when, gauge=f"gauge-{when:%B}")
        Booking.objects.update(state="called_off")
        sell(fleet.tractor, frank.customers.get(), number="TRK-FRANK")
        return fleet

    def page(self, client, person, name, *arguments):
        client.force_login(person)
        return client.get(reverse(name, args=arguments))

    def test_the_seller_sees_their_own_time_on_the_units_page(self, client, frida, sold):
        text = body(self.page(client, frida, "unit", "SER-SOLD"))
        assert "complaint of June" in text and "complaint of August" in text
        assert "complaint of October" not in text and "gauge-October" not in text
        assert "Frank" not in text

    def test_the_buyer_sees_their_own_time_on_the_units_page(self, client, frank, sold):
        text = body(self.page(client, frank, "unit", "SER-SOLD"))
        assert "complaint of October" in text and "gauge-October" in text
        assert "complaint of August" not in text and "gauge-June" not in text
        assert "Frida" not in text and "TRK-FRIDA" not in text

    def test_the_units_page_says_that_the_truck_was_sold(self, client, frida, frank, olga, sold):
        came = "Came with truck TRK-FRANK of Frank&#x27;s fleet, when that was bought"
        went = f"Sold with the truck with VIN {sold.tractor.vin} of Frida&#x27;s fleet"
        pages = {who: body(self.page(client, who, "unit", "SER-SOLD")) for who in (frida, frank)}
        assert went in pages[frida] and came not in pages[frida]
        assert came in pages[frank] and went not in pages[frank]
        shop = body(self.page(client, olga, "unit", "SER-SOLD"))
        assert came in shop and went in shop and "Removed from" not in shop

    def test_the_trucks_page_is_the_buyers(self, client, frida, frank, sold):
        vin = sold.tractor.vin
        assert self.page(client, frida, "tractor", vin).status_code == 404
        text = body(self.page(client, frank, "tractor", vin))
        assert "SER-SOLD" in text and "2024-09-01" in text
        assert [word for word in ("Frida", "FRIDA", "2024-03-04") if word in text] == []

    def test_the_workbook_of_each_tells_their_own_time(self, client, frida, frank, sold):
        sellers = body(self.page(client, frida, "fleet_workbook"))
        buyers = body(self.page(client, frank, "fleet_workbook"))
        assert "complaint of August" not in buyers and "TRK-FRIDA" not in buyers
        assert "datetime.datetime(2024, 10, 10" in buyers
        assert "datetime.datetime(2024, 10, 10" not in sellers
        assert "datetime.datetime(2024, 8, 10" in sellers
        assert "TRK-FRANK" not in sellers and "Frank" not in sellers

    def test_the_shop_sees_both(self, client, olga, sold):
        text = body(self.page(client, olga, "unit", "SER-SOLD"))
        assert "complaint of August" in text and "complaint of October" in text

    def test_the_terms_count_on_from_the_first_install(self, frida, frank, olga, sold):
        Terms.objects.create(name="Standard", given_from=date(2020, 1, 1))
        today = date(2025, 3, 1)
        for person in (frida, olga):
            assert cover_of(sold.unit, person, today).counted_from == date(2024, 3, 4)
        # The first install was another fleet's: its day is not told.
        assert cover_of(sold.unit, frank, today) is None

    def test_batteries_renewed_before_the_sale_are_the_sellers_affair(self, frida, frank, sold):
        bank = sold.tractor.bank
        before = BatteryRenewalFactory(bank=bank, at=datetime(2024, 8, 1, 12, tzinfo=UTC))
        after = BatteryRenewalFactory(bank=bank, at=datetime(2024, 10, 1, 12, tzinfo=UTC))
        renewals = bank.renewals.filter(pk__in=[before.pk, after.pk])
        seen = {who: set(renewals.visible_to(who)) for who in (frida, frank)}
        assert seen == {frida: {before}, frank: {after}}

    def test_the_sale_is_no_break_in_what_was_measured(self, sold):
        units = Unit.objects.filter(pk=sold.unit.pk)
        frames = fleet_frames(units, date(2025, 3, 1))
        assert [epoch.word for epoch in bank_epochs(frames)] == ["installed", "batteries renewed"]

    def test_what_the_screen_said_before_the_sale_sends_no_one_to_bring_the_truck_in(
        self, client, frida, frank, olga, sold
    ):
        said = {
            person: len(self.page(client, person, "findings").context["table"].rows)
            for person in (frida, frank, olga)
        }
        assert said == {frida: 0, frank: 0, olga: 1}
