"""A chart is a real picture: axes, units, marks that differ by shape, words for those who hear it."""

import xml.etree.ElementTree as ET
from datetime import date, datetime
from io import StringIO

import pytest
from svglib.svglib import svg2rlg

from reports.exports.charts import Band, Chart, Epoch, Limit, Path, Series, Whisker
from reports.exports.svg import time_chart

LIFT = [(datetime(2024, 3, 4), 18.2), (datetime(2024, 9, 1), 16.0), (datetime(2025, 3, 1), 12.9)]


def drawn(*series: Series, **options) -> ET.Element:
    chart = Chart("Condensing lift", "K", series or [Series("lift", LIFT)], **options)
    return ET.fromstring(time_chart(chart).replace('xmlns="http://www.w3.org/2000/svg" ', ""))


def words(svg: ET.Element) -> list[str]:
    return [text.text for text in svg.iter("text")]


def test_the_title_names_the_unit():
    assert "Condensing lift, K" in words(drawn())


def test_value_ticks_are_round_and_enclose_the_points():
    assert words(drawn())[1:6] == ["12", "14", "16", "18", "20"]


def test_time_ticks_are_firsts_of_months():
    assert [word for word in words(drawn()) if word.startswith("20") and "-" in word] == [
        "2024-04",
        "2024-07",
        "2024-10",
        "2025-01",
    ]


def test_a_higher_value_stands_higher():
    heights = [float(mark.get("cy")) for mark in drawn().iter("circle")]
    assert heights == sorted(heights)


def test_two_series_differ_in_the_shape_of_their_marks_and_are_named():
    svg = drawn(Series("superheat", LIFT), Series("subcooling", LIFT[:2]))
    assert len(list(svg.iter("circle"))) == 3 + 1
    assert len(list(svg.iter("rect"))) == 2 + 1
    assert {"superheat", "subcooling"} <= set(words(svg))


def test_an_epoch_is_a_dashed_line_with_its_word():
    svg = drawn(epochs=[Epoch(date(2024, 6, 1), "topped up")])
    assert "topped up" in words(svg)
    assert [line for line in svg.iter("line") if line.get("stroke-dasharray")] != []


def test_words_of_close_epochs_do_not_stand_on_one_another():
    days = [Epoch(date(2024, 6, day), "batteries renewed") for day in (1, 2, 3, 4, 5)]
    places = [
        (text.get("x"), text.get("y"))
        for text in drawn(epochs=days).iter("text")
        if text.text == "batteries renewed"
    ]
    assert len({y for _x, y in places}) == len(places) == 4


def test_a_band_is_drawn_and_named():
    svg = drawn(bands=[Band(17, 19, "its first readings")])
    assert "its first readings" in words(svg)
    assert len(list(svg.iter("rect"))) == 2


def test_bands_of_one_word_are_named_once_and_end_where_they_say():
    low = Band(17, 19, "expected", date(2024, 3, 4), date(2024, 9, 1))
    svg = drawn(bands=[low, Band(12, 14, "expected", date(2024, 9, 1), date(2025, 3, 1))])
    assert words(svg).count("expected") == 1
    first, second = [float(rect.get("x")) for rect in svg.iter("rect")][:2]
    assert first < second


def test_a_band_has_edges_that_a_printer_cannot_lose():
    svg = drawn(bands=[Band(17, 19, "expected")])
    assert [path for path in svg.iter("path") if path.get("stroke-width") == "0.6"] != []


def test_a_point_of_little_weight_is_hollow_and_the_legend_says_why():
    slipped = Series("lift", LIFT, hollow=[False, True, False])
    svg = drawn(slipped, hollow_word="given little weight")
    fills = [mark.get("fill") for mark in svg.iter("circle")]
    assert fills[:3].count("#ffffff") == 1
    assert "given little weight" in words(svg)


def test_points_are_joined_only_when_asked():
    assert len(list(drawn(Series("lift", LIFT, joined=True)).iter("polyline"))) == 1
    assert list(drawn(Series("lift", LIFT, joined=False)).iter("polyline")) == []


def test_refrigerant_put_in_is_a_triangle_on_its_line():
    svg = drawn(epochs=[Epoch(date(2024, 6, 1), "topped up 85 g", "added")])
    assert len(list(svg.iter("polygon"))) == 1


def test_the_days_that_matter_differ_in_the_dashes_of_their_lines():
    shapes = ("break", "tool", "onset", "now")
    svg = drawn(epochs=[Epoch(date(2024, 4 + n, 1), s, s) for n, s in enumerate(shapes)])
    upright = [line for line in svg.iter("line") if line.get("x1") == line.get("x2")]
    tall = [line for line in upright if float(line.get("y2")) - float(line.get("y1")) > 50]
    assert len({line.get("stroke-dasharray") for line in tall}) == len(shapes)


def test_the_onset_has_its_word_before_all_others():
    crowd = [Epoch(date(2024, 6, day), "batteries renewed") for day in range(1, 9)]
    assert "since June" in words(
        drawn(epochs=[*crowd, Epoch(date(2024, 6, 5), "since June", "onset")])
    )


def test_a_forecast_is_a_path_to_a_named_limit_with_a_whisker():
    svg = drawn(
        paths=[
            Path("reckoned", LIFT),
            Path("expected", [LIFT[-1], (datetime(2025, 9, 1), 10.0)], ahead=True),
        ],
        limit=Limit(10.0, "the limit"),
        whisker=Whisker(
            datetime(2025, 7, 1), datetime(2025, 9, 1), datetime(2026, 1, 1), 10.0, "90 % sure"
        ),
    )
    assert {"reckoned", "expected", "the limit", "90 % sure"} <= set(words(svg))
    dashed = [line.get("stroke-dasharray") for line in svg.iter("polyline")]
    assert "6 3" in dashed and None in dashed


def test_a_whisker_alone_is_a_chart():
    at = datetime(2025, 9, 1)
    chart = Chart("Charge", "%", whisker=Whisker(at, at, at, 80.0, "by then"))
    assert "by then" in time_chart(chart)


def test_every_word_stays_inside_the_picture():
    epochs = [Epoch(date(2025, 3, 1), "moved to another truck")]
    svg = drawn(epochs=epochs, bands=[Band(17, 19, "expected: 90 % of readings while sound")])
    for text in svg.iter("text"):
        width = len(text.text) * 6.2 * float(text.get("font-size")) / 12
        start = (
            float(text.get("x"))
            - {"start": 0, "middle": width / 2, "end": width}[text.get("text-anchor")]
        )
        assert start >= 0 and start + width <= 380 + 1, text.text


def test_value_labels_are_never_rounded_to_another_value():
    half = [(datetime(2024, 3, 4), 12.50), (datetime(2024, 9, 1), 12.59)]
    labels = [word for word in words(drawn(Series("volts", half)))[1:] if word.startswith("12.")]
    steps = {round(float(b) - float(a), 6) for a, b in zip(labels, labels[1:], strict=False)}
    assert labels and len(steps) == 1


def test_it_can_be_heard():
    svg = drawn(description="three points, falling")
    assert svg.get("role") == "img"
    assert svg.find("title").text == "Condensing lift"
    assert svg.find("desc").text == "three points, falling"


def test_no_text_of_a_record_becomes_markup():
    chart = time_chart(Chart("a <b> & c", "K", [Series("<i>", LIFT)]))
    assert "<b>" not in chart
    assert ET.fromstring(chart) is not None


def test_a_strict_page_accepts_it():
    chart = time_chart(Chart("Lift", "K", [Series("lift", LIFT)]))
    assert "style" not in chart
    assert "script" not in chart


def test_one_point_is_a_chart_too():
    assert len(list(drawn(Series("lift", LIFT[:1])).iter("circle"))) == 1


def test_a_chart_without_points_is_refused():
    with pytest.raises(ValueError, match="at least one point"):
        Chart("Lift", "K", [Series("lift", [])])


def test_more_series_than_shapes_are_refused():
    with pytest.raises(ValueError, match="marks for 3 series"):
        Chart("Lift", "K", [Series("lift", LIFT)] * 4)


def test_a_printed_page_draws_the_same_picture():
    chart = time_chart(Chart("Lift", "K", [Series("lift", LIFT)]), font="Helvetica")
    drawing = svg2rlg(StringIO(chart))
    # 96 px and 72 pt to the inch, by the CSS and PDF standards.
    assert (drawing.width, drawing.height) == (380 * 0.75, 250 * 0.75)
