"""The vehicle identification number: 17 characters, and what their check digit proves.

ISO 3779 gives the alphabet (no I, O, Q); 49 CFR 565.15 gives the check digit in position 9, which
only vehicles built for North America must carry. A North American VIN is taken to be one that
begins with 1 to 5 (ISO 3780: United States 1, 4, 5; Canada 2; Mexico 3).
"""

import re
from typing import NamedTuple

__all__ = ["VinCheck", "VinError", "check", "check_digit", "fold", "model_years"]

# 49 CFR 565.15(c), tables III and IV.
VALUES = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
NORTH_AMERICA = "12345"
# 49 CFR 565.15(d), table VII: one round of thirty years from 1980, and the next from 2010.
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"


def gettext_noop(text: str) -> str:
    """Mark a text for translation, which is done where people see it."""
    return text


WHY = {
    "length": gettext_noop("VIN %(vin)s has %(count)d characters; a VIN has 17"),
    "letter": gettext_noop(
        "VIN %(vin)s has %(letters)s, which no VIN has; perhaps it is %(mended)s"
    ),
    "sign": gettext_noop(
        "VIN %(vin)s has %(sign)s at position %(place)d; a VIN has letters and digits only"
    ),
    "check_digit": gettext_noop(
        "VIN %(vin)s has check digit %(wrong)s at position 9 where %(right)s fits the other "
        "characters, so one of them is misread; read the plate again, and if it is stamped so, "
        "mark the VIN as stamped"
    ),
}


class VinError(ValueError):
    """Why a VIN cannot be: `words` to translate, and what stands in them."""

    def __init__(self, code: str, **what: str | int) -> None:
        super().__init__(WHY[code] % what)
        self.words, self.what = WHY[code], what


class VinCheck(NamedTuple):
    """A VIN as it is stored, and how far it could be checked.

    kind is 'valid' (the check digit fits), 'foreign' (none is required, so a slip of the pen
    would not show) or 'as_stamped' (the check digit does not fit, yet the plate reads so).
    """

    vin: str
    kind: str


def check(vin: str, as_stamped: bool = False) -> VinCheck:
    """Return the folded VIN and its kind, or raise VinError with words that tell how to mend it.

    as_stamped takes a North American VIN whose check digit is wrong, as someone read it from the
    plate itself; it excuses nothing else.
    """
    vin = fold(vin)
    if len(vin) != 17:
        raise VinError("length", vin=vin, count=len(vin))
    if mistaken := [letter for letter in "IOQ" if letter in vin]:
        mended = vin.translate(str.maketrans("IOQ", "100"))
        raise VinError("letter", vin=vin, letters=", ".join(mistaken), mended=mended)
    if strange := [sign for sign in vin if sign not in VALUES]:
        raise VinError("sign", vin=vin, sign=strange[0], place=vin.index(strange[0]) + 1)
    if vin[0] not in NORTH_AMERICA:
        return VinCheck(vin, "foreign")
    if vin[8] == check_digit(vin):
        return VinCheck(vin, "valid")
    if as_stamped:
        return VinCheck(vin, "as_stamped")
    raise VinError("check_digit", vin=vin, wrong=vin[8], right=check_digit(vin))


def fold(vin: str) -> str:
    """Return a VIN in upper case without spaces and dashes."""
    return re.sub(r"[\s\-\u2010-\u2015\u2212]", "", vin).upper()


def check_digit(vin: str) -> str:
    """Return the check digit that fits a folded VIN of 17 allowed characters (49 CFR 565.15(c))."""
    remainder = sum(VALUES[sign] * weight for sign, weight in zip(vin, WEIGHTS, strict=True)) % 11
    return "X" if remainder == 10 else str(remainder)


def model_years(vin: str) -> tuple[int, ...]:
    """Return the years that position 10 can mean, thirty apart; none where it codes no year.

    Which of the two it is must come from the truck's papers: the rule that a letter in position 7
    means 2010 or later holds for cars and light trucks, not above 10,000 lb (4,536 kg) gross.
    """
    place = YEAR_CODES.find(fold(vin)[9:10] or " ")
    return () if place < 0 else (1980 + place, 2010 + place)
