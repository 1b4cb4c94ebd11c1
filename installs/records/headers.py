"""Which column of ours each header of a sheet means, and in which unit it is written."""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from fleetcool.quantities import internal_header, split_header
from installs.records.book import sheet_name
from installs.records.cells import Number
from installs.records.sheet import Sheet

__all__ = ["Headers", "match_headers"]

# Columns of our own workbook of rejects, and the time of writing where a sheet keeps none.
PASSED_OVER = {"reason", "row", "entered_at"}


@dataclass
class Headers:
    """Headers and units by column name, headers that mean nothing to us, why none can be used."""

    written: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    extra: list[str] = field(default_factory=list)
    problem: str = ""


def match_headers(sheet: type[Sheet], headers: list[str]) -> Headers:
    """Match a sheet's headers with its columns; a quantity that stands there twice is a problem."""
    columns = {column.name: column for column in sheet.columns}
    found = Headers()
    for header in headers:
        plain = sheet_name(header)
        quantity, unit = split_header(plain)
        name = internal_header(quantity, unit)
        if name not in columns or (plain != name and not isinstance(columns[name].kind, Number)):
            if plain not in PASSED_OVER:
                found.extra.append(header)
        elif name in found.written:
            found.problem = _(
                "%(one)s and %(other)s say the same quantity; keep one of the columns"
            ) % {"one": found.written[name], "other": header}
        else:
            found.written[name] = header
            found.units[name] = unit
    missing = [name for name in sheet.key_columns if name not in found.written]
    if missing and not found.problem:
        found.problem = _("the sheet has no column %(missing)s, by which its rows are known") % {
            "missing": ", ".join(missing)
        }
        if len(headers) == 1 and ";" in headers[0]:
            found.problem = _("semicolons part its columns; save it with commas between them")
    return found
