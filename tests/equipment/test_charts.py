"""The chart of a reading is well-formed, says itself in words and carries no style of its own."""

from datetime import date
from xml.etree import ElementTree

import pytest

from equipment.charts import Point, reading_chart

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
    band = next(chart(band=(6.0, 7.0)).iter(f"{SVG}rect"))
    assert float(band.get("height")) > 0


@pytest.mark.parametrize("value", [0, 0.004, 6.5, 150, 120_000])
def test_equal_values_on_one_day_still_make_a_chart(value):
    assert list(chart([Point(date(2026, 1, 1), value)] * 2).iter(f"{SVG}circle"))


def test_name_from_outside_cannot_leave_its_place():
    svg = reading_chart(POINTS, name="<script>", unit="psi")

    assert "<script>" not in svg
