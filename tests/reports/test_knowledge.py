"""What of a fleet was known at an earlier moment."""

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

from reports.knowledge import FleetFrames, years
from tests.reports.analysis.fleets import START_T, fleet

LATER_T = START_T + 0.8


def frames(**changes) -> FleetFrames:
    """A sound fleet of three, all of it written down as it happened, but for the changes."""
    plain = fleet(units=3)
    tables = {field.name: getattr(plain, field.name) for field in fields(FleetFrames)} | changes
    for name in ("readings", "overnights", "movements", "renewals"):
        rows = tables[name]
        tables[name] = rows if "entered_t" in rows else rows.assign(entered_t=rows["t"])
    installs = tables["installs"]
    if "entered_t" not in installs:
        tables["installs"] = installs.assign(entered_t=installs["installed_t"])
    return FleetFrames(**tables)


def test_a_reading_of_tomorrow_is_not_known_today():
    assert (frames().known(LATER_T).readings["t"] < LATER_T).all()


def test_a_reading_written_down_late_is_not_known_before():
    readings = fleet(units=3).readings
    late = frames(
        readings=readings.assign(entered_t=readings["t"].where(readings["unit"] != 1, 99))
    )
    assert set(late.known(LATER_T).readings["unit"]) == {0, 2}


def test_a_unit_is_not_known_before_its_install_was_written_down():
    installs = fleet(units=3).installs.assign(entered_t=[START_T, LATER_T + 0.1, START_T])
    known = frames(installs=installs).known(LATER_T)
    assert list(known.units["unit"]) == [0, 2]
    assert set(known.readings["unit"]) == set(known.movements["unit"]) == {0, 2}


def test_a_unit_that_will_be_removed_still_stands_in_its_truck():
    installs = fleet(units=3).installs.assign(removed_t=[LATER_T + 0.1, LATER_T - 0.1, np.nan])
    removed_t = frames(installs=installs).known(LATER_T).installs["removed_t"]
    assert list(removed_t.isna()) == [True, False, True]


def test_a_renewal_is_not_known_before_it_was_written_down():
    renewals = pd.DataFrame(
        {"tractor": 100.0, "t": [0.1, 0.2], "renewed_count": 4.0, "entered_t": [0.1, LATER_T + 1]}
    ).assign(t=lambda rows: START_T + rows["t"])
    renewals.loc[0, "entered_t"] = START_T + 0.1
    assert len(frames(renewals=renewals).known(LATER_T).renewals) == 1


@pytest.mark.parametrize("text", ["2024-01-01", "2024-01-01T00:00", "2023-12-31T18:00-06:00"])
def test_a_year_is_365_and_a_quarter_days_from_2000(text):
    """1 January 2024 is 8766 days after 1 January 2000: 24 × 365.25, by the calendar."""
    assert years([text]) == pytest.approx([24.0])


def test_a_time_that_is_missing_is_not_a_number():
    assert np.isnan(years(["", None])).all()
