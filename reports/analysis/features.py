"""From raw readings to features: what moves with a fault and not with the weather."""

# Every feature that evidence may name, and the kind of quantity it is (see fleetcool.quantities).
FEATURES = {
    "condensing_lift_k": "difference",
    "evaporating_depression_k": "difference",
    "superheat_k": "difference",
    "subcooling_k": "difference",
    "rest_v": "volts",
    "resistance_mohm": "mohm",
    "bank_capacity_ah": "ah",
    "charge_missing_percent": "ratio",
    "added_percent_per_year": "ratio",
    "gauge_bias_k": "difference",
}
