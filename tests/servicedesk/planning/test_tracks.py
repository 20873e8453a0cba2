"""A round as GeoJSON and as GPX, held to what the two standards ask."""

import json
from datetime import UTC, datetime
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.tracks import GPX, Halt, Round, day_geojson, day_gpx

AT = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
START = Halt("Shop", 44.9, -93.2)
STOP = Halt("Mill & Lane <east>", 44.95, -93.0, "Filter change", AT, AT.replace(hour=15), 1)
ROUND = Round("Dario, 2026-11-25", START, (STOP,), 21.4, 40)

# GPX 1.1 schema (gpx.xsd, 2004-08-09), the order of elements in wptType, rteType and metadataType
POINT_1 = ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym"]
POINT_2 = ["type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"]
POINT = POINT_1 + POINT_2
ROUTE = ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"]
META = ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"]
FILE = ["metadata", "wpt", "rte", "trk", "extensions"]
ORDERS = {"rtept": POINT, "rte": ROUTE, "metadata": META, "gpx": FILE}

# RFC 7946, section 1.5: the example of a feature collection
RFC_EXAMPLE = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [102.0, 0.5]},
            "properties": {"prop0": "value0"},
        },
        {
            "type": "Feature",
            "geometry": {
                "type": "LineString",
                "coordinates": [[102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0]],
            },
            "properties": {"prop0": "value0", "prop1": 0.0},
        },
    ],
}


def is_position(found):
    longitude, latitude = found
    return -180 <= longitude <= 180 and -90 <= latitude <= 90


def geojson_faults(data):
    """What RFC 7946 (3.1.1 to 3.1.4, 3.2, 3.3) says against a collection of points and lines."""
    faults = []
    if data.get("type") != "FeatureCollection" or not isinstance(data.get("features"), list):
        return ["not a feature collection"]
    for feature in data["features"]:
        geometry = feature.get("geometry", "missing")
        if feature.get("type") != "Feature" or geometry == "missing":
            faults.append("a feature has a type and a geometry")
        if "properties" not in feature:
            faults.append("a feature has properties")
        places = geometry["coordinates"]
        if geometry["type"] == "Point":
            places = [places]
        elif len(places) < 2:
            faults.append("a line has two positions or more")
        faults += ["not a position" for place in places if not is_position(place)]
        if {"coordinates", "geometries", "geometry", "properties", "features"} & set(
            feature["properties"]
        ):
            faults.append("a name of the standard stands in the properties")
    return faults


def gpx_faults(text):
    """What the schema of GPX 1.1 says against a file, as far as routes use it."""
    root = ElementTree.fromstring(text.encode())
    faults = [] if root.tag == f"{{{GPX}}}gpx" else ["the root is gpx in its namespace"]
    if root.get("version") != "1.1" or not root.get("creator"):
        faults.append("version and creator are required")
    for node in root.iter():
        name = node.tag.removeprefix(f"{{{GPX}}}")
        if order := ORDERS.get(name):
            places = [order.index(child.tag.removeprefix(f"{{{GPX}}}")) for child in node]
            faults += [] if places == sorted(places) else [f"the order in {name}"]
        if name == "rtept":
            latitude, longitude = float(node.get("lat")), float(node.get("lon"))
            # latitudeType is -90 to 90, longitudeType -180 to below 180
            faults += [] if -90 <= latitude <= 90 and -180 <= longitude < 180 else ["place"]
    return faults


def test_checker_accepts_the_example_of_the_standard_and_refuses_its_opposite():
    assert geojson_faults(RFC_EXAMPLE) == []
    swapped = json.loads(json.dumps(RFC_EXAMPLE))
    swapped["features"][0]["geometry"]["coordinates"].reverse()
    assert geojson_faults(swapped) == ["not a position"]


def test_round_is_geojson_with_longitude_first_and_each_stop_a_point():
    data = json.loads(json.dumps(day_geojson(ROUND)))

    assert geojson_faults(data) == []
    point, legs = data["features"]
    assert point["geometry"] == {"type": "Point", "coordinates": [-93.0, 44.95]}
    assert point["properties"]["arrives_at"] == "2026-11-25T14:00:00Z"
    assert legs["geometry"]["coordinates"] == [[-93.2, 44.9], [-93.0, 44.95], [-93.2, 44.9]]
    assert legs["properties"]["straight_legs"] is True


def test_round_is_gpx_in_the_order_of_the_schema():
    text = day_gpx(ROUND)

    assert gpx_faults(text) == []
    points = ElementTree.fromstring(text.encode()).findall(f".//{{{GPX}}}rtept")
    assert [p.findtext(f"{{{GPX}}}name") for p in points] == [
        "Shop",
        "1 Mill & Lane <east>",
        "Shop",
    ]
    assert points[1].findtext(f"{{{GPX}}}time") == "2026-11-25T14:00:00Z"


def test_schema_check_finds_elements_in_the_wrong_order():
    text = day_gpx(ROUND).replace("<desc>", "<ele>").replace("</desc>", "</ele>")

    assert gpx_faults(text) == ["the order in rtept"]


@given(
    name=st.text(max_size=30),
    latitude=st.floats(-90, 90),
    longitude=st.floats(-180, 179.99),
)
def test_any_name_and_place_makes_files_that_can_be_read(name, latitude, longitude):
    surrogates = any("\ud800" <= letter <= "\udfff" for letter in name)
    if surrogates or "\ufffe" in name or "\uffff" in name:
        return
    halt = Halt(name, latitude, longitude, number=1)
    of = Round("Round", START, (halt,), 1, 1)

    assert gpx_faults(day_gpx(of)) == []
    assert geojson_faults(json.loads(json.dumps(day_geojson(of)))) == []


@pytest.mark.parametrize("control", ["\x00", "\x0b", "\x1f"])
def test_characters_that_xml_may_not_hold_are_left_out(control):
    of = Round("Round", Halt(f"Shop{control}", 1, 1), (), 1, 1)

    assert gpx_faults(day_gpx(of)) == []
