"""Saturation against CoolProp itself, printed tables, and what a sound unit shows on its gauges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering.saturation import (
    SAFETY_CLASS,
    TABLE,
    air_kpa,
    bubble_c,
    bubble_kpa,
    designation,
    dew_c,
    dew_kpa,
    is_flammable,
)

PSI = 6.894757293168361
SEA_LEVEL_PSI = 14.696
PURE = ["R-134a", "R-1234yf", "R-32", "R-290"]
BLENDS = ["R-410A", "R-407C", "R-404A", "R-454B", "R-513A"]

# psig at °F, bubble / dew for the blends: CoolProp 8.0.0, computed once and written down.
PSIG_AT_FAHRENHEIT = """
-20  -1.80   0.37  26.81  10.73  26.34/26.19    13.74/6.47     16.83/16.01    24.75/22.69    0.37/0.30
0     6.47   9.21  49.25  23.69  48.44/48.22    29.49/19.44    33.66/32.61    45.91/42.91    9.45/9.39
20   18.43  21.62  80.02  41.14  78.67/78.36    51.22/37.87    56.59/55.30    74.84/70.63    22.30/22.26
32   27.77  31.12 103.23  54.12  101.44/101.06  67.67/52.13    73.80/72.37    96.61/91.53    32.21/32.18
40   35.05  38.43 120.95  63.94  118.79/118.36  80.24/63.16    86.90/85.37    113.19/107.49  39.87/39.84
50   45.44  48.78 145.85  77.64  143.15/142.64  97.91/78.83    105.26/103.61  136.45/129.90  50.73/50.71
70   71.11  73.95 205.83 110.21  201.74/201.06  140.52/117.29  149.31/147.44  192.31/183.91  77.28/77.27
80   86.69  89.03 241.48 129.34  236.51/235.74  165.83/140.50  175.40/173.43  225.41/216.02  93.25/93.25
95  113.95 115.16 302.91 161.94  296.37/295.44  209.36/180.97  220.21/218.14  282.26/271.38  121.00/121.00
100 124.16 124.87 325.67 173.92  318.53/317.56  225.47/196.10  236.78/234.68  303.27/291.90  131.34/131.33
110 146.38 145.91 374.88 199.64  366.45/365.37  260.23/229.02  272.55/270.42  348.61/336.32  153.77/153.76
120 171.17 169.24 429.34 227.85  419.47/418.31  298.57/265.75  312.08/309.95  398.61/385.53  178.68/178.66
130 198.72 195.02 489.48 258.68  478.03/476.84  340.74/306.63  355.68/353.58  453.64/439.98  206.25/206.22
140 229.23 223.43 555.77 292.31  542.63/541.50  386.98/352.04  403.74/401.74  514.05/500.16  236.69/236.63
150 262.92 254.66 628.82 328.92  613.89/613.02  437.55/402.47  456.77/455.01  580.27/566.75  270.18/270.11
"""

# kPa absolute at °C, likewise.
KPA_AT_CELSIUS = """
-20  132.73  150.86  405.75  244.52  400.69/399.30    279.94/214.71    307.10/300.18    384.78/365.50    152.07/151.63
0    292.80  315.88  813.10  474.46  800.71/798.08    567.89/460.72    610.18/600.27    767.41/732.42    323.43/323.18
20   571.71  591.84 1474.57  836.46  1447.45/1442.93  1037.55/880.29   1097.15/1084.40  1384.59/1327.98  613.68/613.63
25   665.38  682.70 1689.62  952.07  1657.25/1652.14  1190.24/1019.95  1254.58/1241.23  1584.35/1521.65  709.83/709.82
40  1016.59 1018.47 2478.31 1369.42  2425.64/2418.61  1748.86/1541.19  1829.54/1814.95  2313.61/2232.62  1066.74/1066.71
60  1681.78 1641.83 3933.23 2116.75  3842.65/3834.83  2769.45/2528.58  2885.00/2871.22  3645.58/3549.84  1733.22/1732.85
"""


def columns(text):
    """List refrigerant, temperatures, bubble and dew pressures of a table above."""
    rows = [line.split() for line in text.strip().splitlines()]
    temperatures = np.array([float(row[0]) for row in rows])
    cases = []
    for place, refrigerant in enumerate(PURE + BLENDS, start=1):
        pairs = [row[place].split("/") for row in rows]
        bubble = np.array([float(pair[0]) for pair in pairs])
        dew = np.array([float(pair[-1]) for pair in pairs])
        cases.append(pytest.param(refrigerant, temperatures, bubble, dew, id=refrigerant))
    return cases


def to_c(fahrenheit):
    return (np.asarray(fahrenheit) - 32) / 1.8


def to_f(celsius):
    return celsius * 1.8 + 32


def to_kpa_abs(psig, air_psi=SEA_LEVEL_PSI):
    return (np.asarray(psig) + air_psi) * PSI


def to_psig(kpa_abs):
    return kpa_abs / PSI - SEA_LEVEL_PSI


class TestAgainstTheEquationsOfState:
    @pytest.mark.parametrize(
        ("refrigerant", "fahrenheit", "bubble", "dew"), columns(PSIG_AT_FAHRENHEIT)
    )
    def test_gauge_pressures_in_psi(self, refrigerant, fahrenheit, bubble, dew):
        assert to_psig(bubble_kpa(to_c(fahrenheit), refrigerant)) == pytest.approx(bubble, abs=0.05)
        assert to_psig(dew_kpa(to_c(fahrenheit), refrigerant)) == pytest.approx(dew, abs=0.05)

    @pytest.mark.parametrize(("refrigerant", "celsius", "bubble", "dew"), columns(KPA_AT_CELSIUS))
    def test_absolute_pressures_in_kpa(self, refrigerant, celsius, bubble, dew):
        assert bubble_kpa(celsius, refrigerant) == pytest.approx(bubble, abs=0.05)
        assert dew_kpa(celsius, refrigerant) == pytest.approx(dew, abs=0.05)

    @pytest.mark.parametrize("refrigerant", SAFETY_CLASS)
    def test_between_the_rows_of_the_shipped_table_it_stays_within_a_few_millikelvin(
        self, refrigerant
    ):
        # CoolProp 8.0.0 itself, at odd temperatures, where its mixture solver converges.
        from installs.engineering.saturation_table import saturation_kpa

        celsius = np.arange(-59.1, 67, 3.7)
        for quality, back in ((0, bubble_c), (1, dew_c)):
            kpa = np.array([saturation_kpa(t, quality, refrigerant) for t in celsius])
            taken = np.isfinite(kpa)
            assert taken.sum() > 25
            assert back(kpa[taken], refrigerant) == pytest.approx(celsius[taken], abs=0.002)

    @pytest.mark.parametrize("refrigerant", ["R-134a", "R-407C", "R-454B", "R-513A"])
    def test_the_shipped_table_is_what_its_generator_writes(self, refrigerant):
        from installs.engineering.saturation_table import rows

        shipped = [line for line in TABLE.read_text().splitlines() if line.startswith(refrigerant)]
        made = {row[1]: row[2:] for row in rows(refrigerant)}
        assert len(shipped) == pytest.approx(len(made), abs=2)
        for line in shipped:
            _, celsius, *pressures = line.split(",")
            if int(celsius) in made:
                assert [float(p) for p in pressures] == pytest.approx(
                    [float(p) for p in made[int(celsius)]], rel=1e-4
                )


class TestAgainstPrintedTables:
    def test_r134a_in_a_truck_service_manual(self):
        # A vehicle maker's pressure-temperature table, medium-duty truck service information,
        # 1998, whole psi.
        fahrenheit = [20, 40, 50, 70, 80, 90, 100, 110, 120, 130, 140, 150, 160]
        printed = [18, 35, 45, 71, 87, 104, 124, 147, 171, 199, 229, 263, 300]
        assert to_psig(dew_kpa(to_c(fahrenheit), "R-134a")) == pytest.approx(printed, abs=0.7)

    def test_r134a_in_a_mechanical_engineers_handbook(self):
        # Mechanical Engineers' Handbook, vol. 4, thermophysical properties, table 14.
        bar = np.array([1, 2, 3, 4, 5, 6, 8, 10, 12])
        printed = [-26.52, -10.18, 0.59, 8.86, 15.68, 21.54, 31.35, 39.41, 46.36]
        assert dew_c(bar * 100, "R-134a") == pytest.approx(printed, abs=0.2)

    def test_r134a_in_a_thermodynamics_textbook(self):
        # Superheat table of a thermodynamics textbook, 0.14, 0.18, 0.20, 0.24 MPa.
        assert dew_c([140, 180, 200, 240], "R-134a") == pytest.approx(
            [-18.80, -12.73, -10.09, -5.37], abs=0.1
        )

    def test_r134a_in_the_ashrae_handbook(self):
        # ASHRAE Handbook—Fundamentals, R-134a, psia at 0, 40, 100 °F (from memory).
        assert dew_kpa(to_c([0, 40, 100]), "R-134a") / PSI == pytest.approx(
            [21.17, 49.74, 138.8], abs=0.1
        )

    def test_r410a_on_a_chart_computed_with_nist_refprop(self):
        fahrenheit = [-40, 0, 20, 40, 70, 80, 100, 120, 140]
        printed = [10.8, 48.4, 78.7, 118.8, 201.7, 236.5, 318.5, 419.5, 542.6]
        assert to_psig(bubble_kpa(to_c(fahrenheit), "R-410A")) == pytest.approx(printed, abs=0.06)

    def test_r404a_on_the_same_chart(self):
        assert to_psig(bubble_kpa(to_c([0, 20, 40, 50, 60]), "R-404A")) == pytest.approx(
            [33.7, 56.6, 86.9, 105.3, 126.0], abs=0.06
        )

    def test_r454b_on_a_makers_chart(self):
        # A public chart stated to be the maker's; the two equations differ by up to 1 %.
        fahrenheit = [0, 20, 40, 70, 100, 120, 140, 150]
        printed = to_kpa_abs([45.3, 74.0, 111.9, 190.4, 300.8, 395.9, 512.0, 580.0])
        assert bubble_kpa(to_c(fahrenheit), "R-454B") == pytest.approx(printed, rel=0.015)

    def test_r134a_below_the_pressure_of_the_air(self):
        # CoolProp 8.0.0; one public chart mixes psi and inches of mercury in these rows.
        assert to_psig(dew_kpa(to_c([-40, -30, -20]), "R-134a")) == pytest.approx(
            [-7.27, -4.83, -1.80], abs=0.05
        )


class TestFromAGauge:
    def test_r134a_temperatures_from_psi(self):
        # CoolProp 8.0.0.
        psig = [0, 10, 30, 35, 50, 100, 150, 185, 200, 250]
        fahrenheit = [-14.93, 6.66, 34.56, 39.95, 53.98, 87.66, 111.53, 125.15, 130.44, 146.28]
        assert to_f(dew_c(to_kpa_abs(psig), "R-134a")) == pytest.approx(fahrenheit, abs=0.1)

    def test_r407c_glides_by_eleven_degrees(self):
        # CoolProp 8.0.0: bubble 26.65 °F, dew 37.80 °F at 60 psig.
        bubble, dew = (to_f(f(to_kpa_abs(60), "R-407C")) for f in (bubble_c, dew_c))
        assert (bubble, dew) == pytest.approx((26.65, 37.80), abs=0.1)

    def test_the_same_gauge_reading_is_colder_in_a_yard_at_height(self):
        # CoolProp 8.0.0: at 12.228 psi of air, about 5,000 ft, 35 psig is 37.34 °F, not 39.95 °F.
        assert to_f(dew_c(to_kpa_abs(35, air_psi=12.228), "R-134a")) == pytest.approx(
            37.34, abs=0.1
        )

    def test_a_sound_r134a_unit_evaporates_above_frost_and_condenses_above_a_hot_day(self):
        # Common practice, no source: 40-50 psi suction, 150-180 psi discharge on a hot day.
        evaporating = dew_c(to_kpa_abs([40, 50]), "R-134a")
        condensing = bubble_c(to_kpa_abs([150, 180]), "R-134a")
        assert ((evaporating > 5) & (evaporating < 13)).all()
        assert ((condensing > 38 + 5) & (condensing < 30 + 25)).all()

    def test_the_same_discharge_pressure_on_a_cold_day_is_far_above_the_air(self):
        # Common practice, no source: a sound condenser runs some 5 to 25 K above the air.
        assert (bubble_c(to_kpa_abs([150, 180]), "R-134a") - 10 > 30).all()


class TestWhatCannotBeRead:
    def test_above_the_critical_point_is_not_a_number(self):
        # Critical points, CoolProp 8.0.0.
        for refrigerant, celsius, kpa in [
            ("R-134a", 101.06, 4059.3),
            ("R-1234yf", 94.70, 3384.4),
            ("R-32", 78.11, 5782.6),
            ("R-290", 96.74, 4251.2),
        ]:
            assert np.isnan(dew_c(kpa + 1, refrigerant))
            assert np.isnan(bubble_kpa(celsius + 0.1, refrigerant))
            assert np.isfinite(dew_kpa(celsius - 2.2, refrigerant))

    def test_one_bad_reading_leaves_the_others_alone(self):
        read = dew_c([np.nan, -5, 0, 1, 665.38, np.inf], "R-134a")
        assert np.isnan(read).tolist() == [True, True, True, True, False, True]
        assert read[4] == pytest.approx(25, abs=0.01)

    def test_the_shape_is_kept(self):
        assert dew_c(np.full((2, 3), 500.0), "R-32").shape == (2, 3)
        assert dew_c([], "R-32").shape == (0,)


pressures = st.floats(min_value=70, max_value=3200)
refrigerants = st.sampled_from(sorted(SAFETY_CLASS))


class TestWhatHoldsEverywhere:
    @given(pressures, refrigerants)
    def test_dew_is_never_colder_than_bubble_at_one_pressure(self, kpa, refrigerant):
        assert dew_c(kpa, refrigerant) >= bubble_c(kpa, refrigerant) - 1e-3

    @given(st.floats(min_value=-60, max_value=70), refrigerants)
    def test_bubble_pressure_is_never_below_dew_pressure(self, celsius, refrigerant):
        assert bubble_kpa(celsius, refrigerant) >= dew_kpa(celsius, refrigerant) * (1 - 1e-5)

    @given(pressures, pressures, refrigerants)
    def test_more_pressure_is_always_warmer(self, one, other, refrigerant):
        low, high = sorted((one, other))
        for curve in (bubble_c, dew_c):
            assert curve(low, refrigerant) <= curve(high, refrigerant)

    @given(pressures, refrigerants)
    def test_there_and_back(self, kpa, refrigerant):
        assert dew_kpa(dew_c(kpa, refrigerant), refrigerant) == pytest.approx(kpa, rel=1e-5)
        assert bubble_kpa(bubble_c(kpa, refrigerant), refrigerant) == pytest.approx(kpa, rel=1e-5)


class TestDesignation:
    @pytest.mark.parametrize("text", ["R-134a", "R134a", "r134A", " r 134 A", "134a", "R‑134a"])
    def test_it_is_read_however_a_spreadsheet_writes_it(self, text):
        assert designation(text) == "R-134a"

    def test_each_supported_designation_means_itself(self):
        assert [designation(name.upper()) for name in SAFETY_CLASS] == list(SAFETY_CLASS)

    def test_an_unknown_one_is_refused_with_the_known_ones_named(self):
        with pytest.raises(ValueError, match=r"R-22 is not .* known are R-134a, .*R-513A"):
            designation("R-22")

    def test_no_curve_is_given_for_an_unknown_one(self):
        with pytest.raises(ValueError, match="R-12"):
            dew_c(500, "R-12")


class TestSafetyClass:
    def test_the_flammable_ones_are_known(self):
        # ANSI/ASHRAE Standard 34.
        assert {name for name in SAFETY_CLASS if is_flammable(name)} == {
            "R-1234yf",
            "R-32",
            "R-290",
            "R-454B",
        }
        assert SAFETY_CLASS["R-290"] == "A3"


class TestAir:
    def test_the_standard_atmosphere(self):
        # US Standard Atmosphere 1976 (ISO 2533), geopotential 0, 1,000, 2,000 m, 5,000 ft.
        assert air_kpa([0, 1000, 2000, 1524]) == pytest.approx(
            [101.325, 89.874, 79.495, 84.307], abs=0.003
        )

    def test_eighteen_kilopascals_less_at_sixteen_hundred_metres(self):
        # From memory: what a weather station at a mile of height is short of sea level.
        assert 101.325 - air_kpa(1600) == pytest.approx(18, abs=0.5)

    def test_outside_the_lowest_layer_it_does_not_guess(self):
        assert np.isnan(air_kpa([-3000, 12_000, np.nan])).all()
