"""Batteries against published tables, and against what a bank must carry of a night."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering.battery import (
    BATTERY_TYPES,
    OHMIC_ACT,
    OHMIC_WATCH,
    PEUKERT_EXPONENT,
    SURVIVAL_FLOOR_V,
    bank_ah,
    below_end_of_life,
    capacity_at_20h,
    capacity_factor,
    hours,
    hours_carried,
    internal_mohm,
    ohmic_rise,
    peukert_exponent,
    reserve_capacity_ah,
    rest_v_at_25c,
    state_of_charge,
    usable_fraction,
)


class TestChargeFromRestVoltage:
    def test_flooded_reads_the_battery_council_table(self):
        volts = [12.65, 12.45, 12.24, 12.06, 11.89]
        assert state_of_charge(volts, "flooded") == pytest.approx([1, 0.75, 0.5, 0.25, 0])

    def test_flooded_between_the_rows_of_the_table(self):
        # Straight lines between the BCI rows; clamped at both ends.
        volts = [12.55, 12.40, 12.345, 12.15, 12.00, 12.90, 11.50]
        assert state_of_charge(volts, "flooded") == pytest.approx(
            [0.875, 0.690, 0.625, 0.375, 0.162, 1, 0], abs=0.005
        )

    def test_agm_reads_the_owners_manual_table(self):
        # A vehicle owner's manual: full 12.8-13.2 V, 75 % 12.6, 50 % 12.3, 25 % 12.0.
        assert state_of_charge([13.2, 12.8, 12.6, 12.3, 12.0], "agm") == pytest.approx(
            [1, 1, 0.75, 0.5, 0.25]
        )

    def test_the_flooded_table_flatters_an_agm_battery(self):
        # 12.60 V: flooded 94 %, AGM 75 %; 12.30 V: flooded 57 %, AGM 50 % (from the two tables).
        assert state_of_charge([12.60, 12.30], "flooded") == pytest.approx([0.94, 0.57], abs=0.005)
        assert state_of_charge([12.60, 12.30], "agm") == pytest.approx([0.75, 0.50])

    def test_gel_is_half_full_a_little_above_agm(self):
        # From memory.
        assert state_of_charge(12.35, "gel") == pytest.approx(0.5)

    def test_lifepo4_is_not_judged_by_voltage(self):
        # Published tables differ by 20 points over the flat middle: count ampere-hours.
        assert np.isnan(state_of_charge([13.1, 13.3], "lifepo4")).all()

    def test_a_24_volt_bank_reads_as_two_blocks(self):
        assert state_of_charge(2 * 12.24, "flooded", system_v=24) == pytest.approx(0.5)

    def test_a_missing_voltage_stays_missing(self):
        charge = state_of_charge([12.65, np.nan], "flooded")
        assert charge[0] == pytest.approx(1)
        assert np.isnan(charge[1])

    def test_an_unknown_type_is_refused(self):
        with pytest.raises(KeyError):
            state_of_charge(12.6, "dry")


class TestTemperatureOfARestVoltage:
    def test_a_warm_bank_reads_high_by_a_millivolt_a_kelvin(self):
        # About +0.2 mV/K a cell, thermodynamic drift of the lead-acid cell (from memory).
        assert rest_v_at_25c(12.65, 12, 45) == pytest.approx(12.65 - 0.024)
        assert rest_v_at_25c(25.30, 24, 45) == pytest.approx(25.30 - 0.048)

    def test_it_is_neither_the_hydrometers_nor_the_chargers_constant(self):
        # Hydrometer 0.004 per 10 °F, i.e. 4.3 mV/K on 12 V; charging -18 to -30 mV/K (from memory).
        per_kelvin = (12.65 - rest_v_at_25c(12.65, 12, 26)) * 1000
        assert 0 < per_kelvin < 2

    def test_a_battery_temperature_not_taken_corrects_nothing(self):
        assert rest_v_at_25c([12.5, 12.5], 12, [np.nan, 25]) == pytest.approx([12.5, 12.5])


class TestPeukert:
    @pytest.mark.parametrize(
        ("capacity", "rated_h", "amps", "exponent", "runs_h", "gives_ah"),
        [
            (120, 20, 120, 1.4, 0.3017, 36.2),  # published example, prints 0.30
            (100, 20, 5, 1.2, 20.0, 100.0),  # the rest is algebra from the formula
            (100, 20, 5, 1.4, 20.0, 100.0),
            (100, 20, 10, 1.2, 8.7055, 87.06),
            (100, 20, 25, 1.2, 2.8991, 72.48),
            (200, 20, 40, 1.2, 3.7893, 151.57),
            (400, 20, 40, 1.15, 9.0125, 360.50),
            (200, 20, 40, 1.0, 5.0, 200.0),
        ],
    )
    def test_hours_and_ampere_hours(self, capacity, rated_h, amps, exponent, runs_h, gives_ah):
        run = hours(capacity, amps, exponent, rated_h)
        assert run == pytest.approx(runs_h, abs=0.0001)
        assert run * amps == pytest.approx(gives_ah, abs=0.05)

    def test_a_battery_at_its_rated_current_runs_its_rated_hours(self):
        # A published page puts the 20 h capacity into C / I^k and gets 14.5 h here.
        assert hours(100, 5, 1.2) == pytest.approx(20)

    def test_exponent_from_the_20_hour_rating_and_the_reserve_capacity(self):
        # 100 Ah at 5 A with a reserve of 180 min at 25 A.
        assert peukert_exponent(20, 5, 3, 25) == pytest.approx(1.17875, abs=0.0001)

    @given(st.floats(50, 800), st.floats(2, 200), st.floats(1, 1.4))
    def test_a_measured_discharge_gives_the_rating_back(self, capacity, amps, exponent):
        drawn = hours(capacity, amps, exponent) * amps
        assert capacity_at_20h(drawn, amps, exponent) == pytest.approx(capacity)

    def test_no_current_gives_no_hours(self):
        assert np.isnan(hours(100, [0, -5, np.nan], 1.2)).all()

    def test_reserve_capacity_in_ampere_hours(self):
        # SAE J537: minutes at 25 A, 80 °F, to 10.5 V.
        assert reserve_capacity_ah([90, 115, 120, 160, 180]) == pytest.approx(
            [37.5, 47.917, 50.0, 66.667, 75.0], abs=0.001
        )


class TestCapacityInTheColdAndTheHeat:
    def test_lead_acid_loses_about_a_hundredth_a_kelvin(self):
        # IEEE 485 table 1 (from memory): sizes 1.30 at 40 °F, 1.19 at 50 °F, 1.00 at 77 °F.
        assert capacity_factor([4.4, 10, 25], "flooded") == pytest.approx([1 / 1.30, 1 / 1.19, 1.0])
        assert (1 - capacity_factor(5, "agm")) / 20 == pytest.approx(0.011, abs=0.002)

    def test_lithium_loses_less(self):
        assert capacity_factor(0, "lifepo4") > capacity_factor(0, "flooded") + 0.1


class TestResistance:
    def test_volts_lost_over_amperes(self):
        # Ohm's law: 12.70 V at rest, 12.50 V under 40 A.
        assert internal_mohm(12.70, 12.50, 40) == pytest.approx(5.0)

    def test_a_cranking_cable_allowance(self):
        # TMC RP 129: at most 0.5 V at 500 A, which is 1 mΩ, and 0.05 V at 50 A.
        assert internal_mohm(0.5, 0, 500) == pytest.approx(1.0)
        assert internal_mohm(0.05, 0, 50) == pytest.approx(1.0)

    def test_no_load_says_nothing(self):
        assert np.isnan(internal_mohm(12.7, 12.7, [0, np.nan])).all()

    def test_a_quarter_more_is_watched_and_a_half_more_is_acted_on(self):
        # IEEE 1188 as commonly quoted (from memory), over a first value of 4.0 mΩ.
        rise = ohmic_rise([4.9, 5.0, 6.0], 4.0)
        assert rise == pytest.approx([0.225, 0.25, 0.50])
        assert (rise >= OHMIC_WATCH).tolist() == [False, True, True]
        assert (rise >= OHMIC_ACT).tolist() == [False, False, True]


def test_a_bank_is_worn_out_below_eighty_percent_of_its_rating():
    # A government storage-battery maintenance manual; IEEE 450, IEEE 1188 (from memory).
    assert below_end_of_life([158, 160, 200], 200).tolist() == [True, False, False]


class TestANightOnTheBank:
    """Common practice, no source: four healthy 100 Ah batteries, 12 V, cut off at 11 V."""

    FOUR = bank_ah(4, 100)

    @pytest.mark.parametrize("battery_type", BATTERY_TYPES)
    def test_low_output_is_carried_for_eight_hours_or_more(self, battery_type):
        assert hours_carried(self.FOUR, 25, 11.0, battery_type) >= 8

    @pytest.mark.parametrize("battery_type", ["flooded", "agm", "gel"])
    def test_high_output_is_for_the_running_engine(self, battery_type):
        assert hours_carried(self.FOUR, 65, 11.0, battery_type) < 8

    @pytest.mark.parametrize("battery_type", ["flooded", "agm", "gel"])
    def test_middle_output_at_forty_amperes_does_not_carry_a_ten_hour_rest(self, battery_type):
        # 49 CFR 395.3: ten consecutive hours off duty.
        assert hours_carried(self.FOUR, 40, 11.0, battery_type) < 10

    def test_half_the_health_carries_less_than_half_the_hours(self):
        whole, half = hours_carried(self.FOUR, 25, 11.0, "flooded", health=np.array([1.0, 0.5]))
        assert half < whole / 2

    def test_a_cold_bank_carries_less(self):
        warm, cold = hours_carried(self.FOUR, 25, 11.0, "agm", battery_c=np.array([25, 0]))
        assert cold < warm

    def test_the_same_four_batteries_on_24_volts_carry_the_same_power_as_long(self):
        at_12 = hours_carried(bank_ah(4, 100, 12), 40, 11.0, "agm")
        at_24 = hours_carried(bank_ah(4, 100, 24), 20, 22.0, "agm", system_v=24)
        assert at_24 == pytest.approx(at_12)

    def test_a_higher_cutoff_leaves_more_in_the_bank(self):
        # At the discharge end of SAE J537 all of the capacity is taken.
        assert usable_fraction(10.5, "flooded") == 1
        taken = usable_fraction([11.0, 11.5, 12.0], "flooded")
        assert (np.diff(taken) < 0).all()

    def test_the_usual_cutoff_spares_every_battery(self):
        # Common practice, no source: the unit cuts off at 11 V.
        assert max(SURVIVAL_FLOOR_V.values()) < 11.0

    def test_every_type_has_its_constants(self):
        assert set(PEUKERT_EXPONENT) == set(SURVIVAL_FLOOR_V) == set(BATTERY_TYPES)
