"""What a column of cells may hold, and how it is read: whole columns at once.

Each kind has `read(cells, refuse)`: cells are objects as the book gives them ("" is blank), the
answer is a column as `fleetcool.bulk` describes it, and `refuse(places, words)` is called with the
positions that cannot be read and a function from position to the reason. A blank cell is empty in
the answer, never refused here.
"""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.timezone import get_default_timezone
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from installs.records.dates import local_days, moments

__all__ = ["Choice", "Day", "Moment", "Number", "Text", "Whole", "Yes", "fold"]

Refuse = Callable[[NDArray, Callable[[int], str]], None]

# What a spreadsheet shows where a formula failed.
FORMULA_ERRORS = {"#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!"}
# From here on a spreadsheet has dropped the last digits of a number.
LONGEST_NUMBER = 1e15


def tidy(text: str) -> str:
    """Return text in Unicode's plain form (NFKC), trimmed, with single spaces."""
    return " ".join(unicodedata.normalize("NFKC", text).split())


def fold(text: str) -> str:
    """Return the form of a tidy key by which it is matched: case does not count."""
    return text.upper()


@dataclass(frozen=True)
class Text:
    """Text of limited length; a whole number from a workbook is its digits (100.0 is '100')."""

    longest: int
    email: bool = False

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        def one(cell) -> str:
            text = tidy(_as_text(cell))
            if len(text) > self.longest:
                raise ValueError(
                    _("“%(value)s…” is longer than %(longest)d characters")
                    % {"value": text[:20], "longest": self.longest}
                )
            if text in FORMULA_ERRORS:
                raise ValueError(_("%(value)s is a formula that failed") % {"value": text})
            if not text.isprintable():
                raise ValueError(_("it has a character that cannot be printed; type it again"))
            if self.email and text:
                _check_email(text)
            return text

        return _each(cells, one, "", refuse)


@dataclass(frozen=True)
class Number:
    """A number; its unit stands in the header."""

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        values = pd.to_numeric(pd.Series(cells, dtype=object), errors="coerce")
        values = values.to_numpy(dtype=float, na_value=np.nan).copy()
        doubtful = np.flatnonzero(~np.isfinite(values) & (cells != ""))
        logical = []
        if pd.api.types.infer_dtype(cells, skipna=False) != "string":
            logical = [place for place, cell in enumerate(cells) if type(cell) is bool]
        bad = {}
        for place in [*doubtful.tolist(), *logical]:
            try:
                values[place] = _number(cells[place])
            except ValueError as error:
                values[place], bad[place] = np.nan, str(error)
        if bad:
            refuse(np.array(list(bad)), bad.__getitem__)
        return values


@dataclass(frozen=True)
class Whole:
    """A whole number, and where `among` is given, one of those."""

    among: tuple[int, ...] = ()

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        values = Number().read(cells, refuse)
        broken = ~np.isnan(values) & (values % 1 != 0)
        refuse(
            np.flatnonzero(broken),
            lambda place: _("%(value)g is not a whole number") % {"value": values[place]},
        )
        if self.among:
            strange = ~np.isnan(values) & ~broken & ~np.isin(values, self.among)
            refuse(
                np.flatnonzero(strange),
                lambda place: (
                    _("%(value)g is none of %(among)s")
                    % {"value": values[place], "among": ", ".join(map(str, self.among))}
                ),
            )
        return values


@dataclass(frozen=True)
class Choice:
    """One of a few words; case, spaces and dashes do not count."""

    among: tuple[str, ...]

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        known = {_bare(word): word for word in self.among}

        def one(cell) -> str:
            text = tidy(_as_text(cell))
            if text and _bare(text) not in known:
                raise ValueError(
                    _("“%(value)s” is none of %(among)s")
                    % {"value": text, "among": ", ".join(self.among)}
                )
            return known.get(_bare(text), "")

        return _each(cells, one, "", refuse)


YES = {"yes", "y", "sí", "si", "s", "true", "x", "1"}


@dataclass(frozen=True)
class Yes:
    """A mark: yes, sí, true, x or 1; no, false, 0 or blank is no mark."""

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        def one(cell) -> bool:
            text = _bare(str(int(cell)) if type(cell) is bool else _as_text(cell))
            if text not in {*YES, "", "no", "n", "false", "0"}:
                raise ValueError(_("“%(value)s” is neither yes nor no") % {"value": cell})
            return text in YES

        return _each(cells, one, False, refuse).astype(bool)


@dataclass(frozen=True)
class Moment:
    """A date and time, UTC inside; see `dates` for the forms it may have."""

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        return moments(cells, get_default_timezone(), refuse)


@dataclass(frozen=True)
class Day:
    """A day at the shop; a time with it is not kept."""

    def read(self, cells: NDArray, refuse: Refuse) -> NDArray:
        return local_days(moments(cells, get_default_timezone(), refuse), get_default_timezone())


def _each(cells: NDArray, read: Callable, empty, refuse: Refuse) -> NDArray:
    """Read each different cell once, and spread the answers over the column."""
    codes, different = pd.factorize(cells, use_na_sentinel=False)
    answers = np.empty(len(different), dtype=object)
    bad = {}
    for code, cell in enumerate(different):
        try:
            answers[code] = read(cell)
        except ValueError as error:
            answers[code], bad[code] = empty, str(error)
    if bad:
        refuse(np.flatnonzero(np.isin(codes, list(bad))), lambda place: bad[codes[place]])
    return answers[codes]


def _as_text(cell) -> str:
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        raise ValueError(
            _(
                "the spreadsheet has made %(value)s of it; format the column as text and type it again"
            )
            % {"value": cell}
        )
    if abs(cell) >= LONGEST_NUMBER:
        raise ValueError(
            _(
                "the spreadsheet has dropped its last digits; format the column as text and type it again"
            )
        )
    return str(int(cell)) if float(cell).is_integer() else repr(cell)


def _number(cell) -> float:
    """Read one cell that is not plainly a number. Raises ValueError with the mend."""
    if not isinstance(cell, str):
        raise ValueError(_("%(value)s is not a number") % {"value": cell})
    text = tidy(cell).replace("\u2212", "-")
    if not text:
        return float("nan")
    shown = {"value": text}
    if text.lower().strip("+-") in {"nan", "inf", "infinity", "n/a", "#n/a", "null", "none"}:
        raise ValueError(_("“%(value)s” is not a number; leave it blank if not taken") % shown)
    if re.fullmatch(r"-?\d{1,3}([ ,']\d{3})+(\.\d+)?", text):
        shown["mend"] = re.sub(r"[ ,']", "", text)
        raise ValueError(_("“%(value)s”: write thousands as %(mend)s") % shown)
    if re.fullmatch(r"-?\d+,\d+", text):
        shown["mend"] = text.replace(",", ".")
        raise ValueError(_("“%(value)s”: write a decimal point, %(mend)s") % shown)
    if found := re.fullmatch(r"(-?\d+(?:\.\d+)?) ?[^\d\s,.\-].*", text):
        shown["mend"] = found[1]
        raise ValueError(_("“%(value)s”: write %(mend)s alone; the header says the unit") % shown)
    value = float(pd.to_numeric(text, errors="coerce"))
    if not np.isfinite(value):
        raise ValueError(_("“%(value)s” is not a number") % shown)
    return value


def _bare(text: str) -> str:
    return re.sub(r"[\W_]+", "", text.casefold())


def _check_email(text: str) -> None:
    try:
        validate_email(text)
    except ValidationError:
        raise ValueError(_("“%(value)s” is not an e-mail address") % {"value": text}) from None
