"""A unit at work against that day: pressures through saturation, air, draw, cable and bank."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcool.quantities import to_internal
from installs.engineering.acceptance import CODES, Nameplate, Place, Reason, Verdict, proofs_of
from installs.engineering.saturation import SAFETY_CLASS, air_kpa, bubble_kpa, dew_kpa

PLATE = Nameplate("R-134a", 550, 12, draw_low_a=25, draw_mid_a=40, draw_high_a=65)
PLACE = Place("flooded", 101.325)
PROVED, LOOK_AGAIN, NOT_PROVED = Verdict


def psi(value):
    return float(to_internal(value, "psi"))


SOUND = {
    "output": "mid",
    "rest_v": 12.7,
    "bank_v": 12.2,
    "unit_v": 12.0,
    "draw_low_a": 24.0,
    "draw_mid_a": 41.0,
    "draw_high_a": 64.0,
    "ambient_c": 35.0,
    "return_air_c": 29.0,
    "supply_air_c": 17.0,
    "suction_kpa": psi(45),
    "discharge_kpa": psi(165),
}
PRESSURES = ("condensing_lift", "evaporating_depression")


def proofs(plate=PLATE, place=PLACE, **change):
    return {p.code: p for p in proofs_of("first_run", {**SOUND, **change}, plate, place)}


def judged(code, **change):
    proof = proofs(**change)[code]
    return proof.verdict, proof.reason


def test_a_sound_unit_on_a_hot_day_proves_in_everything():
    found = proofs(suction_line_c=17, liquid_line_c=41)
    assert {code: proof.verdict for code, proof in found.items()} == dict.fromkeys(
        CODES["first_run"], PROVED
    )


def test_a_pipe_that_was_not_measured_is_not_asked_for():
    assert tuple(proofs()) == CODES["first_run"][:-2]


# --- pressures: common practice, no source, 40-50 / 150-180 psi on a hot day


@pytest.mark.parametrize("suction", [40, 45, 50])
@pytest.mark.parametrize("discharge", [150, 165, 180])
@pytest.mark.parametrize("ambient_c", [32, 35, 38])
@pytest.mark.parametrize("return_air_c", [26, 29, 32])
def test_40_to_50_and_150_to_180_psi_prove_on_a_hot_day(
    suction, discharge, ambient_c, return_air_c
):
    found = proofs(
        suction_kpa=psi(suction),
        discharge_kpa=psi(discharge),
        ambient_c=ambient_c,
        return_air_c=return_air_c,
    )
    assert [found[code].verdict for code in PRESSURES] == [PROVED, PROVED]


@pytest.mark.parametrize("ambient_c", [32, 35, 38])
@pytest.mark.parametrize("return_air_c", [26, 29, 32])
def test_a_circuit_short_of_charge_does_not_prove_on_that_day(ambient_c, return_air_c):
    day = {"ambient_c": ambient_c, "return_air_c": return_air_c}
    found = proofs(suction_kpa=psi(20), discharge_kpa=psi(100), **day)
    assert [found[code].verdict for code in PRESSURES] == [NOT_PROVED, NOT_PROVED]
    assert found["condensing_lift"].reason is Reason.BELOW
    assert found["evaporating_depression"].reason is Reason.ABOVE


@pytest.mark.parametrize("ambient_c", [32, 35, 38])
def test_300_psi_of_discharge_does_not_prove_on_that_day(ambient_c):
    change = {"suction_kpa": psi(60), "discharge_kpa": psi(300), "ambient_c": ambient_c}
    assert judged("condensing_lift", **change) == (NOT_PROVED, Reason.ABOVE)


def test_the_lift_is_read_off_a_printed_table():
    # A vehicle maker's R-134a table (1998): 147 psi is 110 °F, 43.3 °C; whole psi, so 0.2 K.
    found = proofs(discharge_kpa=psi(147), ambient_c=35)
    assert found["condensing_lift"].measured == pytest.approx(8.3, abs=0.2)
    # 35 psi is 40 °F, 4.4 °C.
    found = proofs(suction_kpa=psi(35), return_air_c=29)
    assert found["evaporating_depression"].measured == pytest.approx(24.6, abs=0.2)


@given(st.floats(20, 60), st.floats(100, 300))
def test_psi_and_kilopascal_come_to_one_verdict(suction, discharge):
    # 1 psi = 6.894757293168 kPa, by definition of pound and inch.
    by_psi = proofs(suction_kpa=psi(suction), discharge_kpa=psi(discharge))
    by_kpa = proofs(
        suction_kpa=float(to_internal(suction * 6.894757293168361, "kpa")),
        discharge_kpa=float(to_internal(discharge * 0.06894757293168361, "bar")),
    )
    for code in PRESSURES:
        assert by_psi[code].measured == pytest.approx(by_kpa[code].measured, abs=1e-9)
        assert by_psi[code].verdict is by_kpa[code].verdict


def test_a_gauge_reads_against_the_air_of_its_yard():
    # At 12.228 psia (about 5,000 ft) 35 psi of R-134a is 37.34 °F, at the sea 39.95 °F (CoolProp).
    high = replace(PLACE, air_kpa=float(to_internal(12.228, "psi")))
    sea, yard = (
        proofs(suction_kpa=psi(35), place=place)["evaporating_depression"].measured
        for place in (PLACE, high)
    )
    assert yard - sea == pytest.approx((39.95 - 37.34) * 5 / 9, abs=0.02)
    # The same air on the discharge: 150 psi are 162.228 psia, which the sea's gauge shows as 147.53.
    lift, at_sea = (
        proofs(discharge_kpa=psi(gauge), place=place)["condensing_lift"].measured
        for gauge, place in ((150, high), (147.532, PLACE))
    )
    assert lift == pytest.approx(at_sea, abs=0.005)


@pytest.mark.parametrize("refrigerant", sorted(SAFETY_CLASS))
def test_one_band_serves_every_refrigerant(refrigerant):
    plate = replace(PLATE, refrigerant=refrigerant)
    found = proofs(
        plate=plate,
        suction_kpa=float(dew_kpa(10, refrigerant)) - PLACE.air_kpa,
        discharge_kpa=float(bubble_kpa(48, refrigerant)) - PLACE.air_kpa,
        suction_line_c=18,
        liquid_line_c=42,
    )
    measured = {code: found[code].measured for code in (*PRESSURES, "superheat", "subcooling")}
    # Dew belongs to the vapour side and bubble to the liquid side, also of a blend with glide.
    assert measured == pytest.approx(
        {"condensing_lift": 13, "evaporating_depression": 19, "superheat": 8, "subcooling": 6},
        abs=0.01,
    )
    assert {found[code].verdict for code in measured} == {PROVED}


# --- what a pressure cannot say


@given(
    st.sampled_from(sorted(SAFETY_CLASS)),
    st.floats(15, 48),
    st.sampled_from(["low", "mid", "high"]),
    st.floats(0, 2_500),
)
def test_a_standing_pressure_is_never_read_as_charge(refrigerant, air_c, output, elevation_m):
    """At rest both sides show saturation at the air's temperature, whatever output is claimed."""
    local_kpa = float(air_kpa(elevation_m))
    at_rest_kpa = float(bubble_kpa(air_c, refrigerant)) - local_kpa
    found = proofs(
        plate=replace(PLATE, refrigerant=refrigerant),
        place=Place("agm", local_kpa),
        output=output,
        ambient_c=air_c,
        return_air_c=air_c,
        suction_kpa=at_rest_kpa,
        discharge_kpa=at_rest_kpa,
    )
    assert [found[code].verdict for code in PRESSURES] == [NOT_PROVED, NOT_PROVED]


@pytest.mark.parametrize("output", [None, "", "full"])
def test_without_an_output_it_was_standing(output):
    found = proofs(output=output, suction_line_c=17, liquid_line_c=41)
    for code in CODES["first_run"][3:]:
        assert (found[code].verdict, found[code].reason) == (NOT_PROVED, Reason.STANDING), code


def test_swapped_hoses_are_seen():
    change = {"suction_kpa": psi(165), "discharge_kpa": psi(45)}
    for code in PRESSURES:
        assert judged(code, **change) == (NOT_PROVED, Reason.SWAPPED)


def test_a_pressure_off_the_table_cannot_be():
    # R-134a is critical at 4.06 MPa.
    assert judged("condensing_lift", discharge_kpa=4_500) == (NOT_PROVED, Reason.CANNOT_BE)
    assert judged("evaporating_depression", suction_kpa=-101.3) == (NOT_PROVED, Reason.CANNOT_BE)


def test_on_a_cold_day_the_pressures_cannot_prove():
    # 70 psi on a 9 °C day: the bands alone would take it.
    change = {"ambient_c": 9, "return_air_c": 29, "discharge_kpa": psi(70)}
    found = proofs(**change)
    assert found["condensing_lift"].measured > 6
    for code in PRESSURES:
        assert (found[code].verdict, found[code].reason) == (LOOK_AGAIN, Reason.TOO_COLD)


@pytest.mark.parametrize("missing", ["discharge_kpa", "ambient_c"])
def test_a_lift_wants_both_its_pressure_and_its_air(missing):
    assert judged("condensing_lift", **{missing: None}) == (NOT_PROVED, Reason.MISSING)


def test_at_low_output_small_differences_ask_for_another_reading():
    change = {"output": "low", "suction_kpa": psi(55), "return_air_c": 25}
    assert judged("evaporating_depression", **change) == (LOOK_AGAIN, Reason.LOW_OUTPUT)
    change["output"] = "mid"
    assert judged("evaporating_depression", **change) == (LOOK_AGAIN, Reason.BELOW)


@pytest.mark.parametrize(
    ("suction_line_c", "liquid_line_c", "verdict"),
    # At 45 and 165 psi R-134a evaporates at 9.8 °C and condenses at 47.5 °C (CoolProp). The bands
    # are common practice, no source.
    [
        (17, 41, PROVED),
        (12, 45.5, LOOK_AGAIN),
        (10, 47.2, NOT_PROVED),
        (28, 32, LOOK_AGAIN),
        (33, 28, NOT_PROVED),
    ],
)
def test_pipes_neither_flood_nor_starve(suction_line_c, liquid_line_c, verdict):
    found = proofs(suction_line_c=suction_line_c, liquid_line_c=liquid_line_c)
    assert (found["superheat"].verdict, found["subcooling"].verdict) == (verdict, verdict)


@pytest.mark.parametrize(
    ("supply_air_c", "verdict"),
    [(21, PROVED), (22, LOOK_AGAIN), (24, NOT_PROVED), (4, LOOK_AGAIN), (31, NOT_PROVED)],
)
def test_eight_kelvin_across_the_coil_prove(supply_air_c, verdict):
    # Common practice, no source: 15-20 °F.
    assert judged("supply_air_drop", supply_air_c=supply_air_c)[0] is verdict


# --- draw, cable and bank


@pytest.mark.parametrize(
    ("draw_a", "verdict"),
    [
        (25, PROVED),
        (28.5, PROVED),
        (21.3, PROVED),
        (31, LOOK_AGAIN),
        (40, NOT_PROVED),
        (12, NOT_PROVED),
    ],
)
def test_the_draw_is_held_against_the_plate(draw_a, verdict):
    assert judged("draw_low_a", draw_low_a=draw_a)[0] is verdict


def test_a_unit_gives_no_current():
    assert judged("draw_low_a", draw_low_a=-25) == (NOT_PROVED, Reason.CANNOT_BE)


def test_high_output_may_be_left_out_on_a_bank_alone():
    assert judged("draw_high_a", draw_high_a=None) == (LOOK_AGAIN, Reason.NOT_RUN)
    assert judged("draw_mid_a", draw_mid_a=None) == (NOT_PROVED, Reason.MISSING)
    assert judged("draw_low_a", draw_low_a=None) == (NOT_PROVED, Reason.MISSING)


def test_a_plate_that_says_nothing_proves_nothing():
    bare = replace(PLATE, draw_high_a=None)
    assert judged("draw_high_a", plate=bare) == (LOOK_AGAIN, Reason.NO_NAMEPLATE)


@pytest.mark.parametrize(
    ("unit_v", "verdict"),
    # 3 % of 12 V = 0.36 V (ABYC E-11, second hand); 5 % is 0.6 V.
    [(11.85, PROVED), (11.80, LOOK_AGAIN), (11.55, NOT_PROVED)],
)
def test_three_per_cent_may_be_lost_on_the_way(unit_v, verdict):
    assert judged("cable_drop", output="high", unit_v=unit_v)[0] is verdict


def test_a_small_drop_at_low_output_may_be_too_much_at_high():
    # 0.3 V at 24 A are 12.5 mΩ, and 0.81 V at 65 A.
    assert judged("cable_drop", output="low", unit_v=11.9) == (LOOK_AGAIN, Reason.DROP_AT_HIGH)
    assert judged("cable_drop", output="low", unit_v=12.1)[0] is PROVED


def test_a_cable_gives_no_voltage():
    assert judged("cable_drop", unit_v=12.6) == (NOT_PROVED, Reason.CANNOT_BE)


def test_a_sag_is_a_resistance():
    # (12.7 - 12.2) V / 41 A = 12.2 mΩ.
    proof = proofs()["bank_resistance"]
    assert proof.measured == pytest.approx(12.2, abs=0.01)
    assert judged("bank_resistance", bank_v=11.6)[0] is LOOK_AGAIN
    assert judged("bank_resistance", bank_v=11.1) == (NOT_PROVED, Reason.ABOVE)


def test_a_24_v_bank_of_the_same_batteries_has_four_times_the_resistance():
    plate = Nameplate("R-134a", 550, 24, draw_low_a=12.5, draw_mid_a=20, draw_high_a=32.5)
    doubled = proofs(
        plate=plate,
        rest_v=25.4,
        bank_v=24.4,
        unit_v=24,
        draw_low_a=12,
        draw_mid_a=20.5,
        draw_high_a=32,
    )
    assert doubled["bank_resistance"].measured == pytest.approx(48.8, abs=0.1)
    assert {doubled[code].verdict for code in CODES["first_run"][:9]} == {PROVED}


def test_a_bank_that_works_near_its_cutoff_is_looked_at_again():
    assert judged("bank_under_load", bank_v=11.2) == (LOOK_AGAIN, Reason.NEAR_CUTOFF)
    assert judged("bank_under_load", bank_v=10.9) == (NOT_PROVED, Reason.BELOW_CUTOFF)
    plate = replace(PLATE, cutoff_v=11.8)
    assert judged("bank_under_load", plate=plate, bank_v=12.0) == (LOOK_AGAIN, Reason.NEAR_CUTOFF)


def test_a_bank_that_rises_under_load_is_being_charged():
    assert judged("bank_resistance", bank_v=13.8) == (LOOK_AGAIN, Reason.CANNOT_BE)


def test_with_the_engine_running_the_bank_proves_nothing():
    for code in ("bank_under_load", "bank_resistance"):
        assert judged(code, engine_running=True) == (LOOK_AGAIN, Reason.ENGINE_RUNNING)
    assert judged("cable_drop", engine_running=True)[0] is PROVED
    # Nor does it excuse a voltage that nobody took.
    assert judged("bank_resistance", engine_running=True, rest_v=None) == (
        NOT_PROVED,
        Reason.MISSING,
    )
