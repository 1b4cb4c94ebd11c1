"""What is done with the records as a whole: screening the fleet, now or as it would have been."""

from collections.abc import Iterator
from datetime import date, timedelta

import pandas as pd
from django.db import transaction
from django.db.models import prefetch_related_objects
from django.utils import timezone

from installs.models import Unit
from reports.analysis.pictured import pictured
from reports.analysis.verdicts import FoundCause, Screened, screen
from reports.concerns import tie_to_concerns
from reports.frames import day_of, fleet_frames, moment_t
from reports.knowledge import NOON_T, FleetFrames
from reports.models import Ask, Finding, ScreenRun
from reports.replay import replay

__all__ = ["replay_fleet", "screen_fleet"]


def screen_fleet(as_of: date) -> ScreenRun:
    """Screen every installed unit as known at the end of a day, and keep what was found.

    A run takes the place of an earlier run for the same day. Each finding is tied to its concern
    and keeps what its picture shows. What is undecided gets what to measure next.
    """
    started_at = timezone.now()
    frames = fleet_frames(Unit.objects.all(), as_of)
    screened = screen(frames, ask=True)
    keys = [(found.unit, found.gauge, found.cause) for found in screened.findings]
    pictures = dict(zip(keys, pictured(frames, screened.findings), strict=True))
    run = _run(as_of, screened)
    run.started_at, run.finished_at = started_at, timezone.now()
    with transaction.atomic():
        ScreenRun.objects.filter(as_of=as_of).delete()
        run.save()
        findings = _findings(run, screened, frames)
        for finding in findings:
            finding.picture = pictures[finding.key]
        tie_to_concerns(run, findings)
        Finding.objects.bulk_create(findings)
        Ask.objects.bulk_create(_asks(run, screened, frames))
    return run


def replay_fleet(days: list[date], processes: int = 1) -> Iterator[tuple[ScreenRun, list[Finding]]]:
    """Yield what screening at the end of each of the days would have given; nothing is kept.

    The days are in order. The records are read once, as known at the last day; each day is told
    only what was known then. Findings come worst first.
    """
    if not days:
        return
    frames = fleet_frames(Unit.objects.all(), days[-1])
    times = [moment_t(day) for day in days]
    said = replay(frames, times, processes=processes)
    for day, t, screened in zip(days, times, said, strict=True):
        run = _run(day, screened)
        findings = _findings(run, screened, frames.known(t))
        prefetch_related_objects(findings, "unit", "tractor", "customer")
        findings.sort(key=lambda one: (one.forecast_on or date.max, -one.probability))
        yield run, findings


def _run(as_of: date, screened: Screened) -> ScreenRun:
    return ScreenRun(
        as_of=as_of,
        units_screened=screened.units,
        units_undecided=screened.undecided,
        expected_false=screened.expected_false,
    )


def _findings(run: ScreenRun, screened: Screened, frames: FleetFrames) -> list[Finding]:
    """The findings on units in a truck and on gauges, as rows that are not saved."""
    standing = _standing(frames)
    serials = frames.units.set_index("unit")["serial"]
    return [
        _row(run, found, standing, serials)
        for found in screened.findings
        if found.gauge or found.unit in standing.index
    ]


def _asks(run: ScreenRun, screened: Screened, frames: FleetFrames) -> list[Ask]:
    """What is to be measured, as rows that are not saved."""
    standing = _standing(frames)
    return [
        Ask(
            run=run,
            unit_id=ask.unit,
            tractor_id=int(standing.at[ask.unit, "tractor"]),
            customer_id=int(standing.at[ask.unit, "customer"]),
            measure=ask.measure,
            # A moment is the end of its day, and so the beginning of the next.
            by=day_of(ask.by_t - NOON_T),
            bits=ask.bits,
            doubt_bits=ask.doubt_bits,
            cause=ask.cause,
            probability=ask.probability,
        )
        for ask in screened.asks
    ]


def _standing(frames: FleetFrames) -> pd.DataFrame:
    """The installs of the units that stand in a truck, by unit."""
    return frames.installs[frames.installs["removed_t"].isna()].set_index("unit")


def _row(run: ScreenRun, found: FoundCause, standing: pd.DataFrame, serials: pd.Series) -> Finding:
    on, low, high = _dates(found)
    return Finding(
        run=run,
        unit_id=found.unit,
        tractor_id=None if found.gauge else int(standing.at[found.unit, "tractor"]),
        customer_id=None if found.gauge else int(standing.at[found.unit, "customer"]),
        gauge=found.gauge,
        touched=sorted(serials[list(found.touched)]),
        cause=found.cause,
        probability=min(max(found.probability, 0.0), 1.0),
        since=day_of(found.since_t),
        evidence=found.evidence,
        forecast_event=found.forecast_event if on else "",
        forecast_on=on,
        forecast_low=low,
        forecast_high=high,
    )


def _dates(found: FoundCause) -> tuple[date | None, date | None, date | None]:
    """Middle, low and high of the forecast; none where it lies beyond any calendar."""
    if found.forecast_t is None:
        return None, None, None
    low, middle, high = (day_of(t) for t in found.forecast_t)
    if middle is None or low is None:
        return None, None, None
    return middle, low, high or middle + timedelta(days=36_525)
