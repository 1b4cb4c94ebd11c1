"""What units of one model show while they run, so that a value is judged by its own kind.

The middle of the model's readings and three robust deviations to either side: one bad gauge or one
leaking unit moves neither. A model with few readings has none yet, and is judged by what a
commissioning proves by.
"""

from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from installs.engineering.first_run import COLD_C
from installs.models import UnitModel
from reports.analysis.features import reading_features
from service.engineering.visit_physics import OUTPUTS, POSSIBLE, Bands
from service.models import Reading, ReadingKind

__all__ = ["usual_bands"]

FEATURES = {
    "condensing_lift_k": "lift_k",
    "evaporating_depression_k": "depression_k",
    "superheat_k": "superheat_k",
    "subcooling_k": "subcooling_k",
    "air_drop_k": "air_drop_k",
}
READ = (
    "output",
    "ambient_c",
    "return_air_c",
    "supply_air_c",
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
SINCE = timedelta(days=2 * 365)
MOST_READINGS = 2_000
# Fewer than this show the model's middle, but not how far sound units lie from it.
LEAST_READINGS = 20
DEVIATIONS = 3.0
# Of a normal distribution, 1.4826 times the median deviation is the standard deviation.
ROBUST = 1.4826
# Nearer than this no two gauges and thermometers agree; common practice, no source.
LEAST_HALF_K = 4.0


def usual_bands(model: UnitModel, known_at: datetime) -> dict[str, Bands]:
    """Return the bands of a model by output level, as its readings were known at a moment.

    An output level or a feature with too few readings is left out. One query.
    """
    readings = _readings(model, known_at)
    if readings.empty:
        return {}
    features = reading_features(readings)
    features["air_drop_k"] = readings["return_air_c"] - readings["supply_air_c"]
    return {
        output: _bands(features[(readings["output"] == output).to_numpy()]) for output in OUTPUTS
    }


def _readings(model: UnitModel, known_at: datetime) -> pd.DataFrame:
    """Those of running units in air that is warm enough to judge by, the newest."""
    rows = (
        Reading.objects.known_at(known_at)
        .filter(unit__model=model, output__in=OUTPUTS, ambient_c__gte=COLD_C)
        .filter(taken_at__gte=known_at - SINCE)
        .exclude(kind=ReadingKind.LOGGER)
        .order_by("-taken_at")
        .values_list(*READ)[:MOST_READINGS]
    )
    readings = pd.DataFrame.from_records(list(rows), columns=list(READ))
    numbers = [name for name in READ if name != "output"]
    readings[numbers] = readings[numbers].astype(float)
    return readings.assign(refrigerant=model.refrigerant, system_v=model.system_v)


def _bands(features: pd.DataFrame) -> Bands:
    bands: Bands = {}
    for name, ours in FEATURES.items():
        values = features[name].dropna().to_numpy()
        if len(values) < LEAST_READINGS:
            continue
        middle = np.median(values)
        half = max(DEVIATIONS * ROBUST * np.median(np.abs(values - middle)), LEAST_HALF_K)
        low, high = POSSIBLE[ours]
        bands[ours] = max(float(middle - half), low), min(float(middle + half), high)
    return bands
