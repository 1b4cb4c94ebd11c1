"""What a cell may hold, and what is said of one that holds something else."""

from datetime import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from installs.records.cells import Choice, Number, Text, Whole, Yes, fold, tidy


def read(kind, *cells):
    column = np.empty(len(cells), dtype=object)
    column[:] = cells
    bad = {}

    def refuse(places, words):
        bad.update({place: words(place) for place in np.asarray(places).tolist()})

    return kind.read(column, refuse).tolist(), bad


def value_of(kind, cell):
    values, bad = read(kind, cell)
    assert not bad
    return values[0]


def reason_of(kind, cell):
    return read(kind, cell)[1][0]


@pytest.mark.parametrize("cell", ["45", " 45 ", "45.0", "4.5e1", "+45", 45, 45.0, "45\u00a0"])
def test_forty_five_is_read_from_text_and_from_a_workbooks_number(cell):
    assert value_of(Number(), cell) == 45


def test_a_typographic_minus_is_a_minus():
    assert value_of(Number(), "\u22125.5") == -5.5


@pytest.mark.parametrize("cell", ["", "  "])
def test_a_blank_cell_was_not_taken(cell):
    assert np.isnan(value_of(Number(), cell))


@pytest.mark.parametrize(
    ("cell", "mend"),
    [
        ("45 psi", "write 45 alone"),
        ("12.6V", "write 12.6 alone"),
        ("1,200", "1200"),
        ("1 200.5", "1200.5"),
        ("45,3", "45.3"),
        ("nan", "blank"),
        ("-inf", "blank"),
        ("n/a", "blank"),
    ],
)
def test_a_number_that_is_not_plain_is_refused_with_its_mend(cell, mend):
    assert mend in reason_of(Number(), cell)


@pytest.mark.parametrize(
    "cell", ["low", "1_000", "0x10", "1e999", "4 5", "--4", True, datetime(2024, 1, 1), "=1+1"]
)
def test_what_is_no_number_is_refused(cell):
    assert reason_of(Number(), cell)


def test_one_bad_number_does_not_spoil_its_neighbours():
    values, bad = read(Number(), "45", "45 psi", 46.5, "")
    assert values[0] == 45 and values[2] == 46.5 and list(bad) == [1]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_that_is_written_out_is_read_back_exactly(number):
    assert value_of(Number(), repr(number)) == number


@given(st.text())
def test_no_text_at_all_breaks_the_reading_of_numbers(text):
    values, bad = read(Number(), text)
    assert bad or np.isnan(values[0]) or np.isfinite(values[0])


def test_a_broken_number_is_not_a_count():
    assert "4.5 is not a whole number" in reason_of(Whole(), "4.5")


def test_a_number_that_is_none_of_the_possible_ones_is_refused():
    assert "36 is none of 12, 24" in reason_of(Whole((12, 24)), "36")


def test_truck_number_100_of_a_workbook_is_100():
    assert value_of(Text(40), 100.0) == "100"


def test_leading_zeros_of_text_are_kept():
    assert value_of(Text(40), "0042") == "0042"


def test_keys_are_trimmed_and_inner_spaces_folded():
    assert value_of(Text(40), "  K5 \u00a0 12\t") == "K5 12"


def test_wide_letters_are_the_plain_letters():
    assert value_of(Text(40), "\uff33\uff0d\uff11") == "S-1"


def test_text_that_a_spreadsheet_made_a_date_of_is_refused():
    assert "format the column as text" in reason_of(Text(40), datetime(2024, 3, 4))


def test_a_serial_number_that_lost_its_last_digits_is_refused():
    assert "last digits" in reason_of(Text(60), 1234567890123456789.0)


def test_text_longer_than_its_column_is_refused():
    assert "longer than 5" in reason_of(Text(5), "123456")


def test_a_formula_that_failed_is_refused():
    assert "#REF!" in reason_of(Text(40), "#REF!")


def test_a_control_character_is_refused():
    assert "cannot be printed" in reason_of(Text(40), "S\x001")


def test_an_address_without_a_host_is_refused():
    assert "e-mail" in reason_of(Text(254, email=True), "yard at home")


@pytest.mark.parametrize("cell", ["LiFePO4", "lifepo4", " LIFEPO4 ", "Li-FePO4"])
def test_a_battery_type_is_known_whatever_its_case(cell):
    assert value_of(Choice(("agm", "lifepo4")), cell) == "lifepo4"


def test_a_word_that_is_no_choice_is_refused_with_the_choices():
    assert "agm, lifepo4" in reason_of(Choice(("agm", "lifepo4")), "nickel")


@pytest.mark.parametrize(
    ("cell", "meant"),
    [("yes", True), ("X", True), (True, True), (1.0, True), ("", False), ("no", False)],
)
def test_a_mark_is_yes_or_no(cell, meant):
    assert value_of(Yes(), cell) is meant


def test_a_mark_that_is_neither_is_refused():
    assert "neither" in reason_of(Yes(), "perhaps")


@given(st.text())
def test_tidying_twice_changes_nothing_more(text):
    assert tidy(tidy(text)) == tidy(text)


def test_keys_match_whatever_their_case():
    assert fold("s-001a") == fold("S-001A")
