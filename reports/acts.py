"""What is done with the records as a whole: screening the fleet."""

from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from installs.models import Install, Unit
from reports.analysis.verdicts import FoundCause, screen
from reports.frames import day_of, fleet_frames
from reports.models import Finding, ScreenRun

__all__ = ["screen_fleet"]


def screen_fleet(as_of: date) -> ScreenRun:
    """Screen every installed unit as known at the end of a day, and keep what was found.

    A run takes the place of an earlier run for the same day.
    """
    started_at = timezone.now()
    frames = fleet_frames(Unit.objects.filter(installs__installed_on__lte=as_of).distinct(), as_of)
    screened = screen(frames)
    standing = {
        install.unit_id: install
        for install in Install.objects.on(as_of).filter(entered_at__date__lte=as_of)
    }
    with transaction.atomic():
        ScreenRun.objects.filter(as_of=as_of).delete()
        run = ScreenRun.objects.create(
            as_of=as_of,
            started_at=started_at,
            finished_at=timezone.now(),
            units_screened=screened.units,
            units_undecided=screened.undecided,
            expected_false=screened.expected_false,
        )
        serials = dict(zip(frames.units["unit"], frames.units["serial"], strict=True))
        Finding.objects.bulk_create(
            _row(run, found, standing.get(found.unit), serials)
            for found in screened.findings
            if found.gauge or found.unit in standing
        )
    return run


def _row(
    run: ScreenRun, found: FoundCause, install: Install | None, serials: dict[int, str]
) -> Finding:
    on, low, high = _dates(found)
    return Finding(
        run=run,
        unit_id=found.unit,
        tractor_id=install.tractor_id if install else None,
        customer_id=install.customer_id if install else None,
        gauge=found.gauge,
        touched=sorted(serials[unit] for unit in found.touched),
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
