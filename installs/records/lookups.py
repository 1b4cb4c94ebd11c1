"""Rows that a sheet names by a key: found, or made when the naming row is written."""

import numpy as np
import pandas as pd
from django.db import models
from numpy.typing import NDArray
from simple_history.utils import bulk_create_with_history

from fleetcool.bulk import fetch_columns
from installs.engineering.saturation import air_kpa
from installs.models import Install
from installs.records.cells import fold

__all__ = ["Known", "Named", "Standing"]

UNKNOWN = -1.0


class Known:
    """Rows of a table by their key, whatever its case; `columns` are read along with them."""

    def __init__(self, queryset: models.QuerySet, key: str, *columns: str):
        parts = [pd.DataFrame(part) for part in fetch_columns(queryset, ["pk", key, *columns])]
        self.table = pd.concat(parts, ignore_index=True)
        self.table.index = pd.Index(self.table.pop(key).map(fold), dtype=object)

    def find(self, texts: NDArray) -> pd.DataFrame:
        """Return a row a text, in order; all NaN where the key is blank or unknown."""
        codes, different = pd.factorize(texts)
        found = self.table.reindex([fold(text) for text in different])
        return found.take(codes).reset_index(drop=True)


class Named:
    """People, cylinders and the like, which a row may name before they are on record."""

    def __init__(self, model: type[models.Model], key: str, reason: str):
        self.model, self.key, self.reason = model, key, reason
        self.ids = {fold(name): pk for name, pk in model.objects.values_list(key, "pk")}

    def find(self, names: NDArray) -> NDArray:
        """Return ids: NaN where blank, UNKNOWN where the name is not on record yet."""
        codes, different = pd.factorize(names)
        ids = [self.ids.get(fold(name), UNKNOWN) if name else np.nan for name in different]
        return np.array(ids, dtype=float)[codes]

    def make(self, names: NDArray, **others: NDArray) -> None:
        """Put names that are not on record there, as first written, with these other values."""
        ids = self.find(names)
        fresh: dict[str, int] = {}
        for place in np.flatnonzero(ids == UNKNOWN).tolist():
            fresh.setdefault(fold(names[place]), place)
        rows = [
            self.model(
                **{self.key: names[place]},
                **{field: values[place] for field, values in others.items()},
            )
            for place in fresh.values()
        ]
        if rows:
            made = bulk_create_with_history(rows, self.model, default_change_reason=self.reason)
            self.ids |= {fold(getattr(row, self.key)): row.pk for row in made}


class Standing:
    """Which tractor a unit stood in on a day, whose it was then, and the air of its yard."""

    COLUMNS = ["unit_id", "installed_on", "removed_on", "tractor_id", "customer_id"]

    def __init__(self, shop_elevation_m: float):
        self.shop_air_kpa = float(air_kpa(shop_elevation_m))
        path = "tractor__yard__elevation_m"
        installs = Install.objects.exclude(removed_on=models.F("installed_on"))
        parts = [pd.DataFrame(part) for part in fetch_columns(installs, [*self.COLUMNS, path])]
        self.table = pd.concat(parts, ignore_index=True).sort_values("installed_on", kind="stable")
        self.table["air_kpa"] = air_kpa(self.table.pop(path).to_numpy())
        for end in ("installed_on", "removed_on"):
            self.table[end] = self.table[end].astype("datetime64[s]")

    def find(self, unit_id: NDArray, days: NDArray) -> pd.DataFrame:
        """Return tractor_id, customer_id and air_kpa a row, in order; the shop's air where none."""
        asked = pd.DataFrame({"unit_id": unit_id, "day": days.astype("datetime64[s]")})
        asked = asked.dropna().sort_values("day", kind="stable")
        found = pd.merge_asof(
            asked.reset_index(), self.table, left_on="day", right_on="installed_on", by="unit_id"
        ).set_index("index")
        ended = found["removed_on"] <= found["day"]
        found = found.loc[~ended, ["tractor_id", "customer_id", "air_kpa"]]
        found = found.reindex(range(len(unit_id)))
        found["air_kpa"] = found["air_kpa"].fillna(self.shop_air_kpa)
        return found
