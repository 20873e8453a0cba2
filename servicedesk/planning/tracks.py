"""A day's round for other programs: GeoJSON for maps, GPX for what steers a van."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from xml.etree import ElementTree

GPX = "http://www.topografix.com/GPX/1/1"
MAKER = "Pond service desk"
DEGREES = 6  # decimals, about a decimetre


@dataclass(frozen=True)
class Halt:
    """A place of a round: where it begins and ends, or a stop with its times."""

    name: str
    latitude: float
    longitude: float
    words: str = ""
    arrives_at: datetime | None = None
    leaves_at: datetime | None = None
    number: int | None = None


@dataclass(frozen=True)
class Round:
    """A technician's day in order, from its start and back to it."""

    name: str
    start: Halt
    stops: tuple[Halt, ...]
    drive_km: float
    drive_min: int


def day_geojson(of: Round) -> dict[str, Any]:
    """A round as a collection of features: each stop a point, the legs one line.

    of: the round.
    Returns what JSON can hold. Positions are longitude before latitude; the legs are straight
    lines between the stops, which a property says.
    Source: RFC 7946 (2016), 3.1 to 3.3.
    """
    halts = [of.start, *of.stops, of.start]
    legs = {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": [_position(halt) for halt in halts]},
        "properties": {
            "name": of.name,
            "straight_legs": True,
            "drive_km_by_road": of.drive_km,
            "drive_min": of.drive_min,
        },
    }
    return {"type": "FeatureCollection", "features": [*map(_feature, of.stops), legs]}


def _feature(halt: Halt) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": _position(halt)},
        "properties": {
            "number": halt.number,
            "name": halt.name,
            "work": halt.words,
            "arrives_at": _instant(halt.arrives_at),
            "leaves_at": _instant(halt.leaves_at),
        },
    }


def _position(halt: Halt) -> list[float]:
    return [round(halt.longitude, DEGREES), round(halt.latitude, DEGREES)]


def _instant(at: datetime | None) -> str | None:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ") if at else None


def day_gpx(of: Round) -> str:
    """A round as a GPX route, to be followed by a navigation device.

    of: the round.
    Returns the file's text, in UTF-8 once encoded.
    Source: GPX 1.1 schema, gpx.xsd of 2004: gpxType, rteType and wptType with their orders.
    """
    ElementTree.register_namespace("", GPX)
    root = ElementTree.Element(f"{{{GPX}}}gpx", {"version": "1.1", "creator": MAKER})
    meta = ElementTree.SubElement(root, f"{{{GPX}}}metadata")
    _text(meta, "name", of.name)
    route = ElementTree.SubElement(root, f"{{{GPX}}}rte")
    _text(route, "name", of.name)
    for halt in (of.start, *of.stops, of.start):
        _route_point(route, halt)
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, "unicode") + "\n"


def _route_point(route: ElementTree.Element, halt: Halt) -> None:
    place = {
        "lat": f"{halt.latitude:.{DEGREES}f}",
        "lon": f"{halt.longitude:.{DEGREES}f}",
    }
    point = ElementTree.SubElement(route, f"{{{GPX}}}rtept", place)
    if halt.arrives_at:
        _text(point, "time", _instant(halt.arrives_at))
    _text(point, "name", f"{halt.number} {halt.name}" if halt.number else halt.name)
    if halt.words:
        _text(point, "desc", halt.words)


def _text(parent: ElementTree.Element, name: str, text: str | None) -> None:
    """One element; characters that no XML file may hold are left out."""
    kept = "".join(letter for letter in text or "" if letter >= " " or letter in "\t\n")
    ElementTree.SubElement(parent, f"{{{GPX}}}{name}").text = kept
