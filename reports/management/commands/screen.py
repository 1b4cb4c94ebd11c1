"""`manage.py screen`: screen the whole fleet for drift and print what was found."""

import csv
import json
from collections import Counter
from datetime import date

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from reports.acts import screen_fleet
from reports.models import Ask, Finding, Measure, ScreenRun

CSV_COLUMNS = [
    "serial", "vin", "customer", "as_of", "cause", "probability", "since", "forecast_event",
    "forecast_date", "forecast_low", "forecast_high", "gauge", "evidence", "action",
]  # fmt: skip


class Command(BaseCommand):
    help = "Screen the whole fleet for units that drift toward a fault."

    def add_arguments(self, parser):
        parser.add_argument(
            "--as-of",
            metavar="DATE",
            help="screen with what was known on this day (default: today)",
        )
        parser.add_argument("--format", choices=["table", "json", "csv"], default="table")

    def handle(self, *args, **options):
        run = screen_fleet(_day(options["as_of"]))
        findings = (
            Finding.objects.filter(run=run)
            .select_related("run", "unit", "tractor__customer", "customer")
            .worst_first()
        )
        {"json": self._json, "csv": self._csv, "table": self._table}[options["format"]](
            run, list(findings)
        )

    def _json(self, run: ScreenRun, findings: list[Finding]) -> None:
        self.stdout.write(json.dumps([finding.as_dict() for finding in findings], indent=1))

    def _csv(self, run: ScreenRun, findings: list[Finding]) -> None:
        writer = csv.DictWriter(self.stdout, CSV_COLUMNS, extrasaction="ignore")
        writer.writeheader()
        for finding in findings:
            row = finding.as_dict()
            forecast = row["forecast"] or {}
            writer.writerow(
                row
                | {f"forecast_{key}": value for key, value in forecast.items()}
                | {"evidence": json.dumps(row["evidence"])}
            )

    def _table(self, run: ScreenRun, findings: list[Finding]) -> None:
        heads = [_("truck"), _("unit"), _("cause"), _("sure"), _("since"), _("forecast")]
        rows = [
            [
                str(finding.tractor or "–"),
                str(finding.unit or finding.gauge),
                str(finding.get_cause_display()),
                f"{100 * finding.probability:.0f} %",
                str(finding.since or "–"),
                _forecast(finding),
            ]
            for finding in findings
        ]
        widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]
        for row in [heads, *rows]:
            line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
            self.stdout.write(line.rstrip())
        self.stdout.write(
            _(
                "As of %(day)s: %(units)d units screened, %(undecided)d with not enough readings, "
                "%(found)d findings, of which %(false).1f are expected to be false."
            )
            % {
                "day": run.as_of,
                "units": run.units_screened,
                "undecided": run.units_undecided,
                "found": len(findings),
                "false": run.expected_false,
            }
        )
        self.stdout.write(_undecided(run))


def _undecided(run: ScreenRun) -> str:
    """How many units are undecided, and what would tell most often."""
    asked = list(Ask.objects.filter(run=run).values_list("unit", "measure"))
    if not asked:
        return _("No unit is undecided.")
    [(measure, n)] = Counter(measure for _unit, measure in asked).most_common(1)
    units = len({unit for unit, _measure in asked})
    return ngettext(
        "%(units)d unit is undecided; asked for most: %(measure)s (%(n)d).",
        "%(units)d units are undecided; asked for most: %(measure)s (%(n)d).",
        units,
    ) % {"units": units, "measure": Measure(measure).label, "n": n}


def _day(text: str | None) -> date:
    if text is None:
        return timezone.localdate()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CommandError(f"--as-of {text!r} is no day; write it as 2026-03-04.") from None


def _forecast(finding: Finding) -> str:
    if not finding.forecast_on:
        return "–"
    low, high = finding.forecast_low, finding.forecast_high
    return f"{finding.get_forecast_event_display()} {finding.forecast_on} ({low} … {high})"
