"""Cable and fuse against published tables, and against the trap of the one-way length."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.engineering.cabling import (
    INSULATION_C,
    SIZES,
    ampacity_a,
    area_mm2,
    cable_for,
    circular_mils,
    diameter_mm,
    drop_v,
    fuse_for,
    mohm_per_m,
)

FT = 0.3048
KFT = 1000 * FT

# AWG: circular mils, mm², Ω/1000 ft of solid wire at 20 and 25 °C (NBS copper wire tables), and of
# stranded at 75 °C (NEC chapter 9, table 8).
WIRE = {
    "8": (16_510, 8.366, 0.6282, 0.6405, 0.778),
    "6": (26_251, 13.302, 0.3951, 0.4028, 0.491),
    "4": (41_741, 21.151, 0.2485, 0.2533, 0.308),
    "2": (66_371, 33.631, 0.1563, 0.1593, 0.194),
    "1": (83_693, 42.408, 0.1239, 0.1264, 0.154),
    "1/0": (105_535, 53.475, 0.0983, 0.1002, 0.122),
    "2/0": (133_077, 67.431, 0.0779, 0.0795, 0.0967),
    "4/0": (211_600, 107.219, 0.0490, 0.0500, 0.0608),
}


class TestTheWireTable:
    def test_number_36_is_five_thousandths_and_4_0_is_46_hundredths_of_an_inch(self):
        # ASTM B258 fixes these two and divides what lies between them evenly.
        assert diameter_mm("36") == pytest.approx(0.005 * 25.4)
        assert diameter_mm("4/0") == pytest.approx(0.46 * 25.4)

    @pytest.mark.parametrize("awg", WIRE)
    def test_area(self, awg):
        cmil, mm2, *_ohms = WIRE[awg]
        assert circular_mils(awg) == pytest.approx(cmil, rel=1e-4)
        assert area_mm2(awg) == pytest.approx(mm2, rel=1e-4)

    @pytest.mark.parametrize("awg", WIRE)
    def test_resistance_of_solid_wire(self, awg):
        *_areas, at_20c, at_25c, _nec = WIRE[awg]
        per_kft = mohm_per_m(awg, [20, 25], stranded=False) * KFT / 1000
        assert per_kft == pytest.approx([at_20c, at_25c], abs=0.0001)

    @pytest.mark.parametrize("awg", WIRE)
    def test_resistance_of_hot_stranded_wire(self, awg):
        assert mohm_per_m(awg, 75) * KFT / 1000 == pytest.approx(WIRE[awg][-1], rel=0.006)


class TestTheDrop:
    @pytest.mark.parametrize(
        ("awg", "amps", "cool_v", "hot_v"),
        # 15 ft one way, 30 ft there and back: solid at 20 °C by Ohm's law from the NBS table, and
        # stranded at 75 °C from NEC table 8.
        [
            ("6", 40, 0.474, 0.589),
            ("6", 65, 0.770, 0.957),
            ("4", 40, 0.298, 0.370),
            ("4", 65, 0.485, 0.601),
        ],
    )
    def test_worked_examples(self, awg, amps, cool_v, hot_v):
        assert drop_v(awg, amps, 15 * FT, stranded=False) == pytest.approx(cool_v, abs=0.001)
        assert drop_v(awg, amps, 15 * FT, 75) == pytest.approx(hot_v, rel=0.006)

    def test_the_way_back_is_counted_or_a_thin_cable_passes(self):
        # 6 AWG, 40 A, 15 ft: 0.474 V; taken one way it is 0.237 V, a false pass at 3 % of 12 V.
        there_and_back = drop_v("6", 40, 15 * FT, stranded=False)
        assert there_and_back > 0.36 > there_and_back / 2
        assert cable_for(40, 15 * FT, 12).awg != "6"

    @pytest.mark.parametrize(
        ("amps", "limit", "awg"),
        # A printed 3 % table at 12 V and 30 ft round trip: 4 AWG at 40 A, 2 AWG at 60 and 70 A; the
        # area rule with K = 10.75 gives 2 AWG at 65 A, and 8 AWG at 40 A and 10 %.
        [(40, 0.03, "4"), (60, 0.03, "2"), (65, 0.03, "2"), (70, 0.03, "2"), (40, 0.10, "8")],
    )
    def test_the_gauge_of_a_printed_table(self, amps, limit, awg):
        assert cable_for(amps, 15 * FT, 12, drop_limit=limit).awg == awg

    def test_twice_the_volts_let_a_thinner_cable_do(self):
        # 3 % of 24 V is twice 3 % of 12 V.
        at_12, at_24 = cable_for(40, 15 * FT, 12), cable_for(40, 15 * FT, 24)
        assert SIZES.index(at_24.awg) < SIZES.index(at_12.awg)

    @given(st.sampled_from(SIZES[1:]), st.floats(1, 300), st.floats(0.2, 30), st.floats(-30, 70))
    def test_a_thicker_cable_never_loses_more(self, awg, amps, one_way_m, copper_c):
        thinner = SIZES[SIZES.index(awg) - 1]
        assert drop_v(awg, amps, one_way_m, copper_c) < drop_v(thinner, amps, one_way_m, copper_c)

    @given(st.sampled_from(SIZES), st.floats(1, 300), st.floats(0.2, 15), st.floats(1, 4))
    def test_the_drop_grows_with_the_length(self, awg, amps, one_way_m, times):
        once = drop_v(awg, amps, one_way_m)
        assert drop_v(awg, amps, one_way_m * times) == pytest.approx(once * times)


class TestWhatItMayCarry:
    @pytest.mark.parametrize(
        ("awg", "by_rating"),
        # 33 CFR 183.425, table 5: insulation of 75, 90 and 105 °C.
        [
            ("8", (65, 70, 80)),
            ("4", (125, 135, 160)),
            ("2", (170, 180, 210)),
            ("2/0", (265, 285, 330)),
        ],
    )
    def test_the_table_for_circuits_under_50_volts(self, awg, by_rating):
        assert tuple(ampacity_a(awg, rating) for rating in INSULATION_C) == pytest.approx(by_rating)

    @pytest.mark.parametrize(
        ("rating", "factor"),
        # Its note 1 for engine spaces, 50 °C: 0.75, 0.82, and 0.85 for 105 °C.
        [(75, 0.75), (90, 0.82), (105, 0.85)],
    )
    def test_hot_air_takes_away_what_the_table_says(self, rating, factor):
        assert ampacity_a("4", rating, 50) / ampacity_a("4", rating) == pytest.approx(
            factor, abs=0.008
        )

    def test_air_as_hot_as_the_insulation_may_be_leaves_nothing(self):
        assert ampacity_a("2", 75, 75) == ampacity_a("2", 75, 90) == 0

    def test_an_unknown_rating_is_refused(self):
        with pytest.raises(ValueError, match="known are 75, 90, 105"):
            ampacity_a("4", 60)

    def test_a_short_run_is_decided_by_the_current(self):
        cable = cable_for(100, 0.5, 12, insulation_c=75)
        assert cable.decided_by == "ampacity"
        assert cable.ampacity_a >= 1.25 * 100

    def test_a_long_run_is_decided_by_the_drop(self):
        assert cable_for(40, 6, 12).decided_by == "drop"


class TestTheFuse:
    @pytest.mark.parametrize(
        ("amps", "fuse"),
        # The next rating of NEC 240.6 (from memory) at 1.25 × a continuous load (from memory).
        [(25, 35), (40, 50), (58, 80), (64, 80), (65, 90)],
    )
    def test_the_next_size_over_a_quarter_more(self, amps, fuse):
        assert fuse_for(amps, 200) == fuse

    def test_a_fuse_above_what_the_cable_bears_is_none(self):
        assert fuse_for(65, 89) is None

    @given(
        st.floats(1, 200),
        st.floats(0.2, 15),
        st.sampled_from((12, 24)),
        st.sampled_from(INSULATION_C),
        st.floats(-20, 60),
    )
    def test_every_cable_keeps_all_its_limits(self, amps, one_way_m, system_v, rating, ambient_c):
        cable = cable_for(amps, one_way_m, system_v, rating, ambient_c)
        if cable is None:
            thickest = drop_v("4/0", amps, one_way_m, ambient_c)
            assert thickest > 0.03 * system_v or not fuse_for(
                amps, ampacity_a("4/0", rating, ambient_c)
            )
        else:
            assert cable.drop_fraction <= 0.03
            assert 1.25 * amps <= cable.fuse_a <= cable.ampacity_a

    def test_a_run_that_no_cable_can_do_gets_none(self):
        assert cable_for(200, 30, 12) is None

    @pytest.mark.parametrize("slip", [(-5, 4, 12), (40, 0, 12), (math.nan, 4, 12)])
    def test_nonsense_is_refused(self, slip):
        with pytest.raises(ValueError, match="above zero"):
            cable_for(*slip)
