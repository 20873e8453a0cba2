"""Pictures of routes: to scale, well formed, with words for whoever does not see them."""

import re
import xml.etree.ElementTree as ElementTree

import pytest
from defusedxml.ElementTree import fromstring
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.physics.geodesy import great_circle_km
from servicedesk.charts.lanes import Axis, LaneStop, Span, axis_for, hours_of, lane
from servicedesk.charts.rounds import ChartPlace, day_chart, straight_km

SHOP = ChartPlace(45.0, -93.0, "Shop", is_water=False)
WEST, NORTH = ChartPlace(45.0, -93.2, "Quill Mere"), ChartPlace(45.2, -93.0, "Tern & Basin")


def parts(svg, tag, kind=None):
    root = fromstring(svg)
    return [e for e in root.iter(tag) if kind is None or kind in e.get("class", "").split()]


def percent(element, name):
    return float(element.get(name).removesuffix("%"))


def test_stop_stands_to_scale_in_its_lane():
    svg = lane(Axis(8, 18), words="Monday", stops=[LaneStop(1, 9 * 60, 10 * 60 + 30)])

    (box,) = parts(svg, "rect", "stop")
    assert (percent(box, "x"), percent(box, "width")) == (10.0, 15.0)


def test_lane_draws_the_end_of_the_paid_day_the_drive_and_the_break():
    svg = lane(
        Axis(8, 18),
        words="Monday",
        shift=Span(480, 16 * 60),
        away=Span(480, 17 * 60),
        lunch=Span(720, 750),
    )

    (end,), (drive,), (lunch,) = (
        parts(svg, "line", "end"),
        parts(svg, "line", "drive"),
        parts(svg, "rect", "lunch"),
    )
    assert percent(end, "x1") == 80.0
    assert (percent(drive, "x1"), percent(drive, "x2")) == (0.0, 90.0)
    assert (percent(lunch, "x"), percent(lunch, "width")) == (40.0, 5.0)


def test_overdue_stop_has_a_shape_not_only_a_colour():
    svg = lane(Axis(8, 18), words="Monday", stops=[LaneStop(1, 540, 600, late=True)])

    assert parts(svg, "path", "over")


def test_stop_at_which_somebody_is_met_has_a_bar_and_says_whom():
    svg = fromstring(
        lane(Axis(8, 18), words="Monday", stops=[LaneStop(1, 540, 600, meets="Meets Wen < at 9")])
    )

    (title,) = [one.text for one in svg.iter() if one.tag.endswith("title")]
    assert title == "Meets Wen < at 9"
    assert [one.get("class") for one in svg.iter()].count("meets") == 1


def test_lane_says_in_words_what_it_shows():
    assert fromstring(lane(Axis(8, 18), words="Monday: 2 < 3")).get("aria-label") == "Monday: 2 < 3"


def test_axis_covers_the_earliest_and_the_latest():
    assert axis_for([]) == Axis(7, 18)
    assert axis_for([Span(5 * 60 + 30, 19 * 60 + 10)]) == Axis(5, 20)
    assert [e.text for e in parts(hours_of(Axis(7, 10)), "text")] == ["8", "9"]


def test_chart_puts_north_up_and_west_left():
    svg = day_chart(SHOP, [WEST, NORTH], title="Monday")

    (home,) = parts(svg, "rect", "home")
    west, north = parts(svg, "circle", "dot")
    home_x, home_y = float(home.get("x")) + 9, float(home.get("y")) + 9
    assert float(west.get("cx")) < home_x
    assert float(north.get("cy")) < home_y
    assert float(west.get("cy")) == pytest.approx(home_y, abs=0.1)


@pytest.mark.parametrize(("unit", "unit_km"), [("km", 1), ("mi", 1.609344)])  # NIST SP 811
def test_scale_bar_fits_the_distance_on_the_paper(unit, unit_km):
    svg = day_chart(SHOP, [WEST], title="Monday", unit=unit)
    (home,), (dot,) = parts(svg, "rect", "home"), parts(svg, "circle", "dot")
    paper = float(home.get("x")) + 9 - float(dot.get("cx"))
    km = float(great_circle_km(45.0, -93.0, 45.0, -93.2))
    bar = re.search(r"M44 520h([\d.]+)v5", svg)
    shown = next(e.text for e in parts(svg, "text", "deg") if e.text.endswith(f" {unit}"))

    shown_km = float(shown.removesuffix(f" {unit}")) * unit_km
    assert float(bar[1]) / paper == pytest.approx(shown_km / km, rel=0.01)


def test_legs_bear_their_straight_kilometres():
    svg = day_chart(SHOP, [WEST], title="Monday")

    assert {e.text for e in parts(svg, "text", "km")} == {"15.7"}  # 0.2 degrees at 45 north
    svg = day_chart(SHOP, [WEST], title="Monday", unit="mi")
    assert {e.text for e in parts(svg, "text", "km")} == {"9.8"}  # 15.73 km
    assert straight_km(SHOP, [WEST]) == pytest.approx(31.45, abs=0.01)


def test_chart_names_the_order_for_whoever_does_not_see_it():
    svg = day_chart(SHOP, [WEST, NORTH], title="Chart of Monday")

    assert parts(svg, "title")[0].text == "Chart of Monday"
    assert "Quill Mere, Tern & Basin, and back" in parts(svg, "desc")[0].text
    assert fromstring(svg).get("aria-labelledby") == "ct cd"


def test_only_water_is_set_as_water():
    shed = ChartPlace(45.1, -93.1, "Shed", is_water=False)
    svg = day_chart(SHOP, [WEST, shed], title="Monday")

    assert [e.text for e in parts(svg, "text", "name")] == ["Quill Mere"]
    assert len(parts(svg, "circle", "pond")) == 1


spots = st.tuples(st.floats(-85, 85), st.floats(-179, 179))


@settings(max_examples=60, deadline=None)
@given(spots, st.lists(st.tuples(st.floats(0, 0.9), st.floats(0, 0.9)), max_size=12))
def test_chart_of_any_round_is_well_formed_and_stays_on_its_sheet(home, steps):
    places = [ChartPlace(home[0] + a, min(180, home[1] + b), "Mere") for a, b in steps]
    svg = day_chart(ChartPlace(*home, "Shop", is_water=False), places, title="Monday")

    assert "nan" not in svg
    assert "style" not in svg
    for dot in parts(svg, "circle", "dot"):
        assert 24 <= float(dot.get("cx")) <= 496
        assert 24 <= float(dot.get("cy")) <= 536


def test_all_stops_at_one_place_are_still_a_chart():
    svg = day_chart(SHOP, [SHOP, SHOP], title="Monday")

    assert isinstance(fromstring(svg), ElementTree.Element)
