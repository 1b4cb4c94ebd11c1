"""`manage.py load_records PATH`: load a record book, or say what loading it would do."""

import json
import sys
from dataclasses import asdict
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, ProgrammingError
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from tqdm import tqdm

from installs.records.book import BookError
from installs.records.loader import Load, load_book
from installs.records.rejects import write_rejects

# Of the rows that were rejected for the same column, how many are shown one by one.
SHOWN = 5


class Command(BaseCommand):
    help = (
        "Load a record book: a workbook with a sheet each, or a folder of CSV files. Each row stands "
        "or falls alone; a book loaded twice changes nothing."
    )

    def add_arguments(self, parser):
        parser.add_argument("path", type=Path, help="the workbook, CSV file or folder of CSV files")
        parser.add_argument("--check", action="store_true", help="change nothing; say what would")
        parser.add_argument(
            "--rejects", type=Path, metavar="FILE.xlsx", help="write the rejected rows here"
        )
        parser.add_argument("--format", choices=["table", "json"], default="table")

    def handle(self, *, path: Path, check: bool, rejects: Path | None, format: str, **options):
        if rejects and (rejects.suffix != ".xlsx" or not rejects.parent.is_dir()):
            raise CommandError(_("%(path)s is no place for an .xlsx file.") % {"path": rejects})
        load = self.load(path, check, keep_cells=rejects is not None)
        left = write_rejects(load, rejects) if rejects else 0
        for note in load.notes:
            self.stderr.write(note)
        if format == "json":
            accounts = {name: asdict(account) for name, account in load.accounts.items()}
            self.stdout.write(json.dumps(accounts))
        else:
            self.stdout.write(account_table(load))
        self.say_refused(load)
        if left:
            self.stderr.write(
                _("%(left)d rejected rows had no room in the workbook.") % {"left": left}
            )
        if check:
            self.stderr.write(_("Nothing was written: this was a check."))

    def load(self, path: Path, check: bool, keep_cells: bool) -> Load:
        with tqdm(
            unit=" rows", file=sys.stderr, disable=not sys.stderr.isatty(), leave=False
        ) as bar:

            def progress(sheet: str, rows: int) -> None:
                bar.set_description(sheet)
                bar.update(rows)

            try:
                return load_book(path, check=check, keep_cells=keep_cells, progress=progress)
            except BookError as error:
                raise CommandError(str(error)) from None
            except (OperationalError, ProgrammingError) as error:
                raise CommandError(
                    _("The database cannot be used (%(error)s); a new one needs `migrate` first.")
                    % {"error": str(error).splitlines()[0]}
                ) from None

    def say_refused(self, load: Load) -> None:
        if not load.refused:
            return
        count = len(load.refused)
        self.stderr.write(
            ngettext("%(count)d row was rejected.", "%(count)d rows were rejected.", count)
            % {"count": count}
        )
        grouped: dict[tuple[str, str], list[str]] = {}
        for one in load.refused:
            for column, reason in one.reasons:
                words = _("row %(row)d: %(reason)s") % {"row": one.row, "reason": reason}
                grouped.setdefault((one.sheet, column), []).append(words)
        for (sheet, column), rows in grouped.items():
            self.stderr.write(f"  {sheet} {column}".rstrip() + f" ({len(rows):,})")
            for words in rows[:SHOWN]:
                self.stderr.write(f"    {words}")
            if len(rows) > SHOWN:
                self.stderr.write(_("    and %(more)d more") % {"more": len(rows) - SHOWN})


def account_table(load: Load) -> str:
    """Return the account as aligned columns, a line a sheet."""
    words = [_("read"), _("new"), _("unchanged"), _("changed"), _("rejected")]
    lines = [[_("sheet"), *words]]
    lines += [
        [name, *(f"{count:,}" for count in asdict(account).values())]
        for name, account in load.accounts.items()
    ]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    return "\n".join(
        "  ".join(
            [line[0].ljust(widths[0])]
            + [cell.rjust(width) for cell, width in zip(line[1:], widths[1:], strict=True)]
        )
        for line in lines
    )
