"""A day's round as a chart, as SVG: ponds in their places, legs with their length.

No style and no script: the classes take their colours from the page's style sheet.
"""

import math
from dataclasses import dataclass, field
from itertools import pairwise

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from equipment.physics import units
from equipment.physics.geodesy import great_circle_km

WIDTH, HEIGHT = 520, 560
LEFT, RIGHT, TOP, BOTTOM = 24, 496, 24, 536
ROOM = 64  # between the outermost place and the frame
STEPS_MIN = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120]
BARS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100]
DOT = 13
LABEL_PLACES = [  # from the middle of the place: right, down, and which end of the word is there
    (0, 38, "middle"),
    (0, -26, "middle"),
    (26, 5, "start"),
    (-26, 5, "end"),
    (20, 26, "start"),
    (20, -16, "start"),
    (-20, 26, "end"),
    (-20, -16, "end"),
]


@dataclass(frozen=True)
class ChartPlace:
    """A stop of the day, or the place where it begins and ends."""

    latitude: float
    longitude: float
    name: str
    is_water: bool = True
    area_m2: float | None = None


@dataclass
class _Sheet:
    """Where a coordinate lies on the paper, and which paper is taken already."""

    north: float
    west: float
    scale: float  # paper units a degree of latitude
    squeeze: float  # a degree of longitude over one of latitude
    unit: str  # km or mi, as the reader is used to
    taken: list = field(default_factory=list)

    def at(self, latitude: float, longitude: float) -> tuple[float, float]:
        x = LEFT + (longitude - self.west) * self.scale * self.squeeze
        y = TOP + (self.north - latitude) * self.scale
        return round(x, 1), round(y, 1)

    @property
    def south(self) -> float:
        return self.north - (BOTTOM - TOP) / self.scale

    @property
    def east(self) -> float:
        return self.west + (RIGHT - LEFT) / (self.scale * self.squeeze)

    @property
    def km(self) -> float:
        """Paper units a kilometre."""
        return self.scale / 111.195

    def way(self, km: float) -> float:
        """A length in the reader's unit."""
        return units.from_stored("distance", km * 1000, self.unit)

    def is_free(self, box) -> bool:
        left, top, right, bottom = box
        if left < LEFT or right > RIGHT or top < TOP or bottom > BOTTOM:
            return False
        return not any(
            left < other[2] and right > other[0] and top < other[3] and bottom > other[1]
            for other in self.taken
        )


def day_chart(
    home: ChartPlace, stops: list[ChartPlace], *, title: str, unit: str = "km"
) -> SafeString:
    """The round of one day: ponds in their places, straight legs with their length."""
    sheet = _sheet([home, *stops], unit)
    spots = [sheet.at(place.latitude, place.longitude) for place in [home, *stops]]
    sheet.taken += [(x - DOT, y - DOT, x + DOT, y + DOT) for x, y in spots]
    sheet.taken.append((LEFT, BOTTOM - 44, LEFT + 240, BOTTOM))  # the scale bar
    sheet.taken.append((RIGHT - 44, TOP, RIGHT, TOP + 84))  # the north arrow
    legs = list(zip([home, *stops], [*stops, home], strict=True)) if stops else []
    sheet.taken += [box for a, b in legs for box in _along(sheet, a, b)]
    total_km = sum(_km(a, b) for a, b in legs)
    order = ", ".join(place.name for place in stops)
    described = gettext(
        "A round of straight legs, %(way)d %(unit)s, from %(home)s: %(order)s, and back. "
        "The list beside the chart gives the same order."
    ) % {
        "way": round(sheet.way(total_km)),
        "unit": unit,
        "home": home.name,
        "order": order,
    }
    body = [
        f'<rect class="land" x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{BOTTOM - TOP}"/>',
        *_graticule(sheet),
        *(_pond(sheet, place) for place in stops if place.is_water),
        *(_leg(sheet, a, b) for a, b in legs),
        *(_dot(spot, number) for number, spot in enumerate(spots[1:], start=1)),
        _home(sheet, spots[0], home),
        *(_name(sheet, spot, place) for spot, place in zip(spots[1:], stops, strict=True)),
        *_scale_bar(sheet),
        '<path class="frame" d="M472 84V54"/><path class="bar" d="M466 62L472 46L478 62z"/>'
        f'<text class="deg" x="472" y="98" text-anchor="middle">{gettext("N")}</text>',
    ]
    return mark_safe(
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="ct cd">'
        f'<title id="ct">{escape(title)}</title><desc id="cd">{escape(described)}</desc>'
        f"{''.join(body)}</svg>"
    )


def straight_km(home: ChartPlace, stops: list[ChartPlace]) -> float:
    """Length of the round along straight legs."""
    return sum(_km(a, b) for a, b in zip([home, *stops], [*stops, home], strict=True))


def _km(a: ChartPlace, b: ChartPlace) -> float:
    return float(great_circle_km(a.latitude, a.longitude, b.latitude, b.longitude))


def _sheet(places: list[ChartPlace], unit: str) -> _Sheet:
    """The largest scale at which every place has room, the round in the middle of the sheet."""
    north, south = max(p.latitude for p in places), min(p.latitude for p in places)
    east, west = max(p.longitude for p in places), min(p.longitude for p in places)
    squeeze = max(0.02, math.cos(math.radians((north + south) / 2)))
    room_x, room_y = RIGHT - LEFT - 2 * ROOM, BOTTOM - TOP - 2 * ROOM
    scale = min(
        room_x / max(1e-9, (east - west) * squeeze), room_y / max(1e-9, north - south), 20_000
    )
    half_x = (RIGHT - LEFT) / 2 / (scale * squeeze)
    half_y = (BOTTOM - TOP) / 2 / scale
    return _Sheet((north + south) / 2 + half_y, (east + west) / 2 - half_x, scale, squeeze, unit)


def _graticule(sheet: _Sheet):
    """Lines at whole minutes or parts of them, their figures, and the bars along the frame."""
    step = next((s for s in STEPS_MIN if (sheet.north - sheet.south) * 60 / s <= 6), STEPS_MIN[-1])
    meridians = [(sheet.at(sheet.north, d)[0], d) for d in _multiples(sheet.west, sheet.east, step)]
    parallels = [
        (sheet.at(d, sheet.west)[1], d) for d in _multiples(sheet.south, sheet.north, step)
    ]
    lines = "".join(f"M{x} {TOP}V{BOTTOM}" for x, _ in meridians)
    lines += "".join(f"M{LEFT} {y}H{RIGHT}" for y, _ in parallels)
    yield f'<path class="grat" d="{lines}"/>'
    yield from _bars([x for x, _ in meridians], LEFT, RIGHT, upright=False)
    yield from _bars(sorted(y for y, _ in parallels), TOP, BOTTOM, upright=True)
    yield (f'<path class="frame" d="M17 17H503V543H17zM{LEFT} {TOP}H{RIGHT}V{BOTTOM}H{LEFT}z"/>')
    last = -99.0
    for x, degrees in meridians:
        if x - last > 58 and LEFT + 24 < x < RIGHT - 24:
            words = _degrees(degrees, gettext("E"), gettext("W"))
            yield f'<text class="deg" x="{x}" y="13" text-anchor="middle">{words}</text>'
            last = x
    for y, degrees in parallels:
        if TOP + 20 < y < BOTTOM - 50:
            words = _degrees(degrees, gettext("N"), gettext("S"))
            yield f'<text class="deg halo" x="29" y="{y - 5:.1f}">{words}</text>'


def _multiples(low: float, high: float, step_min: float) -> list[float]:
    first, last = math.ceil(low * 60 / step_min), math.floor(high * 60 / step_min)
    return [n * step_min / 60 for n in range(first, last + 1)]


def _bars(marks: list[float], low: float, high: float, *, upright: bool):
    """Every second piece of the double frame is inked."""
    edges = [low, *(m for m in marks if low < m < high), high]
    for begin, end in list(pairwise(edges))[::2]:
        size = round(end - begin, 1)
        for at in (17, BOTTOM if not upright else RIGHT):
            where = (
                f'x="{at}" y="{begin}" width="7" height="{size}"'
                if upright
                else f'x="{begin}" y="{at}" width="{size}" height="7"'
            )
            yield f'<rect class="bar" {where}/>'


def _degrees(value: float, above: str, below: str) -> str:
    total = round(abs(value) * 60, 1)
    minutes = total % 60
    shown = f"{minutes:02.0f}" if minutes == round(minutes) else f"{minutes:04.1f}"
    return f"{int(total // 60)}°{shown}\u2032{above if value >= 0 else below}"


def _pond(sheet: _Sheet, place: ChartPlace) -> str:
    """Rings of depth about the place: a sign for a pond, never its real shore."""
    x, y = sheet.at(place.latitude, place.longitude)
    true = math.sqrt((place.area_m2 or 0) / math.pi) / 1000 * sheet.km
    size = min(max(true, 20.0), 34.0)
    return (
        f'<circle class="pond" cx="{x}" cy="{y}" r="{size:.1f}"/>'
        f'<circle class="iso" cx="{x}" cy="{y}" r="{size * 0.74:.1f}"/>'
        f'<circle class="iso" cx="{x}" cy="{y}" r="{size * 0.5:.1f}"/>'
    )


def _leg(sheet: _Sheet, a: ChartPlace, b: ChartPlace) -> str:
    (x1, y1), (x2, y2) = sheet.at(a.latitude, a.longitude), sheet.at(b.latitude, b.longitude)
    length = math.hypot(x2 - x1, y2 - y1)
    if length < 2 * DOT + 4:
        return ""
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    bx, by, ex, ey = x1 + ux * 17, y1 + uy * 17, x2 - ux * 17, y2 - uy * 17
    line = f'<path class="leg" d="M{bx:.1f} {by:.1f}L{ex:.1f} {ey:.1f}"/>'
    tip = (
        f'<path class="arrow" d="M{ex:.1f} {ey:.1f}'
        f"L{ex - ux * 10 - uy * 4.2:.1f} {ey - uy * 10 + ux * 4.2:.1f}"
        f'L{ex - ux * 10 + uy * 4.2:.1f} {ey - uy * 10 - ux * 4.2:.1f}z"/>'
    )
    way = sheet.way(_km(a, b))
    return line + tip + _leg_length(sheet, (x1 + x2) / 2, (y1 + y2) / 2, (ux, uy), way)


def _along(sheet: _Sheet, a: ChartPlace, b: ChartPlace):
    """Small boxes on a leg, so that no name is written over it."""
    (x1, y1), (x2, y2) = sheet.at(a.latitude, a.longitude), sheet.at(b.latitude, b.longitude)
    count = int(math.hypot(x2 - x1, y2 - y1) // 10)
    for n in range(1, count):
        x, y = x1 + (x2 - x1) * n / count, y1 + (y2 - y1) * n / count
        yield x - 2, y - 2, x + 2, y + 2


def _leg_length(sheet: _Sheet, x: float, y: float, along: tuple[float, float], way: float) -> str:
    """Beside the middle of its leg, on whichever side is free; short legs go without."""
    for side in (-1, 1):
        tx, ty = x - along[1] * 20 * side, y + along[0] * 14 * side
        box = (tx - 14, ty - 8, tx + 14, ty + 6)
        if sheet.is_free(box):
            sheet.taken.append(box)
            return (
                f'<text class="km halo" text-anchor="middle" x="{tx:.0f}" y="{ty + 4:.0f}">'
                f"{way:.1f}</text>"
            )
    return ""


def _dot(spot: tuple[float, float], number: int) -> str:
    x, y = spot
    return (
        f'<circle class="dot" cx="{x}" cy="{y}" r="{DOT}"/>'
        f'<text class="num" x="{x}" y="{y + 4.5:.1f}">{number}</text>'
    )


def _home(sheet: _Sheet, spot: tuple[float, float], home: ChartPlace) -> str:
    x, y = spot
    mark = f'<rect class="home" x="{x - 9}" y="{y - 9}" width="18" height="18"/>'
    return mark + _label(sheet, spot, home.name, "homename halo", 8.0)


def _name(sheet: _Sheet, spot: tuple[float, float], place: ChartPlace) -> str:
    kind = "name halo" if place.is_water else "sitename halo"
    return _label(sheet, spot, place.name, kind, 7.6)


def _label(sheet: _Sheet, spot: tuple[float, float], words: str, kind: str, letter: float) -> str:
    """Where there is room about its place; where there is none the number alone has to do."""
    x, y = spot
    width = len(words) * letter
    for dx, dy, anchor in LABEL_PLACES:
        left = x + dx - {"start": 0, "middle": width / 2, "end": width}[anchor]
        box = (left, y + dy - 14, left + width, y + dy + 5)
        if sheet.is_free(box):
            sheet.taken.append(box)
            return (
                f'<text class="{kind}" x="{x + dx:.0f}" y="{y + dy:.0f}" '
                f'text-anchor="{anchor}">{escape(words)}</text>'
            )
    return ""


def _scale_bar(sheet: _Sheet):
    """Two equal parts, one inked; the length is a round number of the reader's units."""
    paper = sheet.km / sheet.way(1)
    half = next((long for long in reversed(BARS) if long * paper <= 84), BARS[0])
    size = round(half * paper, 1)
    yield f'<rect x="32" y="496" width="{2 * size + 60:.0f}" height="36" class="land"/>'
    yield f'<rect class="bar" x="44" y="520" width="{size}" height="5"/>'
    yield f'<path class="frame" d="M44 520h{2 * size}v5h-{2 * size}z"/>'
    for at, words in (
        (44, "0"),
        (44 + size, f"{half:g}"),
        (44 + 2 * size, f"{2 * half:g} {sheet.unit}"),
    ):
        yield f'<text class="deg" x="{at:.0f}" y="514" text-anchor="middle">{words}</text>'
