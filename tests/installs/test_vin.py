"""What the office may write down as a VIN."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.vin import VALUES, WEIGHTS, VinCheck, check, check_digit, model_years

SAMPLE = "1G4AH59H45G118341"  # the sample VIN of 49 CFR 565.15


@pytest.mark.parametrize(
    "vin",
    [
        SAMPLE,
        "1J9RP1A36A1644345",  # NHTSA guidance for new manufacturers
        "1M8GDM9AXKP042788",  # a widely published worked example; position 9 is X
        "11111111111111111",  # the test value every 1 of which counts
    ],
)
def test_a_north_american_vin_with_its_check_digit_is_valid(vin):
    assert check(vin) == VinCheck(vin, "valid")


@pytest.mark.parametrize(
    ("vin", "total"),
    [
        (SAMPLE, 411),
        ("1J9RP1A36A1644345", 314),
        ("1M8GDM9AXKP042788", 351),
        ("WP0ZZZ99ZTS392124", 459),
    ],
)
def test_the_weighted_sum_is_the_published_one(vin, total):
    # 49 CFR 565.15(c) worked through by hand.
    assert sum(VALUES[sign] * weight for sign, weight in zip(vin, WEIGHTS, strict=True)) == total


@pytest.mark.parametrize(
    ("vin", "written", "fits"),
    [
        ("1G4AH59H45G118331", "4", "1"),  # the sample of 565.15 with one digit changed
        ("1M8GDM9A0KP042788", "0", "X"),
    ],
)
def test_a_wrong_check_digit_is_refused_with_the_way_out(vin, written, fits):
    with pytest.raises(
        ValueError, match=f"check digit {written} at position 9 where {fits} .* mark .* as stamped"
    ):
        check(vin)


def test_a_wrong_check_digit_is_taken_when_the_plate_reads_so():
    assert check("1G4AH59H45G118331", as_stamped=True).kind == "as_stamped"


def test_as_stamped_does_not_hide_that_the_digit_fits():
    assert check(SAMPLE, as_stamped=True).kind == "valid"


def test_as_stamped_excuses_no_missing_character():
    with pytest.raises(ValueError, match="16 characters"):
        check(SAMPLE[:-1], as_stamped=True)


def test_a_foreign_vin_is_taken_and_marked():
    # The European form, a filler Z in position 9: the check digit does not apply.
    assert check("WP0ZZZ99ZTS392124") == VinCheck("WP0ZZZ99ZTS392124", "foreign")


@pytest.mark.parametrize(
    "written",
    ["1g4ah59h45g118341", " 1G4AH-59H45-G118341 ", "1G4AH59H4 5G118341", "1G4AH59H4–5G118341"],
)
def test_case_spaces_and_dashes_are_folded(written):
    assert check(written).vin == SAMPLE


@pytest.mark.parametrize("length", [0, 16, 18])
def test_any_other_length_is_refused(length):
    with pytest.raises(ValueError, match=f"has {length} characters; a VIN has 17"):
        check("1" * length)


@pytest.mark.parametrize(
    ("vin", "mended"),
    [
        ("IG4AH59H45GI18341", "1G4AH59H45G118341"),
        ("1M8GDM9AXKPO42788", "1M8GDM9AXKP042788"),
        ("1M8GDM9AXKPQ42788", "1M8GDM9AXKP042788"),
    ],
)
def test_i_o_and_q_are_refused_with_1_and_0_offered(vin, mended):
    with pytest.raises(ValueError, match=f"which no VIN has; perhaps it is {mended}"):
        check(vin)


@pytest.mark.parametrize("sign", ["*", "É", "²"])
def test_any_other_sign_is_named_with_its_place(sign):
    with pytest.raises(ValueError, match="at position 3"):
        check("11" + sign + "1" * 14)


@given(st.text("ABCDEFGHJKLMNPRSTUVWXYZ0123456789", min_size=17, max_size=17))
def test_the_check_digit_does_not_depend_on_what_stands_in_its_place(vin):
    mended = vin[:8] + check_digit(vin) + vin[9:]
    assert check_digit(mended) == mended[8]


@given(st.integers(0, 16).filter(lambda place: place != 8), st.integers(1, 9))
def test_every_single_wrong_digit_is_caught(place, wrong):
    # 11 is prime and every weight but the ninth is not a multiple of it.
    vin = list("11111111111111111")
    vin[place] = str((1 + wrong) % 10)
    if place == 0 and vin[0] not in "12345":
        assert check("".join(vin)).kind == "foreign"
    else:
        with pytest.raises(ValueError, match="check digit"):
            check("".join(vin))


class TestModelYear:
    @pytest.mark.parametrize(
        ("code", "years"),
        [
            ("A", (1980, 2010)),
            ("H", (1987, 2017)),
            ("J", (1988, 2018)),
            ("N", (1992, 2022)),
            ("P", (1993, 2023)),
            ("R", (1994, 2024)),
            ("T", (1996, 2026)),
            ("V", (1997, 2027)),
            ("Y", (2000, 2030)),
            ("1", (2001, 2031)),
            ("9", (2009, 2039)),
        ],
    )
    def test_position_ten_gives_two_years(self, code, years):
        # 49 CFR 565.15(d), table VII.
        assert model_years("11111111" + "1" + code + "1111111") == years

    @pytest.mark.parametrize("code", "IOQUZ0")
    def test_some_characters_mean_no_year(self, code):
        assert model_years("111111111" + code + "1111111") == ()

    def test_a_letter_in_position_seven_does_not_settle_a_heavy_trucks_decade(self):
        # NHTSA 2008 rulemaking: the rule of position 7 holds up to 10,000 lb gross only.
        assert model_years("1M8GDMAAXKP042788") == model_years("1M8GDM9AXKP042788") == (1989, 2019)

    def test_nothing_is_made_of_a_fragment(self):
        assert model_years("1M8") == ()
