"""Leak rates and thresholds against the rules' own arithmetic; warming against published lists."""

from datetime import date

import numpy as np
import pytest

from installs.engineering.saturation import SAFETY_CLASS
from service.engineering.charge import (
    COMPOSITION,
    GWP100,
    co2e_kg,
    gwp,
    leak_rate_annualizing,
    leak_rate_rolling,
    legal_threshold_applies,
)

LB_G = 453.59237
TODAY = date(2026, 6, 1)


class TestAnnualizingMethod:
    @pytest.mark.parametrize(
        ("added", "full_charge", "days", "percent"),
        [
            (10, 100, 180, 20.28),
            (2, 50, 30, 48.67),
            (30, 200, 120, 45.63),
            (10, 100, 400, 10.00),  # the days are capped at 365: not 9.13 %
            (50, 500, 120, 30.42),
        ],
    )
    def test_the_formula_of_40_cfr_82_152(self, added, full_charge, days, percent):
        # Arithmetic from the formula; any unit of mass, as long as both have it.
        assert leak_rate_annualizing(added, full_charge, days) == pytest.approx(percent, abs=0.01)

    def test_a_whole_fleet_at_once(self):
        rates = leak_rate_annualizing(np.array([50, 0]), 500, np.array([120, 30]))
        assert rates == pytest.approx([30.42, 0], abs=0.01)

    @pytest.mark.parametrize("days", [0, -3, [30, 0]])
    def test_no_days_give_no_rate(self, days):
        with pytest.raises(ValueError, match="days since the last addition"):
            leak_rate_annualizing(50, 500, days)

    def test_an_empty_nameplate_is_refused(self):
        with pytest.raises(ValueError, match="full charge"):
            leak_rate_annualizing(50, 0, 120)

    def test_a_recovery_is_no_addition(self):
        with pytest.raises(ValueError, match="no addition"):
            leak_rate_annualizing(-50, 500, 120)


class TestRollingAverageMethod:
    """40 CFR 82.152; arithmetic from the formula."""

    def test_two_additions_within_the_year_are_summed(self):
        rate = leak_rate_rolling([0, 0], [2, 3], [300, 20], [60])
        assert rate == pytest.approx([8.33], abs=0.01)

    def test_the_only_addition_of_the_year_counts_as_it_is(self):
        assert leak_rate_rolling([0], [50], [0], [500]) == pytest.approx([10.0])

    def test_what_is_older_than_a_year_no_longer_counts(self):
        assert leak_rate_rolling([0, 0], [50, 25], [366, 365], [500]) == pytest.approx([5.0])

    def test_what_came_before_a_proved_repair_does_not_count(self):
        rate = leak_rate_rolling([0, 0], [50, 25], [200, 10], [500], verified_days_ago=[100])
        assert rate == pytest.approx([5.0])

    def test_the_charge_that_goes_with_the_repair_does_not_count_after_its_proof(self):
        rate = leak_rate_rolling([0], [50], [100], [500], verified_days_ago=[100])
        assert rate == pytest.approx([0])

    def test_what_is_added_later_is_not_known_yet(self):
        assert leak_rate_rolling([0], [50], [-1], [500]) == pytest.approx([0])

    def test_each_unit_has_its_own_account(self):
        rate = leak_rate_rolling([2, 0, 2], [50, 30, 50], [10, 10, 90], [600, 500, 500])
        assert rate == pytest.approx([5.0, 0.0, 20.0])

    def test_a_fleet_that_never_needed_any(self):
        assert leak_rate_rolling([], [], [], [500, 600]).tolist() == [0, 0]

    def test_an_empty_nameplate_is_refused(self):
        with pytest.raises(ValueError, match="full charge"):
            leak_rate_rolling([0], [50], [10], [0])


class TestLegalThresholds:
    @pytest.mark.parametrize("refrigerant", SAFETY_CLASS)
    def test_half_a_kilogram_is_below_every_threshold(self, refrigerant):
        assert legal_threshold_applies(500, refrigerant, date(2019, 6, 1)) == ()
        assert legal_threshold_applies(500, refrigerant, TODAY) == ()

    def test_fifteen_pounds_of_hfc_reach_part_84(self):
        # 89 FR 82682, 11 October 2024; 15 lb = 6,803.88555 g.
        assert legal_threshold_applies(6800, "R-134a", TODAY) == ()
        assert legal_threshold_applies(6810, "R-134a", TODAY) == ("40 CFR 84.106",)
        assert legal_threshold_applies(15 * LB_G, "R-134a", TODAY) == ("40 CFR 84.106",)

    def test_part_84_begins_with_2026(self):
        assert legal_threshold_applies(7000, "R-134a", date(2025, 12, 31)) == ()
        assert legal_threshold_applies(7000, "R-134a", date(2026, 1, 1)) == ("40 CFR 84.106",)

    @pytest.mark.parametrize("refrigerant", ["R-1234yf", "R-290"])
    def test_part_84_leaves_out_what_hardly_warms(self, refrigerant):
        # GWP above 53 only.
        assert legal_threshold_applies(7000, refrigerant, TODAY) == ()

    def test_part_82_reached_hfc_until_april_2020(self):
        # 40 CFR 82.157: from 10 April 2020 not for appliances with substitutes only.
        fifty_pounds = 50 * LB_G
        assert legal_threshold_applies(fifty_pounds, "R-410A", date(2020, 4, 9)) == (
            "40 CFR 82.157",
        )
        assert legal_threshold_applies(fifty_pounds, "R-410A", date(2020, 4, 10)) == ()
        assert legal_threshold_applies(fifty_pounds - 1, "R-410A", date(2020, 4, 9)) == ()


class TestWarming:
    @pytest.mark.parametrize(
        ("refrigerant", "ar4", "ar5", "ar6"),
        [
            # AR4 40 CFR 98 table A-1; AR5 WG1 table 8.A.1; AR6 WG1 table 7.SM.7 and the
            # published listings of blends (2256, 1908, 4728, 673, 531).
            ("R-134a", 1430, 1300, 1530),
            ("R-1234yf", 4, 1, 0.501),
            ("R-32", 675, 677, 771),
            ("R-290", 3, 3, 0.02),
            ("R-410A", 2087.5, 1923.5, 2255.5),
            ("R-407C", 1773.85, 1624.21, 1907.93),
            ("R-404A", 3921.6, 3942.8, 4728.0),
            ("R-454B", 466.3, 466.8, 531.4),
            ("R-513A", 631.4, 572.6, 673.5),
        ],
    )
    def test_each_report_has_its_own_figure(self, refrigerant, ar4, ar5, ar6):
        figures = [gwp(refrigerant, report) for report in ("AR4", "AR5", "AR6")]
        assert figures == pytest.approx([ar4, ar5, ar6], abs=0.06)

    def test_half_a_kilogram_in_carbon_dioxide(self):
        # Exact by the figures above.
        assert [co2e_kg(500, "R-134a", r) for r in ("AR4", "AR5", "AR6")] == [715, 650, 765]
        assert co2e_kg(500, "R-410A") == 1043.75

    def test_a_column_of_masses(self):
        assert co2e_kg([500, 1000], "r134a").tolist() == [715, 1430]

    @pytest.mark.parametrize(
        ("refrigerant", "kg"),
        [
            ("R-134a", 3.497),
            ("R-410A", 2.395),
            ("R-404A", 1.275),
            ("R-407C", 2.819),
            ("R-32", 7.407),
            ("R-454B", 10.723),
            ("R-513A", 7.919),
        ],
    )
    def test_five_tonnes_of_the_european_rule_in_refrigerant(self, refrigerant, kg):
        # EU 517/2014 Art. 4: checks begin at 5 t CO2e (AR4).
        assert co2e_kg(kg * 1000, refrigerant) == pytest.approx(5000, rel=0.0005)

    def test_every_supported_refrigerant_is_whole(self):
        assert set(COMPOSITION) == set(SAFETY_CLASS)
        assert {sum(parts.values()) for parts in COMPOSITION.values()} == {100}
        assert len({frozenset(figures) for figures in GWP100.values()}) == 1
