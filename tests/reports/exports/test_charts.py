"""A chart is a real picture: axes, units, marks that differ by shape, words for those who hear it."""

import xml.etree.ElementTree as ET
from datetime import date, datetime
from io import StringIO

import pytest
from svglib.svglib import svg2rlg

from reports.exports.charts import Band, Epoch, Series, time_chart

LIFT = [(datetime(2024, 3, 4), 18.2), (datetime(2024, 9, 1), 16.0), (datetime(2025, 3, 1), 12.9)]


def drawn(*series: Series, **options) -> ET.Element:
    chart = time_chart("Condensing lift", "K", series or [Series("lift", LIFT)], **options)
    return ET.fromstring(chart.replace('xmlns="http://www.w3.org/2000/svg" ', ""))


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
    days = [Epoch(date(2024, 6, day), "batteries renewed") for day in (1, 2, 3, 4)]
    places = [
        (text.get("x"), text.get("y"))
        for text in drawn(epochs=days).iter("text")
        if text.text == "batteries renewed"
    ]
    assert len({y for _x, y in places}) == len(places) == 3


def test_a_band_is_drawn_and_named():
    svg = drawn(band=Band(17, 19, "its first readings"))
    assert "its first readings" in words(svg)
    assert len(list(svg.iter("rect"))) == 2


def test_it_can_be_heard():
    svg = drawn(description="three points, falling")
    assert svg.get("role") == "img"
    assert svg.find("title").text == "Condensing lift"
    assert svg.find("desc").text == "three points, falling"


def test_no_text_of_a_record_becomes_markup():
    chart = time_chart("a <b> & c", "K", [Series("<i>", LIFT)], epochs=[])
    assert "<b>" not in chart
    assert ET.fromstring(chart) is not None


def test_a_strict_page_accepts_it():
    chart = time_chart("Lift", "K", [Series("lift", LIFT)])
    assert "style" not in chart
    assert "script" not in chart


def test_one_point_is_a_chart_too():
    assert len(list(drawn(Series("lift", LIFT[:1])).iter("circle"))) == 1


def test_a_chart_without_points_is_refused():
    with pytest.raises(ValueError, match="at least one point"):
        time_chart("Lift", "K", [Series("lift", [])])


def test_more_series_than_shapes_are_refused():
    with pytest.raises(ValueError, match="marks for 3 series"):
        time_chart("Lift", "K", [Series("lift", LIFT)] * 4)


def test_a_printed_page_draws_the_same_picture():
    chart = time_chart("Lift", "K", [Series("lift", LIFT)], font="Helvetica")
    drawing = svg2rlg(StringIO(chart))
    # 96 px and 72 pt to the inch, by the CSS and PDF standards.
    assert (drawing.width, drawing.height) == (380 * 0.75, 250 * 0.75)
