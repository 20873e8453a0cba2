"""The chart of a reading is well-formed, says itself in words and carries no style of its own."""

from datetime import date
from xml.etree import ElementTree

import pytest

from equipment.charts import Band, Mark, Point, Trend, reading_chart, small_charts

POINTS = [
    Point(date(2026, 1, 10), 6.1),
    Point(date(2026, 4, 2), 6.8),
    Point(date(2026, 4, 2), 6.2, as_left=True),
    Point(date(2026, 9, 30), 7.4),
]
SVG = "{http://www.w3.org/2000/svg}"


def chart(points=POINTS, **options):
    return ElementTree.fromstring(reading_chart(points, name="Pressure", unit="psi", **options))


def test_chart_says_itself_in_words():
    found = chart()

    assert found.get("role") == "img"
    assert found.find(f"{SVG}title").text == "Pressure, psi"
    assert found.find(f"{SVG}desc").text == (
        "4 readings from 10 January 2026 to 30 September 2026: "
        "first 6.1, last 7.4, lowest 6.1, highest 7.4 psi."
    )


def test_rings_are_found_and_dots_are_left():
    kinds = [circle.get("class") for circle in chart().iter(f"{SVG}circle")]

    assert kinds == ["found", "found", "left", "found"]


def test_higher_values_and_later_days_lie_where_they_should():
    rings = [c for c in chart().iter(f"{SVG}circle") if c.get("class") == "found"]
    assert [float(c.get("cx")) for c in rings] == sorted(float(c.get("cx")) for c in rings)
    heights = [float(c.get("cy")) for c in rings]
    assert heights == sorted(heights, reverse=True)


def test_page_gives_the_colours_and_an_export_brings_its_own():
    assert "style" not in reading_chart(POINTS, name="Pressure", unit="psi")
    assert chart(export=True).find(f"{SVG}style") is not None


def test_normal_band_is_drawn_where_there_is_one():
    assert list(chart().iter(f"{SVG}rect")) == []
    band = next(chart(bands=[Band(date(2026, 1, 1), 6.0, 7.0)]).iter(f"{SVG}rect"))
    assert float(band.get("height")) > 0


def test_band_steps_where_the_configuration_changes():
    steps = [Band(date(2026, 1, 1), 6.0, 7.0), Band(date(2026, 6, 1), 3.0, 4.0, confirmed=False)]
    found = chart(bands=steps)
    first, second = found.iter(f"{SVG}rect")

    right = float(first.get("x")) + float(first.get("width"))
    assert right == pytest.approx(float(second.get("x")), abs=0.2)
    assert float(second.get("y")) > float(first.get("y"))  # the lower band lies lower
    assert (first.get("class"), second.get("class")) == ("band", "band asked")
    assert "Normal 6.0 to 7.0 psi from 1 January 2026." in found.find(f"{SVG}desc").text
    said = "Expected, not yet confirmed, 3.0 to 4.0 psi from 1 June 2026."
    assert said in found.find(f"{SVG}desc").text


def test_no_line_joins_readings_of_two_gauges_or_configurations():
    points = [
        Point(date(2026, month, 1), 6.0 + month / 10, series="old" if month < 4 else "new")
        for month in range(1, 7)
    ]
    lines = list(chart(points).iter(f"{SVG}polyline"))

    assert [len(line.get("points").split()) for line in lines] == [3, 3]


def test_changes_are_numbered_in_the_picture_and_told_in_its_words():
    marks = [
        Mark(date(2026, 3, 1), "configuration", "plates moved shallow"),
        Mark(date(2026, 5, 1), "gauge", "new gauge, 0 to 15 psi"),
        Mark(date(2026, 4, 2), "visit", "visit"),
        Mark(date(2026, 1, 20), "baseline", "baseline", value=6.2),
    ]
    found = chart(marks=marks)

    upright = [line for line in found.iter(f"{SVG}line") if "mark" in line.get("class")]
    assert [line.get("class") for line in upright] == ["mark configuration", "mark gauge"]
    assert {"1", "2"} <= {text.text for text in found.iter(f"{SVG}text")}
    assert sum(line.get("class") == "visit" for line in found.iter(f"{SVG}line")) == 1
    assert [rect.get("class") for rect in found.iter(f"{SVG}rect")] == ["baseline"]
    assert "1 May 2026: new gauge, 0 to 15 psi." in found.find(f"{SVG}desc").text


def test_drift_is_drawn_with_its_interval_up_to_where_it_crosses_the_limit():
    trend = Trend(
        date(2026, 1, 10), date(2026, 9, 30), 6.1, 7.4, 7.1, 7.7, 7.9,
        date(2026, 12, 1), date(2027, 3, 1),
    )  # fmt: skip
    found = chart(trend=trend)
    box = next(rect for rect in found.iter(f"{SVG}rect") if rect.get("class") == "crossing")
    limit = next(line for line in found.iter(f"{SVG}line") if line.get("class") == "limit")

    last_ring = max(float(c.get("cx")) for c in found.iter(f"{SVG}circle"))
    assert float(box.get("x")) > last_ring  # the crossing lies ahead of the last reading
    assert float(box.get("y")) + 5 == pytest.approx(float(limit.get("y1")))
    said = "It reaches 7.9 psi between 1 December 2026 and 1 March 2027."
    assert said in found.find(f"{SVG}desc").text


def test_small_charts_of_the_lines_share_one_scale():
    low = [Point(date(2026, month, 1), 3.0) for month in (1, 2)]
    high = [Point(date(2026, month, 1), 9.0) for month in (1, 2)]
    drawn = [
        ElementTree.fromstring(svg)
        for svg in small_charts([("D1", low, ()), ("D2", high, ()), ("D3", [], ())], unit="psi")
    ]

    scales = [[text.text for text in one.iter(f"{SVG}text")][:5] for one in drawn]
    assert len(drawn) == 2  # a line that was never read has no chart
    assert scales[0] == scales[1]


@pytest.mark.parametrize("value", [0, 0.004, 6.5, 150, 120_000])
def test_equal_values_on_one_day_still_make_a_chart(value):
    assert list(chart([Point(date(2026, 1, 1), value)] * 2).iter(f"{SVG}circle"))


def test_name_from_outside_cannot_leave_its_place():
    svg = reading_chart(POINTS, name="<script>", unit="psi")

    assert "<script>" not in svg
