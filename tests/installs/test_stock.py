"""What becomes of a unit: into a truck, out of it, from yard to yard, gone."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from installs.models import Install, StockMove, Unit
from installs.stock import move_to_yard, put_in, remove, return_to_maker, scrap
from installs.stock_status import Standing, count_stock, standing_words, with_standing
from tests.factories import (
    BookingFactory,
    CommissioningFactory,
    InstallFactory,
    ReadingFactory,
    TechnicianFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    VisitFactory,
    YardFactory,
)

pytestmark = pytest.mark.django_db

# The shop's clock is UTC-6 in November: it is the 25th there.
AT = datetime(2026, 11, 25, 18, tzinfo=UTC)
TODAY = date(2026, 11, 25)


@pytest.fixture
def yard():
    return YardFactory(customer=None, name="Shop yard")


@pytest.fixture
def unit(yard):
    return UnitFactory(serial="K-7", yard=yard)


@pytest.fixture
def tractor():
    return TractorFactory(truck_number="T-1")


def refused(words: str):
    return pytest.raises(ValidationError, match=words)


def put(unit, tractor, on_day=TODAY, by=None):
    return put_in(unit, tractor, on_day, None, by, AT)


def standing(unit) -> Unit:
    return with_standing(Unit.objects.all()).get(pk=unit.pk)


class TestPuttingIn:
    def test_the_unit_is_the_truck_owners_and_in_no_yard(self, unit, tractor, olga):
        technician = TechnicianFactory()
        install = put_in(unit, tractor, TODAY, technician, olga, AT)
        assert (install.customer, install.installed_by) == (tractor.customer, technician)
        assert (install.installed_on, install.removed_on) == (TODAY, None)
        assert install.entered_at == AT
        unit.refresh_from_db()
        assert unit.yard is None

    def test_a_move_and_a_line_of_history_are_written(self, unit, tractor, olga):
        put(unit, tractor, by=olga)
        move = StockMove.objects.get()
        assert (move.kind, move.unit, move.tractor, move.person) == (
            "installed",
            unit,
            tractor,
            olga,
        )
        assert unit.history.first().history_user == olga
        assert "T-1" in Install.objects.get().history.first().history_change_reason

    def test_a_move_of_an_earlier_day_stands_at_its_noon(self, unit, tractor):
        put(unit, tractor, on_day=date(2026, 11, 20))
        # Noon at UTC-6.
        assert StockMove.objects.get().at == datetime(2026, 11, 20, 18, tzinfo=UTC)

    def test_a_day_to_come_is_refused(self, unit, tractor):
        with refused("still to come"):
            put(unit, tractor, on_day=date(2026, 11, 26))

    def test_a_unit_for_24_volts_does_not_go_into_a_12_volt_truck(self, yard, tractor):
        unit = UnitFactory(model=UnitModelFactory(system_v=24), yard=yard)
        with refused("24 V and truck T-1 .* has 12 V"):
            put(unit, tractor)

    def test_a_unit_for_12_volts_does_not_go_into_a_24_volt_truck(self, unit):
        with refused("12 V and .* has 24 V"):
            put(unit, TractorFactory(system_v=24))

    def test_a_unit_in_another_truck_is_refused_and_the_truck_is_named(self, unit, tractor):
        put(unit, tractor)
        with refused("stands in truck T-1"):
            put(unit, TractorFactory())

    def test_a_truck_that_carries_a_unit_is_refused_and_the_unit_is_named(self, unit, tractor):
        put(unit, tractor)
        with refused("carries K-7"):
            put(UnitFactory(), tractor)

    def test_a_truck_that_carried_another_unit_later_is_refused(self, unit, tractor):
        InstallFactory(
            tractor=tractor, installed_on=date(2026, 10, 1), removed_on=date(2026, 11, 1)
        )
        with refused("until 2026-11-01"):
            put(unit, tractor, on_day=date(2026, 10, 15))
        assert put(unit, tractor, on_day=date(2026, 11, 1)).pk

    @pytest.mark.parametrize(
        ("gone", "words"), [("returned", "returned"), ("scrapped", "scrapped")]
    )
    def test_a_unit_that_is_gone_is_refused(self, tractor, gone, words):
        with refused(words):
            put(UnitFactory(left_stock=gone), tractor)

    def test_an_install_undone_on_its_own_day_bars_no_other(self, unit, tractor):
        day = date(2026, 11, 1)
        InstallFactory(tractor=tractor, installed_on=day, removed_on=day)
        assert put(unit, tractor, on_day=date(2026, 10, 15)).pk

    def test_of_many_that_stood_in_a_truck_the_one_that_stands_in_it_is_named(self, unit, tractor):
        InstallFactory(tractor=tractor, unit__serial="K-NOW", installed_on=date(2026, 11, 1))
        InstallFactory(tractor=tractor, installed_on=date(2026, 9, 1), removed_on=date(2026, 10, 1))
        with refused("carries K-NOW"):
            put(unit, tractor, on_day=date(2026, 9, 15))

    def test_a_unit_held_for_another_truck_is_refused_and_the_booking_is_named(self, tractor):
        booking = BookingFactory(tractor__truck_number="T-9")
        with refused("held for truck T-9 .* 2026-11-30"):
            put(booking.unit, tractor)

    def test_a_unit_held_for_this_truck_goes_in(self):
        booking = BookingFactory()
        assert put(booking.unit, booking.tractor).unit == booking.unit

    def test_a_booking_that_was_called_off_holds_nothing(self, tractor):
        booking = BookingFactory(state="called_off")
        assert put(booking.unit, tractor).tractor == tractor

    def test_a_unit_cannot_go_in_before_it_came_out_of_its_last_truck(self, unit, tractor):
        InstallFactory(unit=unit, installed_on=date(2026, 1, 5), removed_on=date(2026, 6, 1))
        with refused("until 2026-06-01"):
            put(unit, tractor, on_day=date(2026, 5, 1))

    def test_a_unit_put_into_the_wrong_truck_goes_into_the_right_one_the_same_day(
        self, unit, tractor, yard
    ):
        wrong = TractorFactory()
        put(unit, wrong)
        remove(unit, TODAY, yard, "wrong truck", None, AT)
        assert put(unit, tractor).tractor == tractor
        assert [install.tractor for install in unit.installs.all()] == [tractor]
        assert [one.tractor for one in Install.history.order_by("history_id")][0] == wrong

    def test_one_whose_commissioning_was_begun_waits_for_the_next_day(self, unit, tractor, yard):
        CommissioningFactory(install=put(unit, TractorFactory()))
        remove(unit, TODAY, yard, "", None, AT)
        with refused("next day"):
            put(unit, tractor)

    def test_readings_on_record_from_before_it_was_written_down_are_the_trucks(self, unit, tractor):
        reading = ReadingFactory(
            install=None,
            unit=unit,
            tractor=None,
            customer=None,
            taken_at=datetime(2026, 11, 24, 18, tzinfo=UTC),
        )
        put(unit, tractor, on_day=date(2026, 11, 24))
        reading.refresh_from_db()
        assert (reading.tractor, reading.customer) == (tractor, tractor.customer)

    def test_a_refusal_changes_nothing(self, unit, tractor):
        put(unit, tractor)
        other = UnitFactory(yard=YardFactory(customer=None, name="South yard"))
        with refused("carries"):
            put(other, tractor)
        other.refresh_from_db()
        assert other.yard.name == "South yard"
        assert (Install.objects.count(), StockMove.objects.count()) == (1, 1)


class TestTakingOut:
    @pytest.fixture
    def install(self, unit, tractor):
        return InstallFactory(unit=unit, tractor=tractor, installed_on=date(2026, 3, 4))

    def test_the_install_ends_and_the_unit_lies_in_the_yard(self, install, yard, olga):
        remove(install.unit, TODAY, yard, "truck sold abroad", olga, AT)
        install.refresh_from_db()
        install.unit.refresh_from_db()
        assert (install.removed_on, install.unit.yard) == (TODAY, yard)
        move = StockMove.objects.get()
        assert (move.kind, move.yard, move.tractor) == ("removed", yard, install.tractor)
        assert (move.why, move.person) == ("truck sold abroad", olga)

    def test_not_before_the_day_it_went_in(self, install, yard):
        with refused("installed on 2026-03-04"):
            remove(install.unit, date(2026, 3, 3), yard, "", None, AT)

    def test_not_on_a_day_to_come(self, install, yard):
        with refused("still to come"):
            remove(install.unit, date(2026, 11, 26), yard, "", None, AT)

    def test_not_out_of_no_truck(self, unit, yard):
        with refused("no truck"):
            remove(unit, TODAY, yard, "", None, AT)

    def test_not_into_a_customers_yard(self, install):
        with refused("the shop's own"):
            remove(install.unit, TODAY, YardFactory(), "", None, AT)

    @pytest.mark.parametrize(("day", "stays"), [(9, True), (10, False), (11, False)])
    def test_what_is_on_record_from_that_day_on_belongs_to_no_truck(
        self, install, yard, day, stays
    ):
        at = datetime(2026, 11, day, 18, tzinfo=UTC)
        visit = VisitFactory(install=install, at=at)
        remove(install.unit, date(2026, 11, 10), yard, "", None, AT)
        visit.refresh_from_db()
        assert visit.customer == (install.customer if stays else None)
        # A visit that changed keeps how it was first written.
        assert [one.customer_id for one in visit.history.order_by("history_id")] == (
            [install.customer_id] if stays else [install.customer_id, None]
        )

    def test_the_unit_goes_on_into_another_truck_with_its_history(self, install, yard):
        remove(install.unit, TODAY, yard, "", None, AT)
        put(install.unit, TractorFactory())
        assert install.unit.installs.count() == 2
        assert [move.kind for move in install.unit.stock_moves.all()] == ["removed", "installed"]


class TestFromYardToYard:
    def test_it_lies_there_then(self, unit, olga):
        south = YardFactory(customer=None, name="South yard")
        move_to_yard(unit, south, "", olga, AT)
        unit.refresh_from_db()
        assert unit.yard == south
        assert StockMove.objects.get().kind == "moved"

    def test_not_to_where_it_is(self, unit, yard):
        with refused("at Shop yard already"):
            move_to_yard(unit, yard, "", None, AT)

    def test_not_while_it_stands_in_a_truck(self, unit, tractor, yard):
        put(unit, tractor)
        with refused("take it out"):
            move_to_yard(unit, yard, "", None, AT)

    def test_a_held_unit_stays_where_it_is_booked(self):
        booking = BookingFactory()
        with refused("held for"):
            move_to_yard(booking.unit, YardFactory(customer=None, name="South yard"), "", None, AT)

    def test_a_held_unit_may_come_to_where_it_is_booked(self):
        booking = BookingFactory(
            unit=UnitFactory(yard=YardFactory(customer=None, name="South yard"))
        )
        move_to_yard(booking.unit, booking.bay.yard, "", None, AT)
        assert StockMove.objects.get().yard == booking.bay.yard


@pytest.mark.parametrize("act", [return_to_maker, scrap])
class TestLeavingTheStock:
    def test_it_lies_in_no_yard_and_can_be_held_no_more(self, act, unit, yard, olga):
        act(unit, "compressor seized", olga, AT)
        unit.refresh_from_db()
        assert unit.yard is None
        assert not Unit.objects.free().exists()
        move = StockMove.objects.get()
        assert move.kind == unit.left_stock
        assert (move.yard, move.why) == (yard, "compressor seized")

    def test_not_without_a_reason(self, act, unit):
        with refused("why"):
            act(unit, "  ", None, AT)

    def test_not_out_of_a_truck(self, act, unit, tractor):
        put(unit, tractor)
        with refused("take it out"):
            act(unit, "old", None, AT)

    def test_not_while_it_is_held(self, act):
        with refused("held for"):
            act(BookingFactory().unit, "old", None, AT)

    def test_not_twice(self, act, unit):
        act(unit, "old", None, AT)
        with refused("was (returned|scrapped)"):
            act(unit, "old", None, AT)


class TestWhereAUnitIs:
    def test_free_in_a_yard(self, unit):
        assert standing(unit).standing == Standing.FREE
        assert standing_words(standing(unit)) == "in stock at Shop yard"

    def test_held_for_a_truck(self):
        booking = BookingFactory(tractor__truck_number="T-9")
        words = standing_words(standing(booking.unit))
        assert words == "in stock at Shop yard, held for truck T-9 on 2026-11-30"

    def test_in_a_truck(self, unit, tractor):
        put(unit, tractor)
        words = standing_words(standing(unit))
        assert words == f"in truck T-1 of {tractor.customer} since 2026-11-25"

    def test_in_a_truck_though_it_is_still_held_for_it(self):
        booking = BookingFactory()
        put(booking.unit, booking.tractor)
        assert standing(booking.unit).standing == Standing.IN_TRUCK

    def test_back_from_a_truck(self, unit, tractor, yard):
        put(unit, tractor)
        remove(unit, TODAY, yard, "", None, AT)
        words = standing_words(standing(unit))
        assert words == "removed from a truck, in stock at Shop yard"

    @pytest.mark.parametrize(
        ("unit_is", "words"),
        [
            ({"left_stock": "returned"}, "returned to the maker"),
            ({"left_stock": "scrapped"}, "scrapped"),
            ({}, "in no truck and no yard"),
        ],
    )
    def test_nowhere_and_gone(self, unit_is, words):
        assert standing_words(standing(UnitFactory(**unit_is))) == words

    def test_the_stock_is_counted_by_yard_and_model(self, yard):
        model = UnitModelFactory(name="M5-12")
        for _ in range(3):
            UnitFactory(model=model, yard=yard)
        BookingFactory(bay__yard=yard, unit=UnitFactory(model=model, yard=yard))
        UnitFactory(model=model)
        counted = list(count_stock(with_standing(Unit.objects.all())))
        assert [tuple(row) for row in counted] == [("Shop yard", "M5-12", 4, 1)]
        assert counted[0].free == 3
