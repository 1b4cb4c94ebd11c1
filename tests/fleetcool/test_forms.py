"""Quantities as they are typed: in the person's units, with a comma or a point."""

import pytest
from django.core.exceptions import ValidationError

from fleetcool.forms import QuantityField


def field(kind, system="us", **kwargs) -> QuantityField:
    return QuantityField(kind, system, label="Value", **kwargs)


def test_the_label_says_the_unit():
    assert field("pressure").label == "Value, psi"


def test_psi_becomes_kpa():
    # NIST SP 811: 1 psi = 6.894757 kPa; 62 psi = 427.475 kPa.
    assert field("pressure").clean("62") == pytest.approx(427.475, abs=0.001)


def test_a_temperature_moves_its_zero_and_a_difference_does_not():
    assert field("temperature").clean("95") == pytest.approx(35)
    assert field("difference").clean("18") == pytest.approx(10)


def test_a_decimal_comma_is_a_decimal_point():
    assert field("volts").clean("12,65") == 12.65


def test_a_true_minus_sign_is_read():
    assert field("temperature", "si").clean("−5") == -5


@pytest.mark.parametrize("typed", ["1e999", "nan", "12 V", "1.2.3"])
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(ValidationError):
        field("volts").clean(typed)


def test_bounds_are_told_in_the_persons_units():
    with pytest.raises(ValidationError, match="500 cannot be; between −?-?40 and 140 is possible"):
        field("temperature", min_value=-40, max_value=60).clean("500")


def test_what_was_typed_comes_back_as_it_was():
    assert field("pressure").prepare_value("4x") == "4x"


def test_a_stored_value_is_shown_in_the_persons_units():
    assert field("pressure").prepare_value(427.475) == "62"
    assert field("temperature").prepare_value(35.0) == "95"


@pytest.mark.parametrize("kind", ["temperature", "difference"])
def test_a_phone_can_type_a_minus_where_there_may_be_one(kind):
    # The decimal keypad of some phones has no minus key.
    assert field(kind).widget.attrs["inputmode"] == "text"


def test_what_is_never_below_zero_gets_the_decimal_keypad():
    assert field("mass").widget.attrs["inputmode"] == "decimal"
