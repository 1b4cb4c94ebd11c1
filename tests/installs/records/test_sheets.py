"""What the sheets of customers, trucks, models, units, installs and renewals take and refuse."""

from datetime import UTC, date, datetime

import pytest

from installs.models import (
    BatteryBank,
    BatteryRenewal,
    Install,
    Technician,
    Tractor,
    Unit,
    UnitModel,
)
from tests.books import OTHER_VIN, VIN, a_fleet, account, load_rows, reasons
from tests.factories import vin

pytestmark = pytest.mark.django_db
WRONG_DIGIT = VIN[:8] + ("1" if VIN[8] != "1" else "2") + VIN[9:]


@pytest.fixture
def load(tmp_path):
    return lambda sheets, **options: load_rows(tmp_path, sheets, **options)


@pytest.fixture
def fleet(load):
    """A fleet that is on record already."""
    load(a_fleet())


# Customers


def test_a_customer_without_a_name_is_refused(load):
    assert reasons(load({"customers": [{"customer": "ALD", "name": ""}]})) == [
        "name: it is missing"
    ]


def test_a_new_customer_needs_a_name_even_where_the_column_is_absent(load):
    assert "a new row needs it" in reasons(load({"customers": [{"customer": "ALD"}]}))[0]


# Tractors


def tractor(**changes):
    return a_fleet()["tractors"][0] | changes


def test_a_wrong_check_digit_is_refused_with_the_right_one(load, fleet):
    [words] = reasons(load({"tractors": [tractor(vin=WRONG_DIGIT)]}))
    assert words == (
        f"vin: the check digit should be {VIN[8]}, not {WRONG_DIGIT[8]}; correct it, or write yes "
        "under vin_as_stamped if the truck is stamped so"
    )


def test_a_vin_as_stamped_is_taken_and_marked(load, fleet):
    load({"tractors": [tractor(vin=WRONG_DIGIT, vin_as_stamped="yes")]})
    assert Tractor.objects.get(vin=WRONG_DIGIT).vin_kind == "as_stamped"


def test_a_vin_that_is_on_record_as_stamped_needs_no_second_yes(load, fleet):
    load({"tractors": [tractor(vin=WRONG_DIGIT, vin_as_stamped="yes")]})
    assert account(load({"tractors": [tractor(vin=WRONG_DIGIT)]}), "tractors").unchanged == 1


def test_a_vin_is_known_in_small_letters_and_with_dashes(load, fleet):
    written = f"{VIN[:3]}-{VIN[3:9]}-{VIN[9:]}".lower()
    assert account(load({"tractors": [tractor(vin=written)]}), "tractors").unchanged == 1


def test_a_tractor_of_an_unknown_customer_is_refused(load, fleet):
    [words] = reasons(load({"tractors": [tractor(customer="XYZ")]}))
    assert words.startswith("customer: no customer “XYZ”")


def test_a_sold_tractor_is_a_changed_one(load, fleet):
    load({"customers": [{"customer": "QRY", "name": "Quarry Road"}]})
    result = load({"tractors": [tractor(customer="qry")]})
    assert account(result, "tractors").changed == 1
    assert Tractor.objects.get(vin=VIN).customer.code == "QRY"
    assert Install.objects.get().customer.code == "ALD"


def test_half_a_battery_bank_is_refused_and_the_missing_half_named(load, fleet):
    [words] = reasons(load({"tractors": [tractor(vin=vin(9), battery_count="", battery_ah="")]}))
    assert "battery_count:" in words and "battery_ah:" in words and "battery_type:" not in words


def test_a_tractor_without_batteries_has_no_bank(load, fleet):
    bare = {"vin": vin(9), "customer": "ALD", "battery_type": "", "battery_count": ""}
    assert account(load({"tractors": [bare]}), "tractors").new == 1
    assert not BatteryBank.objects.filter(tractor__vin=vin(9)).exists()


def test_a_bank_is_added_to_a_tractor_on_record(load, fleet):
    bare = {"vin": vin(9), "customer": "ALD"}
    load({"tractors": [bare]})
    result = load({"tractors": [tractor(vin=vin(9), truck_number="")]})
    assert account(result, "tractors").changed == 1
    assert Tractor.objects.get(vin=vin(9)).bank.battery_count == 4


def test_a_larger_battery_is_a_change_of_the_bank_alone(load, fleet):
    assert account(load({"tractors": [tractor(battery_ah=120)]}), "tractors").changed == 1
    assert BatteryBank.objects.get(tractor__vin=VIN).battery_ah == 120
    assert BatteryBank.history.filter(tractor__vin=VIN).count() == 2
    assert Tractor.history.filter(vin=VIN).count() == 1


def test_blank_battery_cells_do_not_take_a_bank_off_the_record(load, fleet):
    blank = {"battery_type": "", "battery_count": "", "battery_ah": ""}
    assert account(load({"tractors": [tractor(**blank)]}), "tractors").unchanged == 1


def test_a_bank_of_too_many_batteries_is_refused_as_the_database_would(load, fleet):
    [words] = reasons(load({"tractors": [tractor(battery_count=40)]}))
    assert words == "battery_count: A bank has between 1 and 24 batteries."


def test_the_bad_row_of_a_model_year_is_named(load, fleet):
    assert (
        "model_year: A model year has four digits"
        in reasons(load({"tractors": [tractor(model_year=24)]}))[0]
    )


# Unit models and units


def test_a_refrigerant_is_stored_by_its_designation(load):
    sheets = a_fleet()
    sheets["unit_models"][0]["refrigerant"] = "r134A"
    load(sheets)
    assert UnitModel.objects.get().refrigerant == "R-134a"


def test_an_unknown_refrigerant_is_refused_and_the_known_ones_named(load):
    sheets = a_fleet()
    sheets["unit_models"][0]["refrigerant"] = "R-22"
    assert "R-134a" in reasons(load(sheets))[0]


def test_a_charge_in_ounces_is_stored_in_grams(load):
    # 1 oz = 28.349523125 g exactly (international avoirdupois pound of 1959).
    sheets = a_fleet()
    model = sheets["unit_models"][0]
    sheets["unit_models"] = [
        {"model": "K5-12", "refrigerant": "R-134a", "Charge (oz)": 18, "system_v": 12}
    ]
    load(sheets)
    assert UnitModel.objects.get().charge_g == pytest.approx(18 * 28.349523125)
    assert model


def test_grams_and_ounces_of_one_charge_are_no_change(load):
    sheets = a_fleet()
    sheets["unit_models"][0]["charge_g"] = 18 * 28.349523125
    load(sheets)
    model = {"model": "K5-12", "refrigerant": "R-134a", "charge_oz": 18, "system_v": 12}
    assert account(load({"unit_models": [model]}), "unit_models").unchanged == 1


def test_a_unit_of_an_unknown_model_is_refused_and_its_neighbour_taken(load, fleet):
    rows = [{"serial": "S-8", "model": "NOPE"}, {"serial": "S-9", "model": "K5-12"}]
    result = load({"units": rows})
    assert account(result, "units").new == 1
    assert "model: no unit model “NOPE”" in reasons(result)[0]


# Installs


def install(**changes):
    return a_fleet()["installs"][0] | changes


def test_a_unit_in_two_tractors_at_once_is_refused(load, fleet):
    result = load({"installs": [install(installed_on="2024-08-01", vin=OTHER_VIN)]})
    assert account(result, "installs").rejected == 1
    assert VIN in reasons(result)[0] and "removed_on" in reasons(result)[0]


def test_a_removal_and_the_next_install_come_in_one_book_in_any_order(load, fleet):
    rows = [
        install(installed_on="2024-09-01", vin=OTHER_VIN),
        install(removed_on="2024-09-01"),
    ]
    one = account(load({"installs": rows}), "installs")
    assert (one.new, one.changed) == (1, 1)
    assert Unit.objects.get(serial="S-1").installs.current().get().tractor.vin == OTHER_VIN


def test_a_later_install_undone_lets_an_earlier_one_last_longer(load, fleet):
    load(
        {
            "installs": [
                install(removed_on="2024-09-01"),
                install(installed_on="2024-09-01", vin=OTHER_VIN),
            ]
        }
    )
    result = load(
        {
            "installs": [
                install(removed_on="2024-10-01"),
                install(installed_on="2024-09-01", vin=OTHER_VIN, removed_on="2024-09-01"),
            ]
        }
    )
    assert account(result, "installs").changed == 2


def test_a_removal_before_the_install_is_refused(load, fleet):
    [words] = reasons(load({"installs": [install(serial="S-2", removed_on="2024-03-01")]}))
    assert words == "removed_on: A unit cannot be removed before it was installed."


def test_a_24_volt_unit_does_not_go_into_a_12_volt_truck(load, fleet):
    model = {"model": "K5-24", "refrigerant": "R-134a", "charge_g": 520, "system_v": 24}
    load({"unit_models": [model], "units": [{"serial": "S-24", "model": "K5-24"}]})
    [words] = reasons(load({"installs": [install(serial="S-24")]}))
    assert "12 V" in words and "24 V" in words


def test_an_install_is_written_down_at_noon_of_its_day_unless_it_says_otherwise(load, fleet):
    assert Install.objects.get().entered_at == datetime(2024, 3, 4, 18, tzinfo=UTC)
    load({"installs": [install(entered_at="2024-03-05T09:00-06:00")]})
    assert Install.objects.get().entered_at == datetime(2024, 3, 5, 15, tzinfo=UTC)
    assert account(load({"installs": [install()]}), "installs").unchanged == 1
    assert Install.objects.get().entered_at == datetime(2024, 3, 5, 15, tzinfo=UTC)


def test_the_technician_is_put_on_record_once_whatever_the_case(load, fleet):
    rows = [
        install(installed_by="T. Ash"),
        install(serial="S-2", vin=OTHER_VIN, installed_by="t. ash"),
    ]
    load({"installs": rows})
    assert Technician.objects.get().name == "T. Ash"
    assert Install.objects.filter(installed_by__name="T. Ash").count() == 2


def test_a_refused_row_puts_nobody_on_record(load, fleet):
    load({"installs": [install(installed_on="2024-08-01", vin=OTHER_VIN, installed_by="N. Obody")]})
    assert not Technician.objects.exists()


# Battery renewals


def renewal(**changes):
    return {"vin": VIN, "at": "2025-03-01", "renewed_count": 4} | changes


def test_a_renewal_goes_to_the_bank_of_its_truck(load, fleet):
    assert account(load({"battery_renewals": [renewal()]}), "battery_renewals").new == 1
    one = BatteryRenewal.objects.get()
    assert one.bank.tractor.vin == VIN
    assert one.at == one.entered_at == datetime(2025, 3, 1, 18, tzinfo=UTC)


def test_more_batteries_than_the_bank_has_are_refused(load, fleet):
    assert "has 4 batteries" in reasons(load({"battery_renewals": [renewal(renewed_count=5)]}))[0]


def test_a_truck_without_a_bank_has_nothing_to_renew(load, fleet):
    load({"tractors": [{"vin": vin(9), "customer": "ALD"}]})
    [words] = reasons(load({"battery_renewals": [renewal(vin=vin(9))]}))
    assert "no battery bank" in words


def test_a_renewal_of_no_battery_is_refused(load, fleet):
    [words] = reasons(load({"battery_renewals": [renewal(renewed_count=0)]}))
    assert "at least one battery" in words


def test_days_are_kept_as_days(fleet):
    assert Unit.objects.get(serial="S-1").made_on == date(2024, 1, 15)
