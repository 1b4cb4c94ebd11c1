"""The sheets of what happened since: readings, overnights and refrigerant movements."""

from functools import cached_property

import numpy as np
from django.conf import settings
from django.utils.timezone import get_default_timezone, now
from django.utils.translation import gettext as _
from simple_history.utils import bulk_update_with_history

from fleetcool.bulk import fetch_columns, insert_rows
from installs.models import Technician, Unit
from installs.records.cells import Choice, Moment, Number, Text, fold
from installs.records.dates import local_days
from installs.records.lookups import Known, Named, Standing
from installs.records.sheet import Column, Sheet, find
from service.book import recount
from service.loaded_book import cylinders_of, refuse_overdrawn
from service.models import (
    Cylinder,
    EndedBy,
    Movement,
    MovementKind,
    Output,
    Overnight,
    Reading,
    ReadingKind,
    Visit,
)

SERIAL = Column("serial", "", Text(60), required=True)
ENTERED_AT = Column("entered_at", "entered_at", Moment(), keeps=True)
# With more units than this in a chunk, its span of time alone narrows the search well enough.
MANY_UNITS = 1_000


class EventSheet(Sheet):
    """Events of a unit, each in the tractor that the unit stood in on that day.

    The rows are written without history, for each is its own record; a row that is changed keeps
    what it was in history, where the model has one.
    """

    named_column = ""

    @cached_property
    def units(self) -> Known:
        return Known(Unit.objects, "serial", "model__refrigerant")

    @cached_property
    def standing(self) -> Standing:
        return Standing(settings.SHOP_ELEVATION_M)

    @cached_property
    def technicians(self) -> Named:
        return Named(Technician, "name", self.reason)

    @property
    def time_field(self) -> str:
        return self.model.time_field

    def resolve(self, rows):
        self.unit = find(
            rows, "serial", self.units, _("no unit “%(key)s” on record; add it under units")
        )
        rows.values["unit_id"] = self.unit["pk"].to_numpy()
        days = local_days(rows.values[self.time_field], get_default_timezone())
        place = self.standing.find(rows.values["unit_id"], days)
        rows.compare("tractor_id", place["tractor_id"])
        rows.compare("customer_id", place["customer_id"])
        self.air_kpa = place["air_kpa"].to_numpy()
        if self.named_column in rows.values:
            names = rows.values[self.named_column]
            rows.compare(f"{self.named_column}_id", self.technicians.find(names))

    def derive(self, rows, where, found, stored):
        super().derive(rows, where, found, stored)
        rows.enter(rows.values[self.time_field])

    def introduce(self, rows, where):
        if self.named_column in rows.values:
            names = rows.values[self.named_column]
            self.technicians.make(np.where(where, names, ""))
            rows.values[f"{self.named_column}_id"] = self.technicians.find(names)

    def candidates(self, rows):
        units = np.unique(rows.values["unit_id"][rows.ok]).astype("int64").tolist()
        times = rows.values[self.time_field][rows.ok]
        if not units:
            return self.model.objects.none()
        first, last = (f"{moment}+00:00" for moment in (times.min(), times.max()))
        return self.events_of(units).filter(**{f"{self.time_field}__range": (first, last)})

    def events_of(self, unit_ids):
        events = self.model.objects.all()
        return events.filter(unit__in=unit_ids) if len(unit_ids) <= MANY_UNITS else events

    def follow(self, unit_ids: set[int]) -> int:
        """Put events on record under the tractor and the customer of their day, as now known.

        Returns how many that moved.
        """
        paths = ["pk", "unit_id", self.time_field, "tractor_id", "customer_id"]
        moved = 0
        for part in list(fetch_columns(self.events_of(unit_ids), paths)):
            days = local_days(part[self.time_field], get_default_timezone())
            place = self.standing.find(part["unit_id"], days)
            ids = place[["tractor_id", "customer_id"]].fillna(0).to_numpy()
            before = np.nan_to_num(np.column_stack([part["tractor_id"], part["customer_id"]]))
            differs = (ids != before).any(axis=1) & np.isin(part["unit_id"], list(unit_ids))
            pks = part["pk"][differs].astype("int64").tolist()
            on_record = self.model.objects.in_bulk(pks)
            for pk, (tractor_id, customer_id) in zip(pks, ids[differs], strict=True):
                on_record[pk].tractor_id = int(tractor_id) or None
                on_record[pk].customer_id = int(customer_id) or None
            self.write_changed(list(on_record.values()), ["tractor_id", "customer_id"])
            moved += len(pks)
        return moved

    def insert(self, rows, places):
        names = {field.attname for field in self.model._meta.concrete_fields}
        columns = {path: values[places] for path, values in rows.values.items() if path in names}
        insert_rows(self.model, columns)

    def update(self, rows, places, stored, paths):
        pks = stored["pk"][places]
        self.write_changed(self.changed_objects(rows, places, pks, paths), paths)

    def write_changed(self, events, paths):
        if not hasattr(self.model, "history"):
            self.model.objects.bulk_update(events, paths, batch_size=500)
            return
        self.keep_before([event.pk for event in events])
        bulk_update_with_history(
            events, self.model, paths, batch_size=500, default_change_reason=self.reason
        )

    def keep_before(self, pks: list[int]) -> None:
        """Put into history how rows were first written, where they have no history yet."""
        kept = set(self.model.history.filter(id__in=pks).values_list("id", flat=True))
        before = list(self.model.objects.filter(pk__in=set(pks) - kept))
        moment = now()
        for item in before:
            item._history_date = min(item.entered_at, moment)
        self.model.history.bulk_history_create(before, default_change_reason=_("as first written"))


def _numbers(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name, name, Number()) for name in names)


class Readings(EventSheet):
    name, model = "readings", Reading
    key, key_columns = ("unit_id", "taken_at"), ("serial", "taken_at")
    columns = (
        SERIAL,
        Column("taken_at", "taken_at", Moment(), required=True),
        Column("kind", "kind", Choice(tuple(ReadingKind.values)), required=True),
        Column("output", "output", Choice(tuple(Output.values))),
        *_numbers("ambient_c", "return_air_c", "supply_air_c", "suction_kpa", "discharge_kpa"),
        *_numbers("suction_line_c", "liquid_line_c", "rest_v", "rest_h", "battery_c"),
        *_numbers("load_v", "load_a"),
        Column("gauge", "gauge", Text(40)),
        Column("taken_by", "", Text(100)),
        ENTERED_AT,
    )
    also = ("air_kpa",)
    named_column = "taken_by"

    def derive(self, rows, where, found, stored):
        """Absolute pressures lose the air of the day's yard, or that which was on record then."""
        super().derive(rows, where, found, stored)
        rows.values["air_kpa"] = np.where(found, stored["air_kpa"], self.air_kpa)
        for path, absolute_kpa in rows.absolute.items():
            rows.refuse(where & (absolute_kpa < 0), path, _("no absolute pressure is below zero"))
            rows.values[path] = absolute_kpa - rows.values["air_kpa"]


class Overnights(EventSheet):
    name, model = "overnights", Overnight
    key, key_columns = ("unit_id", "began_at"), ("serial", "began_at")
    columns = (
        SERIAL,
        Column("began_at", "began_at", Moment(), required=True),
        Column("run_h", "run_h", Number(), required=True),
        *_numbers("drawn_ah", "start_v", "end_v"),
        Column("ended_by", "ended_by", Choice(tuple(EndedBy.values))),
        *_numbers("ambient_c"),
        ENTERED_AT,
    )


class Refrigerant(EventSheet):
    name, model = "refrigerant", Movement
    key, key_columns = ("unit_id", "at", "movement"), ("serial", "at", "movement")
    columns = (
        SERIAL,
        Column("at", "at", Moment(), required=True),
        Column("movement", "movement", Choice(tuple(MovementKind.values)), required=True),
        Column("mass_g", "mass_g", Number(), required=True),
        Column("cylinder", "", Text(40)),
        Column("moved_by", "", Text(100)),
        ENTERED_AT,
    )
    named_column = "moved_by"
    also = ("cylinder_id",)

    @cached_property
    def cylinders(self) -> Named:
        return Named(Cylinder, "code", self.reason)

    def resolve(self, rows):
        super().resolve(rows)
        if "cylinder" not in rows.values:
            return
        self.refuse_mixtures(rows)
        rows.compare("cylinder_id", self.cylinders.find(rows.values["cylinder"]))

    def refuse_mixtures(self, rows):
        """A cylinder holds one refrigerant: that on record, or that of the first unit it fills."""
        holds = self.cylinder_refrigerants
        needed = self.unit["model__refrigerant"].to_numpy()
        for place in np.flatnonzero(rows.ok & (rows.values["cylinder"] != "")).tolist():
            code = fold(rows.values["cylinder"][place])
            if holds.setdefault(code, needed[place]) != needed[place]:
                rows.refuse(
                    np.array([place]),
                    "cylinder",
                    _("it holds %(holds)s and this unit takes %(needs)s; never mix them")
                    % {"holds": holds[code], "needs": needed[place]},
                )

    @cached_property
    def cylinder_refrigerants(self) -> dict[str, str]:
        rows = Cylinder.objects.values_list("code", "refrigerant")
        return {fold(code): refrigerant for code, refrigerant in rows}

    def settle(self, rows, new, changed, stored):
        refuse_overdrawn(rows, new, changed, stored)

    def insert(self, rows, places):
        super().insert(rows, places)
        recount(cylinders_of(rows, places))

    def update(self, rows, places, stored, paths):
        super().update(rows, places, stored, paths)
        recount(cylinders_of(rows, places, stored))

    def introduce(self, rows, where):
        super().introduce(rows, where)
        if "cylinder" in rows.values:
            codes, refrigerants = rows.values["cylinder"], self.unit["model__refrigerant"]
            self.cylinders.make(np.where(where, codes, ""), refrigerant=refrigerants)
            rows.values["cylinder_id"] = self.cylinders.find(codes)


class Visits(EventSheet):
    """No sheet of the book, for visits are written at the truck; but they follow their unit too."""

    name, model = "visits", Visit


SHEETS = [Readings, Overnights, Refrigerant]
# What follows a unit whose installs were changed.
FOLLOWERS = [*SHEETS, Visits]
