"""A signature drawn on a phone: strokes of points (x, y), each in parts of the pad's width."""

import math

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

__all__ = ["clean_strokes"]

# A long name in a fine hand is some 40 strokes and 1,500 points (from memory); more is no name.
MOST_STROKES, MOST_POINTS = 200, 5_000


def clean_strokes(strokes: object) -> list[list[list[float]]]:
    """Return strokes as lists of [x, y] from 0 to 1, to a thousandth; a stroke of no point is left out.

    Raises ValidationError for anything else and for more strokes or points than a name has.
    """
    try:
        cleaned = [[[_part(x), _part(y)] for x, y in stroke] for stroke in strokes]
    except (TypeError, ValueError):
        raise ValidationError(
            _("The signature did not arrive whole. Clear it and sign again.")
        ) from None
    cleaned = [stroke for stroke in cleaned if stroke]
    if len(cleaned) > MOST_STROKES or sum(map(len, cleaned)) > MOST_POINTS:
        raise ValidationError(_("The signature is too long. Clear it and sign again."))
    return cleaned


def _part(value: object) -> float:
    if isinstance(value, bool | str) or not math.isfinite(value) or not 0 <= value <= 1:
        raise ValueError(f"{value!r} is no part of the pad's width")
    return round(float(value), 3)
