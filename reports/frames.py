"""The one door between the records and the computation: querysets in, tidy frames out.

Everything is known as of a moment: what had happened and had been written down by then.
"""

from datetime import date, datetime, time, timedelta

import numpy as np
import pandas as pd
from django.db.models import Q, QuerySet
from django.utils import timezone

from fleetcool.models import Person
from installs.models import BatteryBank, BatteryRenewal, Install, Unit
from reports.knowledge import NOON_T, ORIGIN, YEAR_S, FleetFrames, nothing_settled, years
from reports.models import ConcernStep
from service.models import Movement, Overnight, Reading

__all__ = [
    "FleetFrames",
    "day_of",
    "end_of_day",
    "fleet_frames",
    "moment_of",
    "moment_t",
    "years",
]

READ = (
    "ambient_c",
    "return_air_c",
    "suction_kpa",
    "discharge_kpa",
    "suction_line_c",
    "liquid_line_c",
    "air_kpa",
    "rest_v",
    "rest_h",
    "battery_c",
    "load_v",
    "load_a",
)
# Columns that are numbers even where none was taken.
NUMBERS = frozenset(
    (
        *READ,
        "charge_g",
        "draw_low_a",
        "cutoff_v",
        "run_h",
        "drawn_ah",
        "start_v",
        "end_v",
        "mass_g",
        "battery_ah",
        "tractor",
    )
)

UNIT = {
    "pk": "unit",
    "serial": "serial",
    "model_id": "model",
    "model__refrigerant": "refrigerant",
    "model__charge_g": "charge_g",
    "model__system_v": "system_v",
    "model__draw_low_a": "draw_low_a",
    "model__cutoff_v": "cutoff_v",
    "model__expansion": "expansion",
}
READING = {
    "unit_id": "unit",
    "tractor_id": "tractor",
    "taken_at": "at",
    "entered_at": "entered_at",
    "taken_by_id": "taken_by",
    "kind": "kind",
    "output": "output",
    "gauge": "gauge",
    **{name: name for name in READ},
}
OVERNIGHT = {
    "unit_id": "unit",
    "tractor_id": "tractor",
    "began_at": "at",
    "entered_at": "entered_at",
    **{name: name for name in ("run_h", "drawn_ah", "start_v", "end_v", "ended_by", "ambient_c")},
}
MOVEMENT = {
    "unit_id": "unit",
    "at": "at",
    "entered_at": "entered_at",
    "movement": "movement",
    "mass_g": "mass_g",
}
INSTALL = {
    "unit_id": "unit",
    "tractor_id": "tractor",
    "customer_id": "customer",
    "installed_on": "installed_on",
    "removed_on": "removed_on",
    "entered_at": "entered_at",
}
BANK = {
    "tractor_id": "tractor",
    "battery_type": "battery_type",
    "battery_count": "battery_count",
    "battery_ah": "battery_ah",
    "installed_on": "installed_on",
}
RENEWAL = {
    "bank__tractor_id": "tractor",
    "at": "at",
    "entered_at": "entered_at",
    "renewed_count": "renewed_count",
}
SETTLED = {
    "concern__unit_id": "unit",
    "concern__gauge": "gauge",
    "cause": "cause",
    "concern__since": "since_on",
    "visit__at": "visit_at",
    "found_on": "found_on",
    "at": "entered_at",
    "what": "what",
    "mended": "mended",
}


def fleet_frames(units: QuerySet[Unit], as_of: date, user: Person | None = None) -> FleetFrames:
    """Return the frames of these units as known at the end of a day; of a user, what they may see."""
    moment = end_of_day(as_of)
    as_of_t = moment_t(as_of)

    def of_units(model):
        rows = model.objects.filter(unit__in=units.values("pk"))
        return rows.visible_to(user) if user else rows

    installs = of_units(Install).filter(installed_on__lte=as_of, entered_at__lt=moment)
    of_tractors = installs.values("tractor_id")
    renewals = BatteryRenewal.objects.filter(
        bank__tractor__in=of_tractors, at__lt=moment, entered_at__lt=moment
    )
    return FleetFrames(
        as_of_t=as_of_t,
        units=_frame(units, UNIT),
        installs=_with_days(
            _with_t(_frame(installs, INSTALL), "entered_at"), "installed_on", "removed_on"
        ),
        readings=_with_t(_frame(of_units(Reading).known_at(moment), READING)),
        overnights=_with_t(_frame(of_units(Overnight).known_at(moment), OVERNIGHT)),
        movements=_with_t(_frame(of_units(Movement).known_at(moment), MOVEMENT)),
        banks=_with_days(
            _frame(BatteryBank.objects.filter(tractor__in=of_tractors), BANK), "installed_on"
        ),
        renewals=_with_t(_frame(renewals, RENEWAL)),
        settled=_settled(units, user),
    ).known(as_of_t)


def moment_t(as_of: date) -> float:
    """The end of a day in the shop's zone as a `t`."""
    return float(years([end_of_day(as_of)])[0])


def end_of_day(day: date) -> datetime:
    """The moment at which a day ends in the shop's zone."""
    midnight = datetime.combine(day + timedelta(days=1), time.min)
    return timezone.make_aware(midnight, timezone.get_default_timezone())


def day_of(t: float) -> date | None:
    """The local day of a `t`; None where it is not a number or centuries away."""
    if not np.isfinite(t) or not -100 < t < 200:
        return None
    return timezone.localtime(moment_of(t), timezone.get_default_timezone()).date()


def moment_of(t: float) -> datetime:
    """The aware datetime of a `t`, to the second."""
    return ORIGIN + timedelta(seconds=round(float(t) * YEAR_S))


def _settled(units: QuerySet[Unit], user: Person | None) -> pd.DataFrame:
    """What was confirmed or refuted of these units and of the gauges (see `FleetFrames`)."""
    steps = ConcernStep.objects.verdicts().filter(
        Q(concern__unit=None) | Q(concern__unit__in=units.values("pk"))
    )
    rows = _frame(steps.visible_to(user) if user else steps, SETTLED)
    if rows.empty:
        return nothing_settled()
    looked_t = years(rows["visit_at"])
    mended = np.where(rows["mended"], "confirmed_mended", "confirmed")
    return pd.DataFrame(
        {
            "unit": rows["unit"].astype(float),
            "gauge": rows["gauge"],
            "cause": rows["cause"],
            "since_t": years(rows["since_on"]) + NOON_T,
            "t": np.where(np.isnan(looked_t), years(rows["found_on"]) + NOON_T, looked_t),
            "entered_t": years(rows["entered_at"]),
            "outcome": np.where(rows["what"] == "refuted", "refuted", mended),
        }
    )


def _frame(queryset: QuerySet, columns: dict[str, str]) -> pd.DataFrame:
    rows = queryset.order_by("pk").values_list(*columns)
    frame = pd.DataFrame.from_records(list(rows), columns=list(columns.values()))
    for name in frame.columns.intersection(NUMBERS):
        frame[name] = pd.to_numeric(frame[name]).astype(float)
    return frame


def _with_t(frame: pd.DataFrame, *names: str) -> pd.DataFrame:
    for name in names or ("at", "entered_at"):
        frame["t" if name == "at" else name.replace("_at", "_t")] = years(frame.pop(name))
    return frame


def _with_days(frame: pd.DataFrame, *names: str) -> pd.DataFrame:
    for name in names:
        frame[name.replace("_on", "_t")] = years(frame.pop(name)) + NOON_T
    return frame
