"""A finding in plain words, as an office would read it aloud to a driver's boss."""

from datetime import date

import pytest

from fleetcool.models import UnitSystem
from reports import wording
from reports.analysis.features import FEATURES
from reports.models import Cause, Finding, ForecastEvent, ScreenRun
from tests.factories import FindingFactory

SI, US = UnitSystem.SI, UnitSystem.US


def finding(**changes) -> Finding:
    run = ScreenRun(as_of=date(2025, 9, 1))
    return FindingFactory.build(**{"run": run} | changes)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def evidence(feature: str, baseline: float | None, now: float, n: int = 7) -> dict:
    return {
        "feature": feature,
        "baseline": baseline,
        "now": now,
        "slope_per_year": None if baseline is None else now - baseline,
        "n": n,
    }


def test_why_is_one_sentence_with_the_numbers_and_the_months():
    assert plain(wording.why(finding(), SI)) == (
        "Condensing lift fell from 18.2 K to 12.9 K while evaporating depression rose from "
        "17.0 K to 23.5 K, over 7 readings since February 2025; at this pace the charge falls "
        "below 80 % between October 2025 and February 2026."
    )


def test_a_difference_in_fahrenheit_carries_no_offset():
    # 18.2 K x 1.8 = 32.76 °F: the definition of the two degrees.
    assert "fell from 32.8 °F to 23.2 °F" in plain(wording.why(finding(), US))


def test_a_tired_bank_counts_nights_and_readings_apart():
    worn = finding(
        cause=Cause.BATTERY_WEAR,
        evidence=[
            evidence("bank_capacity_ah", 250, 180, n=40),
            evidence("rest_v", 12.72, 12.7, n=6),
        ],
        forecast_event=ForecastEvent.BANK,
    )
    assert plain(wording.why(worn, US)) == (
        "Bank capacity seen overnight fell from 250 Ah to 180 Ah while rest voltage of a 12 V "
        "block stayed near 12.70 V, over 6 readings and 40 nights since February 2025; at this "
        "pace the bank's night at low output falls below 8 h between October 2025 and "
        "February 2026."
    )


def test_refrigerant_added_in_service_is_told_as_a_rate():
    leak = finding(evidence=[evidence("added_percent_per_year", None, 21.6, n=2)])
    assert "Refrigerant was added at 22 % of the charge a year" in plain(wording.why(leak, US))


def test_a_doubtful_gauge_is_named_with_the_units_it_touched():
    gauge = finding(
        unit=None,
        gauge="G4",
        touched=["S-1", "S-2"],
        cause=Cause.DOUBTFUL_INSTRUMENT,
        evidence=[evidence("gauge_bias_kpa", 0, -55.0, n=9)],
        since=None,
        forecast_on=None,
    )
    assert plain(wording.why(gauge, SI)) == (
        "Gauge G4: it reads 55 kPa too low against other gauges, over 9 readings; "
        "it was used on S-1, S-2."
    )


def test_a_forecast_that_has_come_is_said_as_of_now():
    late = finding(
        forecast_low=date(2025, 5, 1), forecast_on=date(2025, 6, 1), forecast_high=date(2025, 8, 1)
    )
    assert wording.forecast_text(late) == "the charge is most likely below 80 % already"


def test_a_forecast_within_one_month_names_it_once():
    soon = finding(
        forecast_low=date(2025, 11, 1),
        forecast_on=date(2025, 11, 9),
        forecast_high=date(2025, 11, 30),
    )
    assert wording.forecast_text(soon).endswith("falls below 80 % in November 2025")


def test_without_a_forecast_nothing_is_promised():
    assert wording.forecast_text(finding(forecast_on=None)) == ""


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.999, "99 %, nearly sure"),
        (0.97, "97 %, nearly sure"),
        (0.85, "85 %, likely"),
        (0.6, "60 %, more likely than not"),
        (0.3, "30 %, possible"),
    ],
)
def test_a_probability_is_a_number_and_words_and_never_certain(probability, words):
    assert plain(wording.how_sure(probability)) == words


def test_every_feature_has_a_name_and_makes_a_sentence():
    for name in FEATURES:
        sentence = wording.why(finding(evidence=[evidence(name, 10.0, 20.0)]), SI)
        assert wording.feature_label(name) and sentence[0].isupper() and sentence.endswith(".")


def test_evidence_rows_give_the_slope_with_a_true_minus_and_a_unit():
    rows = wording.evidence_rows(finding(), SI)
    assert plain(rows[0]["slope_per_year"]) == "−6.1 K"
    assert rows[0]["n"] == 7


def test_a_unit_seen_in_two_trucks_is_told_by_the_truck_with_more_readings():
    moved = finding(
        evidence=[
            evidence("condensing_lift_k", 18.0, 14.0, n=3),
            evidence("condensing_lift_k", 17.0, 12.0, n=6),
        ]
    )
    assert "fell from 17.0 K to 12.0 K, over 6 readings" in plain(wording.why(moved, SI))
    assert len(wording.evidence_rows(moved, SI)) == 1


def test_what_moved_is_said_before_what_stayed():
    blocked = finding(
        cause=Cause.RESTRICTION,
        evidence=[
            evidence("condensing_lift_k", 18.0, 18.2),
            evidence("evaporating_depression_k", 17.0, 24.0),
        ],
    )
    assert plain(wording.why(blocked, SI)).startswith(
        "Evaporating depression rose from 17.0 K to 24.0 K while condensing lift stayed near 18.2 K"
    )


def test_a_third_of_a_volt_is_a_fall_at_rest():
    tired = finding(evidence=[evidence("rest_v", 12.84, 12.55)])
    assert "fell from 12.84 V to 12.55 V" in plain(wording.why(tired, SI))


def test_a_trend_that_the_newest_readings_hide_is_told_as_a_rate():
    fouled = finding(evidence=[evidence("condensing_lift_k", 15.6, 15.6) | {"slope_per_year": 3.0}])
    assert "Condensing lift, now 15.6 K, rises by 3.0 K a year" in plain(wording.why(fouled, SI))


def test_a_bound_decades_away_is_no_date():
    slow = finding(forecast_high=date(2120, 1, 1))
    assert wording.forecast_text(slow).endswith("falls below 80 % some time after October 2025")


def test_a_forecast_that_may_have_come_already_names_its_end_only():
    near = finding(forecast_low=date(2025, 8, 1))
    assert wording.forecast_text(near).endswith("falls below 80 % by February 2026")


def test_right_after_a_filling_the_loss_is_told_as_a_rate():
    filled = finding(evidence=[evidence("charge_missing_percent", 0, 0) | {"slope_per_year": 14.6}])
    assert plain(wording.why(filled, SI)).startswith("About 15 % of the charge is lost a year")


def test_no_finding_is_told_as_certain():
    assert plain(wording.how_sure(0.99999)) == "99 %, nearly sure"
    assert wording.told_probability(0.99999) == 0.99
    assert wording.told_probability(0.97) == 0.97
