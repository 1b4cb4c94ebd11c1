"""What the gauges should show in the air of the day, so that a technician knows before looking."""

from installs.engineering import saturation
from installs.engineering.first_run import DEPRESSION_K, LIFT_K

__all__ = ["expected_discharge_kpa", "expected_suction_kpa"]


def expected_discharge_kpa(
    ambient_c: float, refrigerant: str, air_kpa: float
) -> tuple[float, float]:
    """Return the least and the most gauge discharge pressure that proves in this outside air."""
    low, high = (
        float(saturation.bubble_kpa(ambient_c + lift_k, refrigerant)) - air_kpa
        for lift_k in (LIFT_K.low, LIFT_K.high)
    )
    return low, high


def expected_suction_kpa(
    return_air_c: float, refrigerant: str, air_kpa: float
) -> tuple[float, float]:
    """Return the least and the most gauge suction pressure that proves with this return air."""
    low, high = (
        float(saturation.dew_kpa(return_air_c - depression_k, refrigerant)) - air_kpa
        for depression_k in (DEPRESSION_K.high, DEPRESSION_K.low)
    )
    return low, high
