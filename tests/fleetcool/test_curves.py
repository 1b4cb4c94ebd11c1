"""A curve is a real picture: its band, its point and its limit lie where the numbers say."""

import xml.etree.ElementTree as ET
from io import StringIO

import pytest
from svglib.svglib import svg2rlg

from fleetcool.curves import Curve, curve_chart

SVG = "{http://www.w3.org/2000/svg}"
STRAIGHT = Curve(
    title="Hours <against> cutoff",
    x_title="cutoff, V",
    x=[10, 11, 12],
    low=[8, 6, 4],
    middle=[10, 8, 6],
    high=[12, 10, 8],
    asked=(11, 8),
    limit=8,
    words=("hours", "band", "as asked", "wanted"),
    description="It falls.",
)


def drawn(curve: Curve) -> ET.Element:
    return ET.fromstring(curve_chart(curve))


def places(element: ET.Element) -> list[tuple[float, ...]]:
    return [tuple(map(float, place.split(","))) for place in element.get("points").split()]


def line_of(chart: ET.Element) -> list[tuple[float, ...]]:
    return next(
        places(path) for path in chart.iter(f"{SVG}polyline") if path.get("stroke-width") == "1.8"
    )


def test_the_point_asked_about_lies_on_the_curve_and_on_the_limit():
    chart = drawn(STRAIGHT)
    point = next(chart.iter(f"{SVG}circle"))
    limit = next(line for line in chart.iter(f"{SVG}line") if line.get("stroke-dasharray"))
    assert (float(point.get("cx")), float(point.get("cy"))) == line_of(chart)[1]
    assert limit.get("y1") == limit.get("y2") == point.get("cy")


def test_more_hours_are_higher_and_more_volts_further_right():
    line = line_of(drawn(STRAIGHT))
    assert line == sorted(line)
    assert [y for _x, y in line] == sorted(y for _x, y in line)


def test_the_band_goes_out_along_the_high_end_and_back_along_the_low():
    band = places(next(drawn(STRAIGHT).iter(f"{SVG}polygon")))
    assert len(band) == 6
    assert all(high[1] < low[1] for high, low in zip(band[:3], reversed(band[3:]), strict=True))


def test_it_says_in_words_what_it_shows():
    chart = drawn(STRAIGHT)
    assert chart.get("role") == "img"
    assert chart.find(f"{SVG}title").text == "Hours <against> cutoff"
    assert chart.find(f"{SVG}desc").text == "It falls."
    told = [text.text for text in chart.iter(f"{SVG}text")]
    assert {"cutoff, V", *STRAIGHT.words} <= set(told)


def test_long_words_of_the_legend_get_a_row_of_their_own():
    long = STRAIGHT._replace(words=("a curve with a long name to it",) * 4)
    assert int(drawn(long).get("height")) > int(drawn(STRAIGHT).get("height"))


def test_a_strict_page_and_a_printed_one_accept_it():
    chart = curve_chart(STRAIGHT)
    assert "style" not in chart
    assert svg2rlg(StringIO(chart)).width > 0


def test_a_curve_of_one_point_is_refused():
    with pytest.raises(ValueError, match="at least two points"):
        curve_chart(STRAIGHT._replace(x=[10]))
