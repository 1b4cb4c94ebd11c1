"""`manage.py replay`: what the screen would have said at each date, knowing only what was known."""

import json
import os
import sys
from datetime import date

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from tqdm import tqdm

from reports.acts import replay_fleet
from reports.models import Finding, ScreenRun
from reports.replay import EVERY, look_days

# Below so many looks a second process costs more than it saves.
FEW_LOOKS = 12
Said = list[tuple[ScreenRun, list[Finding]]]


class Command(BaseCommand):
    help = "Say what the screen would have said at each date, knowing only what was known then."

    def add_arguments(self, parser):
        parser.add_argument("--from", dest="first", required=True, metavar="DATE")
        parser.add_argument("--to", dest="last", required=True, metavar="DATE")
        parser.add_argument("--every", choices=list(EVERY), default="month")
        parser.add_argument("--format", choices=["table", "json"], default="table")

    def handle(self, *, first: str, last: str, every: str, format: str, **options):
        days = look_days(_day("--from", first), _day("--to", last), every)
        if not days:
            raise CommandError(
                _("--from %(first)s lies after --to %(last)s.") % {"first": first, "last": last}
            )
        processes = 1 if len(days) < FEW_LOOKS else os.cpu_count() or 1
        with tqdm(
            replay_fleet(days, processes),
            total=len(days),
            unit=every,
            file=sys.stderr,
            disable=not sys.stderr.isatty(),
            leave=False,
        ) as looks:
            said = list(looks)
        self.stdout.write(_as_json(said) if format == "json" else _as_table(said))


def _as_json(said: Said) -> str:
    return json.dumps([one.as_dict() for _run, findings in said for one in findings], indent=1)


def _as_table(said: Said) -> str:
    heads = [
        _("as of"),
        _("screened"),
        _("not enough readings"),
        _("findings"),
        _("new"),
        _("gone"),
    ]
    rows, before = [heads], set()
    for run, findings in said:
        now = {(one.unit_id, one.gauge, one.cause) for one in findings}
        counts = [run.units_screened, run.units_undecided, len(now), len(now - before)]
        rows.append([run.as_of.isoformat(), *map(str, [*counts, len(before - now)])])
        before = now
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    )


def _day(option: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CommandError(
            _("%(option)s %(text)r is no day; write it as 2026-03-04.")
            % {"option": option, "text": text}
        ) from None
