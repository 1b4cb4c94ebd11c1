"""The sheets of what is installed where: customers, tractors, unit models, units, installs, renewals."""

from functools import cached_property

import numpy as np
from django.utils.translation import gettext as _
from simple_history.utils import bulk_create_with_history, bulk_update_with_history

from installs import vin as vins
from installs.engineering.saturation import UnknownRefrigerant, designation
from installs.models import (
    BatteryBank,
    BatteryRenewal,
    BatteryType,
    Customer,
    Expansion,
    Install,
    SystemVolts,
    Technician,
    Tractor,
    Unit,
    UnitModel,
    VinKind,
)
from installs.records.cells import Choice, Day, Moment, Number, Text, Whole, Yes
from installs.records.checks import is_blank, refuse_the_impossible
from installs.records.dates import noon
from installs.records.intervals import Interval, fit
from installs.records.lookups import Known, Named
from installs.records.sheet import Column, Sheet, find

VIN = Column("vin", "", Text(60), required=True)


class Customers(Sheet):
    name, model, key, key_columns = "customers", Customer, ("code",), ("customer",)
    columns = (
        Column("customer", "code", Text(40), required=True),
        Column("name", "name", Text(200), required=True),
        Column("contact_email", "contact_email", Text(254, email=True)),
    )


class Tractors(Sheet):
    """Trucks with their battery banks: a bank is made once its type, count and size are known."""

    name, model, key, key_columns = "tractors", Tractor, ("vin",), ("vin",)
    columns = (
        Column("vin", "vin", Text(60), required=True),
        Column("customer", "", Text(40), required=True),
        Column("truck_number", "truck_number", Text(40)),
        Column("model_year", "model_year", Whole()),
        Column("system_v", "system_v", Whole(tuple(SystemVolts.values)), keeps=True),
        Column("battery_type", "bank__battery_type", Choice(tuple(BatteryType.values)), keeps=True),
        Column("battery_count", "bank__battery_count", Whole(), keeps=True),
        Column("battery_ah", "bank__battery_ah", Number(), keeps=True),
        Column("batteries_installed_on", "bank__installed_on", Day()),
        Column("vin_as_stamped", "", Yes()),
    )
    also = (
        "bank__pk",
        "bank__battery_type",
        "bank__battery_count",
        "bank__battery_ah",
        "bank__installed_on",
    )
    bank_columns = ("battery_type", "battery_count", "battery_ah")

    @cached_property
    def customers(self) -> Known:
        return Known(Customer.objects, "code")

    @cached_property
    def stamped(self) -> set[str]:
        kind = VinKind.AS_STAMPED
        return set(Tractor.objects.filter(vin_kind=kind).values_list("vin", flat=True))

    def resolve(self, rows):
        if "customer" in rows.values:
            words = _("no customer “%(key)s” on record; add it under customers")
            rows.compare("customer_id", find(rows, "customer", self.customers, words)["pk"])
        self.check_vins(rows)

    def check_vins(self, rows):
        written = rows.values["vin"]
        as_stamped = rows.values.get("vin_as_stamped", np.zeros(len(rows), dtype=bool))
        folded, kinds = written.copy(), np.full(len(rows), "", dtype=object)
        for place, vin in enumerate(written):
            if not vin:
                continue
            try:
                trusted = as_stamped[place] or vins.fold(vin) in self.stamped
                folded[place], kinds[place] = vins.check(vin, as_stamped=trusted)
            except vins.VinError:
                reason = _why_not(vin)
                rows.refuse(np.array([place]), "vin", reason)
        rows.values["vin"] = folded
        rows.compare("vin_kind", kinds)

    def derive(self, rows, where, found, stored):
        super().derive(rows, where, found, stored)
        paths = [f"bank__{name}" for name in self.bank_columns]
        whole = {path: rows.values.get(path, stored[path]) for path in paths}
        given = [~is_blank(values) for values in whole.values()]
        dated = ~is_blank(rows.values.get("bank__installed_on", stored["bank__installed_on"]))
        some = where & (np.any(given, axis=0) | dated) & ~np.all(given, axis=0)
        for name, has in zip(self.bank_columns, given, strict=True):
            rows.refuse(
                some & ~has, name, _("is missing; a battery bank has a type, a count and Ah each")
            )
        if any(path in rows.values for path in paths):
            rows.values |= whole

    def check(self, rows, where):
        super().check(rows, where)
        refuse_the_impossible(rows, where, BatteryBank, prefix="bank__")

    def insert(self, rows, places):
        tractors = self.objects(Tractor, rows, places)
        bulk_create_with_history(tractors, Tractor, default_change_reason=self.reason)
        self.insert_banks(rows, places, [tractor.pk for tractor in tractors])

    def insert_banks(self, rows, places, tractor_ids):
        if "bank__battery_type" not in rows.values:
            return
        has = rows.values["bank__battery_type"][places] != ""
        banks = self.objects(BatteryBank, rows, places[has], prefix="bank__")
        for bank, tractor_id in zip(banks, np.array(tractor_ids)[has].tolist(), strict=True):
            bank.tractor_id = tractor_id
        bulk_create_with_history(banks, BatteryBank, default_change_reason=self.reason)

    def update(self, rows, places, stored, paths):
        own = [path for path in paths if not path.startswith("bank__")]
        if own:
            super().update(rows, places, stored, own)
        banked = ~is_blank(stored["bank__pk"])
        self.insert_banks(rows, places[~banked[places]], stored["pk"][places[~banked[places]]])
        names = [path.removeprefix("bank__") for path in paths if path.startswith("bank__")]
        places = places[banked[places]]
        if not names or not len(places):
            return
        ids = stored["bank__pk"][places].astype("int64").tolist()
        on_record = BatteryBank.objects.in_bulk(ids)
        fresh = self.objects(BatteryBank, rows, places, prefix="bank__")
        for pk, bank in zip(ids, fresh, strict=True):
            for name in names:
                setattr(on_record[pk], name, getattr(bank, name))
        bulk_update_with_history(
            [on_record[pk] for pk in ids],
            BatteryBank,
            names,
            batch_size=500,
            default_change_reason=self.reason,
        )


class UnitModels(Sheet):
    name, model, key, key_columns = "unit_models", UnitModel, ("name",), ("model",)
    columns = (
        Column("model", "name", Text(60), required=True),
        Column("refrigerant", "refrigerant", Text(60), required=True),
        Column("charge_g", "charge_g", Number(), required=True),
        Column("system_v", "system_v", Whole(tuple(SystemVolts.values)), required=True),
        Column("draw_low_a", "draw_low_a", Number()),
        Column("draw_mid_a", "draw_mid_a", Number()),
        Column("draw_high_a", "draw_high_a", Number()),
        Column("cutoff_v", "cutoff_v", Number()),
        Column("expansion", "expansion", Choice(tuple(Expansion.values))),
    )

    def resolve(self, rows):
        for place, text in enumerate(rows.values.get("refrigerant", ())):
            if not text:
                continue
            try:
                rows.values["refrigerant"][place] = designation(text)
            except UnknownRefrigerant as error:
                rows.refuse(np.array([place]), "refrigerant", _(error.words) % error.what)


class Units(Sheet):
    name, model, key, key_columns = "units", Unit, ("serial",), ("serial",)
    columns = (
        Column("serial", "serial", Text(60), required=True),
        Column("model", "", Text(60), required=True),
        Column("lot", "lot", Text(40)),
        Column("made_on", "made_on", Day()),
    )

    @cached_property
    def models(self) -> Known:
        return Known(UnitModel.objects, "name")

    def resolve(self, rows):
        if "model" in rows.values:
            words = _("no unit model “%(key)s” on record; add it under unit_models")
            rows.compare("model_id", find(rows, "model", self.models, words)["pk"])


class Installs(Sheet):
    """Units in tractors. An install that the book ends makes room for the next one in it."""

    name, model = "installs", Install
    key, key_columns = ("unit_id", "installed_on"), ("serial", "installed_on")
    columns = (
        Column("serial", "", Text(60), required=True),
        Column("installed_on", "installed_on", Day(), required=True),
        VIN,
        Column("installed_by", "", Text(100)),
        Column("removed_on", "removed_on", Day()),
        Column("entered_at", "entered_at", Moment(), keeps=True),
    )
    also = ("removed_on", "tractor_id", "customer_id")
    whole = True

    @cached_property
    def units(self) -> Known:
        return Known(Unit.objects, "serial", "model__system_v")

    @cached_property
    def tractors(self) -> Known:
        return Known(Tractor.objects, "vin", "customer_id", "system_v")

    @cached_property
    def technicians(self) -> Named:
        return Named(Technician, "name", self.reason)

    def resolve(self, rows):
        unit = find(
            rows, "serial", self.units, _("no unit “%(key)s” on record; add it under units")
        )
        rows.values["unit_id"] = unit["pk"].to_numpy()
        if "vin" in rows.values:
            self.resolve_tractor(rows, unit["model__system_v"])
        if "installed_by" in rows.values:
            rows.compare("installed_by_id", self.technicians.find(rows.values["installed_by"]))

    def resolve_tractor(self, rows, unit_v):
        rows.values["vin"] = np.array([vins.fold(vin) for vin in rows.values["vin"]], dtype=object)
        words = _("no tractor with VIN %(key)s on record; add it under tractors")
        tractor = find(rows, "vin", self.tractors, words)
        rows.compare("tractor_id", tractor["pk"])
        rows.values["customer_id"] = tractor["customer_id"].to_numpy()
        rows.refuse(
            (unit_v > tractor["system_v"]).to_numpy(),
            "vin",
            _("this truck has 12 V and the unit needs 24 V; check the serial and the VIN"),
        )

    def derive(self, rows, where, found, stored):
        super().derive(rows, where, found, stored)
        rows.enter(noon(rows.values["installed_on"]))
        if "tractor_id" in rows.values:
            same = found & (rows.values["tractor_id"] == stored["tractor_id"])
            rows.values["customer_id"] = np.where(
                same, stored["customer_id"], rows.values["customer_id"]
            )

    def settle(self, rows, new, changed, stored):
        places = np.flatnonzero(new | changed)
        removed = rows.values.get("removed_on", stored["removed_on"])
        asked = [
            Interval(int(unit), start, end, str(rows.numbers[place]), place)
            for place, unit, start, end in zip(
                places.tolist(),
                rows.values["unit_id"][places].tolist(),
                rows.values["installed_on"][places].tolist(),
                removed[places].tolist(),
                strict=True,
            )
        ]
        for interval, standing in fit(asked, self.on_record({item.unit_id for item in asked})):
            rows.refuse(
                np.array([interval.place]),
                "serial",
                _(
                    "this unit stands in another truck from %(start)s to %(end)s (%(where)s); "
                    "give that install its removed_on first"
                )
                % {
                    "start": standing.start,
                    "end": standing.end or "…",
                    "where": _("row %(row)s") % {"row": standing.name}
                    if standing.place is not None
                    else standing.name,
                },
            )

    def on_record(self, unit_ids: set[int]) -> list[Interval]:
        installs = Install.objects.order_by("pk").values_list(
            "unit_id", "installed_on", "removed_on", "tractor__vin"
        )
        return [Interval(*row) for row in installs.iterator() if row[0] in unit_ids]

    def introduce(self, rows, where):
        if "installed_by" in rows.values:
            names = rows.values["installed_by"]
            self.technicians.make(np.where(where, names, ""))
            rows.values["installed_by_id"] = self.technicians.find(names)

    def insert(self, rows, places):
        super().insert(rows, places)
        self.moved_units |= set(rows.values["unit_id"][places].astype(int).tolist())

    def update(self, rows, places, stored, paths):
        """First the installs that end sooner: then no other one finds its place still taken."""
        if "tractor_id" in paths:
            paths = [*paths, "customer_id"]
        if "removed_on" in paths:
            before, after = stored["removed_on"][places], rows.values["removed_on"][places]
            sooner = ~is_blank(after) & (is_blank(before) | (after < before))
        else:
            sooner = np.zeros(len(places), dtype=bool)
        for some in (places[sooner], places[~sooner]):
            if len(some):
                super().update(rows, some, stored, paths)
        self.moved_units |= set(rows.values["unit_id"][places].astype(int).tolist())


class BatteryRenewals(Sheet):
    name, model = "battery_renewals", BatteryRenewal
    key, key_columns = ("bank_id", "at"), ("vin", "at")
    columns = (
        VIN,
        Column("at", "at", Moment(), required=True),
        Column("renewed_count", "renewed_count", Whole(), required=True),
        Column("entered_at", "entered_at", Moment(), keeps=True),
    )

    @cached_property
    def tractors(self) -> Known:
        return Known(Tractor.objects, "vin", "bank__pk", "bank__battery_count")

    def resolve(self, rows):
        rows.values["vin"] = np.array([vins.fold(vin) for vin in rows.values["vin"]], dtype=object)
        words = _("no tractor with VIN %(key)s on record; add it under tractors")
        tractor = find(rows, "vin", self.tractors, words)
        rows.values["bank_id"] = tractor["bank__pk"].to_numpy()
        rows.refuse(
            (tractor["bank__pk"].isna() & tractor["pk"].notna()).to_numpy(),
            "vin",
            _(
                "this truck has no battery bank on record; give its battery_type, battery_count and battery_ah under tractors"
            ),
        )
        if "renewed_count" in rows.values:
            count = tractor["bank__battery_count"].to_numpy()
            rows.refuse(
                rows.values["renewed_count"] > count,
                "renewed_count",
                lambda place: (
                    _("the bank of this truck has %(count)d batteries") % {"count": count[place]}
                ),
            )

    def derive(self, rows, where, found, stored):
        super().derive(rows, where, found, stored)
        rows.enter(rows.values["at"])


def _why_not(vin: str) -> str:
    """Say what is wrong with a VIN, and how a wrong check digit is let pass."""
    folded = vins.fold(vin)
    try:
        vins.check(folded, as_stamped=True)
    except vins.VinError as error:
        return _(error.words) % error.what
    return _(
        "the check digit should be %(right)s, not %(wrong)s; correct it, or write yes under "
        "vin_as_stamped if the truck is stamped so"
    ) % {"right": vins.check_digit(folded), "wrong": folded[8]}


SHEETS = [Customers, Tractors, UnitModels, Units, Installs, BatteryRenewals]
# Of these, what follows a unit whose installs were changed.
FOLLOWERS: list[type[Sheet]] = []
