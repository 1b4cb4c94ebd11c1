"""Readings, nights and grams from a record book."""

from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from installs.engineering.saturation import air_kpa
from installs.models import Technician, Tractor
from service.models import Cylinder, Movement, Overnight, Reading
from tests.books import OTHER_VIN, VIN, a_fleet, a_reading, load_rows, reasons
from tests.factories import YardFactory

pytestmark = pytest.mark.django_db
# NIST SP 811 (2008), appendix B.8: 1 psi = 6.894757 kPa.
KPA_PER_PSI = 6.894757


@pytest.fixture
def load(tmp_path):
    load_rows(tmp_path, a_fleet())
    return lambda sheets, **options: load_rows(tmp_path, sheets, **options)


def read(load, **changes):
    """Load one reading and return the account."""
    return load({"readings": [a_reading(**changes)]})


def without(row, *names):
    return {name: cell for name, cell in row.items() if name not in names}


def test_a_reading_is_stored_in_the_units_kept_inside(load):
    read(load)
    one = Reading.objects.get()
    assert one.suction_kpa == pytest.approx(45 * KPA_PER_PSI, rel=1e-6)
    assert one.taken_at == datetime(2024, 6, 4, 14, 30, tzinfo=UTC)
    assert one.taken_by.name == "T. Ash"
    assert one.rest_v is None


def test_a_reading_knows_its_truck_and_its_fleet(load):
    read(load)
    one = Reading.objects.get()
    assert one.tractor.vin == VIN and one.customer.code == "ALD"


def test_a_reading_before_the_first_install_stands_in_no_truck(load):
    read(load, taken_at="2024-03-03T23:00")
    one = Reading.objects.get()
    assert one.tractor is None and one.customer is None


def test_the_day_of_an_install_is_the_shops_own_day(load):
    """11 p.m. of 3 March in Chicago is 4 March in Greenwich, and yet before the install."""
    read(load, taken_at="2024-03-04T00:30")
    assert Reading.objects.get().tractor.vin == VIN


def test_on_the_day_of_its_removal_a_unit_stands_in_the_next_truck(load):
    rows = [
        {"serial": "S-1", "installed_on": "2024-03-04", "vin": VIN, "removed_on": "2024-09-01"},
        {"serial": "S-1", "installed_on": "2024-09-01", "vin": OTHER_VIN, "removed_on": ""},
    ]
    load({"installs": rows, "readings": [a_reading(taken_at="2024-09-01T08:00")]})
    assert Reading.objects.get().tractor.vin == OTHER_VIN


def test_a_unit_undone_on_its_own_day_was_in_no_truck(load):
    rows = [{"serial": "S-2", "installed_on": "2024-03-04", "vin": VIN, "removed_on": "2024-03-04"}]
    load({"installs": rows, "readings": [a_reading(serial="S-2", taken_at="2024-03-04T08:00")]})
    assert Reading.objects.get().tractor is None


def test_an_absolute_pressure_loses_the_air_of_the_yard(load):
    # US Standard Atmosphere 1976: 83.44 kPa at 1,600 m.
    yard = YardFactory(elevation_m=1600)
    Tractor.objects.filter(vin=VIN).update(yard=yard)
    row = without(a_reading(), "suction_psi", "discharge_psi")
    load({"readings": [row | {"suction_kpaa": 400}]})
    one = Reading.objects.get()
    assert one.air_kpa == pytest.approx(83.44, abs=0.1)
    assert one.suction_kpa == pytest.approx(400 - 83.44, abs=0.1)


def test_an_absolute_pressure_at_the_shop_loses_the_shops_air(load, settings):
    settings.SHOP_ELEVATION_M = 500
    row = without(a_reading(taken_at="2023-01-01"), "suction_psi")
    load({"readings": [row | {"suction_psia": 60}]})
    expected = 60 * KPA_PER_PSI - air_kpa(500)
    assert Reading.objects.get().suction_kpa == pytest.approx(expected, rel=1e-6)


def test_a_yard_that_moves_later_does_not_change_an_old_absolute_reading(load):
    row = without(a_reading(), "suction_psi") | {"suction_kpaa": 400}
    load({"readings": [row]})
    Tractor.objects.filter(vin=VIN).update(yard=YardFactory(elevation_m=1600))
    assert load({"readings": [row]}).accounts["readings"].unchanged == 1


def test_an_absolute_pressure_below_nothing_is_refused(load):
    row = without(a_reading(), "suction_psi") | {"suction_kpaa": -1}
    assert (
        "suction_kpaa: no absolute pressure is below zero" in reasons(load({"readings": [row]}))[0]
    )


def test_psi_and_kpa_of_one_reading_are_no_change(load):
    read(load)
    stored = Reading.objects.get().suction_kpa
    row = without(a_reading(), "suction_psi") | {"suction_kpa": stored}
    assert load({"readings": [row]}).accounts["readings"].unchanged == 1


@pytest.mark.parametrize(
    "doubtful",
    [{"suction_psi": 450}, {"ambient_c": 52}, {"discharge_psi": 0}, {"suction_psi": -10}],
)
def test_doubtful_but_possible_values_are_taken(load, doubtful):
    assert read(load, **doubtful).accounts["readings"].new == 1


@pytest.mark.parametrize(
    ("impossible", "words"),
    [
        ({"suction_psi": -20}, "suction_psi: No gauge reads below a perfect vacuum."),
        ({"ambient_c": -300}, "ambient_c: Nothing is colder than −273.15 °C."),
        ({"rest_v": -1}, "rest_v: This cannot be below zero."),
        ({"kind": ""}, "kind: it is missing"),
        ({"kind": "guess"}, "kind: “guess” is none of commissioning, visit, logger"),
        ({"serial": "S-77"}, "serial: no unit “S-77” on record; add it under units"),
        (
            {"suction_psi": "45 psi"},
            "suction_psi: “45 psi”: write 45 alone; the header says the unit",
        ),
    ],
)
def test_what_can_never_be_true_is_refused_by_column_and_reason(load, impossible, words):
    assert reasons(read(load, **impossible)) == [words]


def test_a_missing_cell_is_told_beside_a_wrong_one(load):
    [words] = reasons(read(load, kind="", ambient_c="hot"))
    assert "kind: it is missing" in words and "ambient_c:" in words


def test_hourly_readings_lose_nothing_in_autumn_when_they_say_their_zone(load):
    stamps = [
        f"2024-11-03T{hour}{zone}" for hour, zone in (("01:30", "-05:00"), ("01:30", "-06:00"))
    ]
    account = load({"readings": [a_reading(taken_at=at) for at in stamps]}).accounts["readings"]
    assert account.new == 2


def test_a_time_of_writing_that_the_book_no_longer_gives_stays(load):
    read(load, entered_at="2024-06-05T08:00Z")
    assert read(load).accounts["readings"].unchanged == 1
    assert Reading.objects.get().entered_at == datetime(2024, 6, 5, 8, tzinfo=UTC)


def test_without_a_time_of_writing_it_is_the_readings_own(load):
    read(load, entered_at="")
    one = Reading.objects.get()
    assert one.entered_at == one.taken_at


def test_a_new_reading_has_no_history_and_a_changed_one_has_before_and_after(load):
    read(load)
    assert not Reading.history.exists()
    assert read(load, ambient_c=31).accounts["readings"].changed == 1
    history = Reading.history.order_by("history_id").values_list("ambient_c", flat=True)
    assert list(history) == [30, 31]
    read(load, ambient_c=32)
    assert Reading.history.count() == 3


def put(serial="S-2", truck=VIN, removed_on=""):
    row = {"serial": serial, "installed_on": "2024-03-04", "vin": truck, "removed_on": removed_on}
    return {"installs": [row]}


def test_a_reading_on_record_follows_an_install_that_is_loaded_later(load):
    read(load, serial="S-2")
    result = load(put("S-2"))
    assert Reading.objects.get().tractor.vin == VIN
    assert "readings: rows on record that changed tractor: 1." in result.notes
    assert read(load, serial="S-2").accounts["readings"].unchanged == 1


def test_a_removal_that_is_told_late_takes_later_events_off_the_truck(load):
    load({"readings": [a_reading()], "overnights": [night()], "refrigerant": [movement()]})
    load(put("S-1", removed_on="2024-05-01"))
    for model in (Reading, Overnight, Movement):
        one = model.objects.get()
        assert one.tractor is None and one.customer is None
    assert Reading.history.count() == Movement.history.count() == 2


def test_the_events_of_other_units_stay_where_they_are(load):
    read(load)
    assert not load(put("S-2", truck=OTHER_VIN)).notes
    assert Reading.objects.get().tractor.vin == VIN


def test_what_only_the_database_notices_is_refused_and_its_neighbours_are_taken(load, monkeypatch):
    monkeypatch.setattr("installs.records.sheet.refuse_the_impossible", lambda *args: None)
    rows = [a_reading(taken_at=f"2024-06-{n:02}", rest_v=12 - n * 3) for n in range(1, 8)]
    result = load({"readings": rows})
    assert result.accounts["readings"].new == 4
    assert reasons(result) == ["This cannot be below zero."] * 3


def test_a_row_twice_is_unchanged_though_it_is_the_first_to_name_its_technician(load):
    account = load({"readings": [a_reading(), a_reading()]}).accounts["readings"]
    assert (account.new, account.unchanged) == (1, 1)


def test_a_row_whose_twin_was_impossible_is_taken_and_its_copy_unchanged(load):
    rows = [a_reading(suction_psi=-99), a_reading(), a_reading()]
    account = load({"readings": rows}).accounts["readings"]
    assert (account.new, account.unchanged, account.rejected) == (1, 1, 1)


def night(**changes):
    return {
        "serial": "S-1",
        "began_at": "2024-06-04T22:00",
        "run_h": 9.2,
        "drawn_ah": 203,
        "start_v": 12.7,
        "end_v": 11.9,
        "ended_by": "switch",
        "ambient_f": 75.2,
    } | changes


def test_a_night_is_taken_and_then_unchanged(load):
    assert load({"overnights": [night()]}).accounts["overnights"].new == 1
    assert load({"overnights": [night()]}).accounts["overnights"].unchanged == 1
    assert Overnight.objects.get().ambient_c == pytest.approx(24)


def test_a_changed_night_is_written(load):
    load({"overnights": [night()]})
    assert load({"overnights": [night(ended_by="Cutoff")]}).accounts["overnights"].changed == 1
    assert Overnight.objects.get().ended_by == "cutoff"


def test_a_night_of_four_days_is_refused(load):
    assert reasons(load({"overnights": [night(run_h=96)]})) == [
        "run_h: A rest period runs from 0 to 72 hours."
    ]


def movement(**changes):
    return {
        "serial": "S-1",
        "at": "2024-06-04T08:30",
        "movement": "added",
        "mass_g": 40,
        "cylinder": "C1",
        "moved_by": "T. Ash",
    } | changes


def test_a_movement_puts_its_cylinder_on_record_with_the_units_refrigerant(load):
    load({"refrigerant": [movement(), movement(at="2024-06-05", cylinder="c1")]})
    one = Cylinder.objects.get()
    assert (one.code, one.refrigerant) == ("C1", "R-134a")
    assert one.movement_set.count() == 2


def test_a_negative_mass_is_refused(load):
    assert reasons(load({"refrigerant": [movement(mass_g=-40)]})) == [
        "mass_g: A movement has a mass above 0 g, and at most 50 kg."
    ]


def test_a_mass_in_pounds_is_stored_in_grams(load):
    # 1 lb = 453.59237 g exactly (international avoirdupois pound of 1959).
    load({"refrigerant": [without(movement(), "mass_g") | {"mass_lb": 1}]})
    assert Movement.objects.get().mass_g == pytest.approx(453.59237)


def another_refrigerant():
    model = {"model": "K9", "refrigerant": "R-1234yf", "charge_g": 500, "system_v": 12}
    return {"unit_models": [model], "units": [{"serial": "S-9", "model": "K9"}]}


def test_a_cylinder_of_another_refrigerant_is_refused(load):
    load({"refrigerant": [movement()]})
    result = load(another_refrigerant() | {"refrigerant": [movement(serial="S-9")]})
    assert "it holds R-134a and this unit takes R-1234yf" in reasons(result)[0]


def test_a_new_cylinder_cannot_hold_two_refrigerants_in_one_book(load):
    rows = [movement(), movement(serial="S-9")]
    account = load(another_refrigerant() | {"refrigerant": rows}).accounts["refrigerant"]
    assert (account.new, account.rejected) == (1, 1)


def test_charging_and_adding_at_one_moment_are_two_movements(load):
    rows = [movement(movement="charged", mass_g=520), movement()]
    assert load({"refrigerant": rows}).accounts["refrigerant"].new == 2


good_and_bad = st.lists(
    st.tuples(
        st.sampled_from(["S-1", "s-1", "S-2", "S-404", ""]),
        st.sampled_from(["2024-06-04T09:30", "2024-06-05", "03/04/2026", "45445.5", ""]),
        st.sampled_from(["45", "450", "45 psi", "-99", "", "nan"]),
    ),
    min_size=1,
    max_size=12,
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(good_and_bad)
def test_any_mixture_of_good_and_bad_rows_adds_up(load, mixture):
    Reading.objects.all().delete()
    Technician.objects.all().delete()
    rows = [
        a_reading(serial=serial, taken_at=taken_at, suction_psi=suction)
        for serial, taken_at, suction in mixture
    ]
    account = load({"readings": rows}).accounts["readings"]
    assert account.read == len(rows)
    assert account.read == account.new + account.unchanged + account.changed + account.rejected
    again = load({"readings": rows}).accounts["readings"]
    assert again.new == 0 and again.rejected == account.rejected
