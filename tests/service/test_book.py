"""The acts of the refrigerant book, and what each refuses."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from service import book
from service.models import Cylinder, CylinderEntry, EntryKind, Holds, Movement, MovementKind
from tests.factories import (
    CertifiedFactory,
    CylinderFactory,
    InstallFactory,
    MovementFactory,
    TechnicianFactory,
    UnitFactory,
)
from tests.service.refrigerant import NOW, START, by, held, in_book

pytestmark = pytest.mark.django_db
JUNE = datetime(2024, 6, 1, 12, tzinfo=UTC)
CHARGED, ADDED, RECOVERED = MovementKind.CHARGED, MovementKind.ADDED, MovementKind.RECOVERED


def refused(words, act, *args, **kwargs):
    with pytest.raises(ValidationError) as error, transaction.atomic():
        act(*args, **kwargs)
    assert words in " ".join(error.value.messages)


def test_a_charge_leaves_the_cylinder_and_is_the_truck_owners_of_that_day():
    install = InstallFactory()
    cylinder = in_book()
    movement = book.move(install.unit, CHARGED, 520, cylinder, by(JUNE))
    assert held(cylinder) == 9_480
    assert (movement.tractor, movement.customer) == (install.tractor, install.customer)


def test_a_movement_keeps_the_certificate_as_it_was_that_day():
    technician = CertifiedFactory(certification_number="T-1")
    movement = book.move(UnitFactory(), CHARGED, 520, in_book(), by(JUNE, technician))
    technician.certification_number = "T-2"
    technician.save()
    movement.refresh_from_db()
    assert movement.certified_by == "US EPA section 609 T-1"


def test_a_cylinder_cannot_give_what_it_does_not_hold():
    cylinder = in_book(500)
    refused("20", book.move, UnitFactory(), CHARGED, 520, cylinder, by(JUNE))
    assert held(cylinder) == 500 and not Movement.objects.exists()


def test_recovered_gas_is_recycled_before_it_goes_into_a_unit():
    # 40 CFR 82.34 (from memory).
    recovered, recycled = in_book(3_000, Holds.RECOVERED), in_book(0, Holds.RECYCLED)
    for kind in (CHARGED, ADDED):
        refused("recycle it", book.move, UnitFactory(), kind, 300, recovered, by(JUNE))
    book.decant(recovered, recycled, 3_000, by(JUNE))
    book.move(UnitFactory(), ADDED, 300, recycled, by(JUNE))
    assert held(recycled) == 2_700


def test_half_a_gram_is_the_scales_own_rounding():
    cylinder = in_book(519.6)
    book.move(UnitFactory(), CHARGED, 520, cylinder, by(JUNE))
    assert held(cylinder) == pytest.approx(-0.4)


def test_a_draw_that_is_told_late_may_not_empty_the_cylinder_before_it_was_filled():
    cylinder = in_book(100)
    book.buy(cylinder, 5_000, "invoice 7", by(JUNE))
    early = by(JUNE - timedelta(days=30))
    refused("cannot give", book.move, UnitFactory(), CHARGED, 520, cylinder, early)
    book.move(UnitFactory(), CHARGED, 520, cylinder, by(JUNE + timedelta(days=1)))
    assert held(cylinder) == 4_580


def test_a_late_draw_may_not_take_what_was_drawn_since():
    cylinder = in_book(600)
    book.move(UnitFactory(), CHARGED, 520, cylinder, by(JUNE))
    early = by(JUNE - timedelta(days=30))
    refused("cannot give", book.move, UnitFactory(), CHARGED, 520, cylinder, early)


def test_refrigerants_are_never_mixed():
    cylinder = in_book(refrigerant="R-1234yf")
    refused("never mix", book.move, UnitFactory(), CHARGED, 520, cylinder, by(JUNE))


def test_recovered_gas_never_goes_into_a_cylinder_of_new_gas():
    refused("recovery cylinder", book.move, UnitFactory(), RECOVERED, 300, in_book(), by(JUNE))


def test_recovered_gas_goes_into_a_recovery_cylinder():
    cylinder = in_book(0, Holds.RECOVERED)
    book.move(UnitFactory(), RECOVERED, 300, cylinder, by(JUNE))
    assert held(cylinder) == 300


def test_nothing_is_moved_by_a_technician_without_a_certificate():
    hand = by(JUNE, TechnicianFactory(name="T. Ash"))
    refused("No refrigerant certificate", book.move, UnitFactory(), ADDED, 50, in_book(), hand)


def test_a_certificate_counts_until_its_last_day():
    technician = CertifiedFactory(certified_until=date(2024, 6, 1))
    cylinder = in_book()
    book.move(UnitFactory(), ADDED, 50, cylinder, by(JUNE, technician))
    late = by(JUNE + timedelta(days=1), technician)
    refused("ended on", book.move, UnitFactory(), ADDED, 50, cylinder, late)


def test_a_time_to_come_is_refused():
    hand = by(NOW + timedelta(hours=1), entered_at=NOW)
    refused("still to come", book.move, UnitFactory(), ADDED, 50, in_book(), hand)


def test_more_than_twice_the_nameplate_is_a_slip_of_the_pen():
    unit = UnitFactory(model__charge_g=520)
    refused("nameplate", book.move, unit, CHARGED, 1_041, in_book(), by(JUNE))
    book.move(unit, CHARGED, 1_040, in_book(), by(JUNE))


@pytest.mark.parametrize("mass_g", [0, -5, float("nan")])
def test_a_mass_is_above_zero(mass_g):
    refused("", book.move, UnitFactory(), ADDED, mass_g, in_book(), by(JUNE))


def test_a_cylinder_known_by_name_only_is_not_counted():
    cylinder = CylinderFactory()
    book.move(UnitFactory(), CHARGED, 520, cylinder, by(JUNE))
    assert held(cylinder) is None


def test_what_was_moved_before_a_cylinder_came_into_the_book_does_not_count():
    cylinder = CylinderFactory()
    MovementFactory(cylinder=cylinder, at=START - timedelta(days=1))
    book.open_with(cylinder, 7_000, Holds.NEW, by(START))
    assert held(cylinder) == 7_000


def test_a_corrected_movement_counts_once_and_keeps_what_it_said():
    cylinder, unit = in_book(), UnitFactory()
    movement = book.move(unit, CHARGED, 520, cylinder, by(JUNE))
    book.correct(movement, 530, cylinder, by(JUNE))
    assert held(cylinder) == 9_470
    assert [row.mass_g for row in movement.history.order_by("history_id")] == [520, 530]


def test_a_movement_corrected_to_another_cylinder_gives_back_what_it_took():
    first, second = in_book(), in_book()
    movement = book.move(UnitFactory(), CHARGED, 520, first, by(JUNE))
    book.correct(movement, 520, second, by(JUNE))
    assert (held(first), held(second)) == (10_000, 9_480)


def test_a_correction_may_not_leave_later_draws_without_gas():
    cylinder = in_book(0, Holds.RECOVERED)
    movement = book.move(UnitFactory(), RECOVERED, 300, cylinder, by(JUNE))
    book.dispose(cylinder, 300, "Reclaimer, 1 Mill Lane", "W-1", by(NOW))
    refused("cannot give", book.correct, movement, 200, cylinder, by(JUNE))


def test_a_loaded_movement_that_is_corrected_keeps_how_it_was_first_written():
    cylinder = CylinderFactory()
    movement = MovementFactory(cylinder=cylinder, mass_g=500)
    movement.history.all().delete()
    book.correct(Movement.objects.get(), 520, cylinder, by(JUNE))
    assert [row.mass_g for row in movement.history.order_by("history_id")] == [500, 520]


def test_a_movement_that_was_told_twice_is_struck_out_and_its_history_keeps_it():
    cylinder = in_book()
    movement = book.move(UnitFactory(), CHARGED, 520, cylinder, by(JUNE))
    refused("few words", book.strike_out, movement, "twice", by(NOW))
    book.strike_out(movement, "told twice", by(NOW))
    assert held(cylinder) == 10_000 and not Movement.objects.exists()
    assert Movement.history.first().history_change_reason == "told twice"


def test_recovered_gas_that_was_sent_away_cannot_be_struck_out():
    cylinder = in_book(0, Holds.RECOVERED)
    movement = book.move(UnitFactory(), RECOVERED, 300, cylinder, by(JUNE))
    book.dispose(cylinder, 300, "Reclaimer, 1 Mill Lane", "W-1", by(NOW))
    refused("cannot give", book.strike_out, movement, "told twice", by(NOW))


def test_what_is_bought_puts_a_cylinder_into_the_book():
    cylinder = CylinderFactory()
    book.buy(cylinder, 13_600, "invoice 7", by(JUNE))
    cylinder.refresh_from_db()
    assert (cylinder.held_g, cylinder.holds, cylinder.booked_from) == (13_600, Holds.NEW, JUNE)


def test_what_is_bought_does_not_go_into_a_recovery_cylinder():
    refused("new gas", book.buy, in_book(0, Holds.RECOVERED), 500, "", by(JUNE))


def test_a_cylinder_is_opened_once():
    refused("already", book.open_with, in_book(), 1_000, Holds.NEW, by(JUNE))


def test_a_move_between_cylinders_takes_and_gives_the_same():
    recovered, recycled = in_book(900, Holds.RECOVERED), in_book(0, Holds.RECYCLED)
    book.decant(recovered, recycled, 850, by(JUNE))
    assert (held(recovered), held(recycled)) == (50, 850)


def test_recovered_gas_is_not_poured_to_the_new():
    source, target = in_book(900, Holds.RECOVERED), in_book(0)
    refused("keep them apart", book.decant, source, target, 100, by(JUNE))


def test_a_cylinder_is_not_poured_into_itself_nor_into_another_refrigerant():
    cylinder = in_book()
    refused("same cylinder", book.decant, cylinder, cylinder, 100, by(JUNE))
    other = in_book(refrigerant="R-1234yf")
    refused("never mix", book.decant, cylinder, other, 100, by(JUNE))


def test_a_cylinder_is_filled_to_at_most_four_fifths():
    # 80 percent of the water capacity: from memory.
    cylinder = in_book(0, Holds.RECOVERED, water_capacity_g=1_000)
    book.move(UnitFactory(), RECOVERED, 500, cylinder, by(JUNE))
    refused("burst", book.move, UnitFactory(), RECOVERED, 301, cylinder, by(JUNE))
    book.move(UnitFactory(), RECOVERED, 300, cylinder, by(JUNE))


def test_a_cylinder_that_is_not_in_the_book_gives_no_other_what_it_has():
    refused("not in the book", book.decant, CylinderFactory(), in_book(), 100, by(JUNE))


def test_nothing_is_written_before_a_cylinders_book_begins():
    early = by(START - timedelta(days=1))
    refused("begins on 2024-01-01", book.dispose, in_book(), 100, "Reclaimer", "", early)


def test_what_is_sent_away_names_who_took_it():
    refused("to whom", book.dispose, in_book(), 100, " ", "W-1", by(JUNE))
    cylinder = in_book()
    entry = book.dispose(cylinder, 100, "Reclaimer, 1 Mill Lane", "W-1", by(JUNE))
    assert held(cylinder) == 9_900 and entry.document == "W-1"


def test_the_scale_is_held_against_the_book_of_its_moment():
    cylinder = in_book(10_000, tare_g=5_000)
    book.move(UnitFactory(), CHARGED, 500, cylinder, by(NOW))
    assert book.weigh(cylinder, 14_970, JUNE) == (9_970, 10_000)
    assert book.weigh(cylinder, 14_470, NOW).difference_g == -30
    assert not CylinderEntry.objects.filter(kind=EntryKind.DIFFERENCE).exists()


def test_a_difference_is_written_with_its_reason_only():
    cylinder = in_book(10_000, tare_g=5_000)
    refused("few words", book.weigh_in, cylinder, 14_970, "hose", by(JUNE))
    book.weigh_in(cylinder, 14_970, "left in the hoses", by(JUNE))
    assert held(cylinder) == 9_970


def test_a_scale_that_agrees_leaves_nothing_to_write():
    cylinder = in_book(10_000, tare_g=5_000)
    refused("agree", book.weigh_in, cylinder, 15_000.2, "for the books", by(JUNE))


def test_a_cylinder_without_tare_or_lighter_than_empty_cannot_be_weighed_in():
    refused("tare", book.weigh, in_book(), 15_000, NOW)
    refused("less than the empty", book.weigh, in_book(tare_g=5_000), 4_990, NOW)


def test_a_corrected_entry_takes_the_place_of_the_wrong_one():
    cylinder = CylinderFactory()
    wrong = book.buy(cylinder, 136_00, "invoice 7", by(JUNE))
    book.correct_entry(wrong, 1_360, "one zero too many", by(NOW))
    assert held(cylinder) == 1_360
    assert list(CylinderEntry.objects.standing().values_list("mass_g", flat=True)) == [1_360]
    refused("already", book.correct_entry, wrong, 5, "again and again", by(NOW))


def test_an_entry_that_was_drawn_upon_cannot_be_struck_out():
    cylinder = CylinderFactory()
    wrong = book.buy(cylinder, 5_000, "invoice 7", by(JUNE))
    book.move(UnitFactory(), CHARGED, 520, cylinder, by(NOW))
    refused("cannot give", book.correct_entry, wrong, 0, "never came in", by(NOW))


def test_a_form_sent_twice_is_written_once():
    cylinder, sent_id = CylinderFactory(), uuid4()
    for _time in range(2):
        book.buy(cylinder, 5_000, "invoice 7", by(JUNE), sent_id)
    assert held(cylinder) == 5_000


def test_only_an_empty_cylinder_is_retired_and_then_gives_and_takes_nothing():
    refused("holds", book.retire, in_book(), by(NOW))
    cylinder = in_book(0)
    book.retire(cylinder, by(NOW))
    refused("retired", book.buy, cylinder, 500, "", by(NOW))
    refused("retired", book.move, UnitFactory(), ADDED, 5, cylinder, by(NOW))


def test_what_is_told_of_a_cylinder_never_changes_what_it_holds():
    stale = in_book()
    book.move(UnitFactory(), CHARGED, 520, stale, by(JUNE))
    book.describe(stale, van="Tomás")
    assert held(stale) == 9_480


def test_the_database_itself_refuses_a_negative_cylinder():
    cylinder = in_book()
    with pytest.raises(IntegrityError), transaction.atomic():
        Cylinder.objects.filter(pk=cylinder.pk).update(held_g=-1)
