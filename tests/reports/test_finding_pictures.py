"""A finding's picture: what the screen saw, in words and a person's units, beside what was read."""

import xml.etree.ElementTree as ET
from datetime import UTC, date, datetime, timedelta

import pytest
from django.template.loader import render_to_string

from fleetcool.models import UnitSystem
from reports.acts import screen_fleet
from reports.finding_pictures import finding_charts, finding_pictures
from reports.frames import moment_t
from reports.knowledge import years
from reports.models import Cause, Finding, ForecastEvent
from service.models import MovementKind, Reading
from tests.factories import (
    BatteryBankFactory,
    BatteryRenewalFactory,
    FindingFactory,
    InstallFactory,
    MovementFactory,
    OvernightFactory,
    ReadingFactory,
    ScreenRunFactory,
    TechnicianFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
)

AS_OF = date(2025, 9, 1)
FIRST = datetime(2024, 3, 4, 15, tzinfo=UTC)
TAKEN = [FIRST + timedelta(days=90 * n) for n in range(6)]
LIFT_K = [18.0, 18.5, 25.0, 17.5, 14.0, 12.0]


def t_of(moment: datetime) -> float:
    return float(years([moment])[0])


def leak_in(install, run, **changes) -> Finding:
    """A leak, seen at six readings of which the third was a slip; a charge is 520 g."""
    for number, at in enumerate(TAKEN):
        ReadingFactory(install=install, taken_at=at, kind="visit" if number else "commissioning")
    points = [
        [t_of(at), lift, 0.1 if number == 2 else 1.0]
        for number, (at, lift) in enumerate(zip(TAKEN, LIFT_K, strict=True))
    ]
    picture = {
        "features": [
            {
                "feature": "condensing_lift_k",
                "points": points,
                "bands": [[points[0][0], points[-1][0], 15.0, 20.0]],
            }
        ],
        "path": [
            [t_of(datetime(2025, 2, 1, tzinfo=UTC)), 1.0],
            [moment_t(run.as_of), 0.87],
            [t_of(datetime(2025, 11, 20, tzinfo=UTC)), 0.80],
        ],
    }
    return FindingFactory(install=install, run=run, **({"picture": picture} | changes))


@pytest.fixture
def run(db):
    return ScreenRunFactory(as_of=AS_OF)


@pytest.fixture
def install(frida):
    tractor = TractorFactory(customer=frida.customers.get(), truck_number="T-1")
    unit = UnitFactory(serial="K-7", model=UnitModelFactory(charge_g=520))
    made = InstallFactory(tractor=tractor, unit=unit)
    MovementFactory(install=made)
    return made


@pytest.fixture
def finding(install, run):
    return leak_in(install, run)


def drawn(finding, user, number=0):
    return finding_charts(finding, user, AS_OF)[number]


def words(epochs) -> list[str]:
    return [epoch.word.replace("\xa0", " ") for epoch in epochs]


def cells(drawn) -> list[str]:
    return [" | ".join(row).replace("\xa0", " ") for row in drawn.rows]


def test_every_value_stands_as_the_screen_sees_it(finding, frida):
    frida.unit_system = UnitSystem.SI
    (series,) = drawn(finding, frida).chart.series
    assert [value for _when, value in series.points] == LIFT_K
    assert drawn(finding, frida).chart.unit == "K"


def test_differences_follow_the_person(finding, frida):
    frida.unit_system = UnitSystem.US
    chart = drawn(finding, frida).chart
    # A difference of 18 K is 32.4 °F: 9/5, with no offset (NIST SP 811).
    assert chart.series[0].points[0][1] == pytest.approx(32.4)
    assert (chart.bands[0].low, chart.bands[0].high) == pytest.approx((27.0, 36.0))
    assert chart.unit == "°F"


def test_a_slip_is_hollow_and_the_numbers_say_so(finding, frida):
    (series,) = drawn(finding, frida).chart.series
    assert series.hollow == [False, False, True, False, False, False]
    assert "given 10 % of its weight, as a slip" in cells(drawn(finding, frida))[3]
    assert "1 point was given little weight, as a slip." in drawn(finding, frida).chart.description


def test_the_numbers_give_what_was_read_in_the_persons_units(finding, frida):
    # 1130 kPa is 163.9 psi and 30 °C is 86 °F: defined conversions, NIST SP 811.
    frida.unit_system = UnitSystem.US
    assert "discharge 163.9 psi, ambient 86.0 °F, gauge G1" in cells(drawn(finding, frida))[0]
    frida.unit_system = UnitSystem.SI
    assert "discharge 1130 kPa, ambient 30.0 °C, gauge G1" in cells(drawn(finding, frida))[0]


def test_the_plain_value_stands_beside_the_one_the_screen_sees(finding, frida):
    frida.unit_system = UnitSystem.SI
    header = drawn(finding, frida).header
    assert header[1:3] == ["As the screen sees it, K", "As read, K"]
    # R-134a at 1130 + 101.3 kPa condenses at 47.3 °C (CoolProp 8), 17.3 K above air of 30 °C.
    assert cells(drawn(finding, frida))[0].split(" | ")[1:3] == ["18.0", "17.3"]


def test_the_day_it_began_is_marked_and_told(finding, frida):
    chart = drawn(finding, frida).chart
    (onset,) = [epoch for epoch in chart.epochs if epoch.shape == "onset"]
    assert (onset.day, onset.word) == (date(2025, 2, 1), "since about 2025-02")
    assert "The trouble is believed to begin in February 2025." in chart.description


def test_what_was_done_to_the_circuit_is_marked_with_its_mass(install, finding, frida):
    MovementFactory(
        install=install,
        at=datetime(2025, 1, 7, 15, tzinfo=UTC),
        movement=MovementKind.ADDED,
        mass_g=85.0486,
    )
    MovementFactory(
        install=install,
        at=datetime(2025, 3, 7, 15, tzinfo=UTC),
        movement=MovementKind.RECOVERED,
        mass_g=100,
    )
    frida.unit_system = UnitSystem.US
    # 520 g = 18.3 oz, 85.0486 g = 3.0 oz, 100 g = 3.5 oz: 28.3495 g an ounce, NIST SP 811.
    epochs = drawn(finding, frida).chart.epochs
    assert {"charged 18.3 oz, installed", "topped up 3.0 oz", "recovered 3.5 oz"} <= {
        *words(epochs)
    }
    assert {e.word.split()[0] for e in epochs if e.shape == "added"} == {"topped"}


def test_a_move_and_another_gauge_are_marked(install, run, frida):
    finding = leak_in(install, run)
    install.removed_on = date(2025, 2, 20)
    install.save()
    other = TractorFactory(customer=frida.customers.get())
    InstallFactory(unit=install.unit, tractor=other, installed_on=date(2025, 2, 20))
    last = Reading.objects.latest("taken_at")
    last.gauge = "G8"
    last.save()
    epochs = drawn(finding, frida).chart.epochs
    assert "moved to another truck" in words(epochs)
    assert [(e.day, e.word) for e in epochs if e.shape == "tool"] == [
        (TAKEN[-1].date(), "gauge G8")
    ]


def test_a_bank_shows_its_renewals_and_the_nights_behind_each_month(install, run, frida):
    bank = BatteryBankFactory(tractor=install.tractor)
    BatteryRenewalFactory(bank=bank, at=datetime(2025, 3, 1, 12, tzinfo=UTC))
    nights = [datetime(2025, 6, day, 3, tzinfo=UTC) for day in (4, 5, 6)]
    for night, end_v in zip(nights, (11.9, 12.0, 12.4), strict=True):
        OvernightFactory(install=install, began_at=night, end_v=end_v)
    t = t_of(nights[1])
    ended = {
        "feature": "bank_capacity_ah",
        "points": [[t, 288.0, 1.0]],
        "bands": [[t, t, 300.0, 330.0]],
    }
    finding = FindingFactory(
        install=install, run=run, cause=Cause.BATTERY_WEAR, picture={"features": [ended]}
    )
    assert "median drawn in 3 nights" in " ".join(cells(drawn(finding, frida)))
    assert "288 | 200" in " ".join(cells(drawn(finding, frida)))
    renewal = datetime(2025, 5, 20, 12, tzinfo=UTC)
    BatteryRenewalFactory(bank=bank, at=renewal)
    assert "batteries renewed" in words(drawn(finding, frida).chart.epochs)


def test_the_forecast_is_a_whisker_on_a_named_limit(finding, frida):
    chart = drawn(finding, frida, -1).chart
    assert chart.title == "Charge by this finding"
    assert (chart.limit.value, chart.limit.word) == (80.0, "80 % of the nameplate charge")
    whisker = chart.whisker
    assert (whisker.low.date(), whisker.middle.date(), whisker.high.date()) == (
        finding.forecast_low,
        finding.forecast_on,
        finding.forecast_high,
    )
    assert whisker.word == "forecast 2025-11-20; 90 %: 2025-10-02 to 2026-02-01"
    assert "falls below 80 %" in chart.description


def test_what_is_reckoned_and_what_is_expected_meet_on_the_day_of_looking(finding, frida):
    so_far, ahead = drawn(finding, frida, -1).chart.paths
    assert (so_far.word, ahead.word) == ("reckoned so far", "expected")
    assert so_far.points[-1] == ahead.points[0]
    assert [round(value) for _when, value in ahead.points] == [87, 80]
    assert "today" in words(drawn(finding, frida, -1).chart.epochs)


def test_looked_at_later_the_forecast_still_starts_at_the_screening(finding, frida):
    chart = finding_charts(finding, frida, AS_OF + timedelta(days=40))[-1].chart
    assert (AS_OF, "screened") in [(epoch.day, epoch.word) for epoch in chart.epochs]


def test_a_forecast_with_no_end_in_sight_is_an_open_whisker(install, run, frida):
    finding = leak_in(install, run, forecast_on=date(2034, 1, 1), forecast_high=date(2125, 1, 1))
    chart = drawn(finding, frida, -1).chart
    assert chart.whisker.open_end and chart.whisker.middle is None
    assert chart.whisker.word == "forecast: 95 % sure not before 2025-10-02"
    assert chart.whisker.high.year < 2034
    assert "2125" not in " ".join(cells(drawn(finding, frida, -1)))


def test_a_bank_is_told_in_hours(install, run, frida):
    finding = leak_in(install, run, cause=Cause.BATTERY_WEAR, forecast_event=ForecastEvent.BANK)
    chart = drawn(finding, frida, -1).chart
    assert (chart.unit, chart.limit.value, chart.limit.word) == ("h", 8.0, "8 h at low output")


def test_without_a_forecast_none_is_drawn(install, run, frida):
    finding = leak_in(
        install, run, forecast_on=None, forecast_low=None, forecast_high=None, forecast_event=""
    )
    assert [one.chart.whisker for one in finding_charts(finding, frida, AS_OF)] == [None]


def test_a_finding_without_a_picture_has_none(install, run, frida):
    assert finding_pictures(FindingFactory(install=install, run=run), frida, AS_OF) == []


def test_another_fleets_time_with_the_unit_stays_its_own(install, run, frida, frank):
    finding = leak_in(install, run)
    install.removed_on = date(2025, 2, 1)
    install.save()
    truck = TractorFactory(customer=frank.customers.get())
    InstallFactory(unit=install.unit, tractor=truck, installed_on=date(2025, 2, 1))
    late = Reading.objects.filter(taken_at__gte=TAKEN[-2])
    late.update(tractor=truck, customer=truck.customer)
    (seen,) = drawn(finding, frank).chart.series
    assert len(seen.points) == 2
    assert "charged" not in " ".join(words(drawn(finding, frank).chart.epochs))
    (band,) = drawn(finding, frank).chart.bands
    assert band.first == TAKEN[-2].date()


def test_a_path_begins_no_sooner_than_a_fleets_own_time_with_the_unit(install, run, frank):
    finding = leak_in(install, run)
    install.removed_on = date(2025, 4, 1)
    install.save()
    truck = TractorFactory(customer=frank.customers.get())
    InstallFactory(unit=install.unit, tractor=truck, installed_on=date(2025, 4, 1))
    so_far, _ahead = drawn(finding, frank, -1).chart.paths
    assert [when.date() >= date(2025, 4, 1) for when, _value in so_far.points] == [True]


def test_a_gauge_is_shown_before_and_after_against_honest_ones(run, olga, frida):
    since = date(2025, 1, 1)
    off = [
        [t_of(at), 7.0 if at.date() >= since else 0.5, 1.0, f"S-{number}"]
        for number, at in enumerate(TAKEN)
    ]
    lift = {
        "feature": "condensing_lift_k",
        "points": off,
        "bands": [[off[0][0], off[-1][0], -2, 2]],
    }
    finding = FindingFactory(
        run=run,
        unit=None,
        tractor=None,
        customer=None,
        gauge="G9",
        since=since,
        cause=Cause.DOUBTFUL_INSTRUMENT,
        forecast_event="",
        forecast_on=None,
        picture={"features": [lift]},
    )
    olga.unit_system = UnitSystem.SI
    (only,) = finding_charts(finding, olga, AS_OF)
    assert only.chart.title == "Gauge G9: condensing lift"
    assert [(line.name, len(line.points)) for line in only.chart.series] == [
        ("before 2025-01", 4),
        ("from 2025-01 on", 2),
    ]
    assert only.rows[0][1:3] == ["S-0", "0.5"]
    assert finding_charts(finding, frida, AS_OF) == []


def part(finding, user) -> str:
    pictures = finding_pictures(finding, user, AS_OF)
    context = {"finding": finding, "pictures": pictures}
    return render_to_string("reports/parts/finding_picture.html", context).replace("\xa0", " ")


def test_the_page_has_pictures_with_words_and_the_numbers_below(finding, frida):
    page = part(finding, frida)
    for word in (
        "Condensing lift, °F",
        "<desc>Condensing lift: 6 points",
        "expected: 90 % of readings while sound",
        "since about 2025-02",
        "given little weight, as a slip",
        "forecast 2025-11-20",
        "Condensing lift: the numbers",
    ):
        assert word in page
    assert "style=" not in page and "<script" not in page


def test_every_picture_is_well_formed_and_can_be_heard(finding, frida):
    for picture in finding_pictures(finding, frida, AS_OF):
        svg = ET.fromstring(picture.svg)
        space = {"svg": "http://www.w3.org/2000/svg"}
        assert svg.find("svg:title", space).text and svg.find("svg:desc", space).text


def test_without_a_picture_the_page_says_when_there_will_be_one(install, run, frida):
    assert "the next screening keeps one" in part(FindingFactory(install=install, run=run), frida)


def test_pictures_cost_the_same_however_long_the_record(
    install, finding, frida, django_assert_max_num_queries
):
    with django_assert_max_num_queries(12) as few:
        finding_pictures(finding, frida, AS_OF)
    for day in range(1, 20):
        ReadingFactory(install=install, taken_at=datetime(2025, 1, day, tzinfo=UTC))
        OvernightFactory(install=install, began_at=datetime(2025, 1, day, tzinfo=UTC))
    with django_assert_max_num_queries(len(few.captured_queries)):
        finding_pictures(finding, frida, AS_OF)


def test_a_screening_keeps_what_the_pictures_need(frida, olga):
    """A shop of twenty sound units and one that loses charge from its second reading on."""
    model = UnitModelFactory(name="K9", refrigerant="R-134a")
    technician = TechnicianFactory()
    for unit in range(21):
        tractor = TractorFactory(customer=frida.customers.get())
        install = InstallFactory(tractor=tractor, unit=UnitFactory(model=model))
        MovementFactory(install=install)
        for number, at in enumerate(TAKEN):
            lost = 0 if unit else max(number - 1, 0)
            ReadingFactory(
                install=install,
                taken_at=at,
                kind="visit" if number else "commissioning",
                taken_by=technician,
                discharge_kpa=1130 - 75 * lost + (unit * 7 + number * 11) % 13,
                suction_kpa=310 - 32 * lost + (unit * 5 + number * 3) % 7,
            )
    screen_fleet(AS_OF)
    finding = Finding.objects.select_related("run").get(cause=Cause.REFRIGERANT_LEAK)
    titles = [one.chart.title for one in finding_charts(finding, frida, AS_OF)]
    assert titles[-1] == "Charge by this finding"
    assert {"Condensing lift", "Evaporating depression"} == set(titles[:-1])
    (band,) = drawn(finding, frida).chart.bands
    newest = drawn(finding, frida).chart.series[0].points[-1][1]
    assert not band.low <= newest <= band.high
