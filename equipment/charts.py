"""A reading over time as SVG: no style, no script; the page's style sheet gives the colours.

The same text serves a mail or a paper, with the literal colours of EXPORT_STYLE put in.
"""

import math
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

WIDTH, HEIGHT = 640, 260
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 26, 34
EXPORT_STYLE = (
    "<style>.band{fill:#d3e7ee}.grid{stroke:#d8d0b8}.axis{stroke:#7b7258}"
    ".line{fill:none;stroke:#13232b;stroke-width:1.5}"
    ".found{fill:#fff;stroke:#13232b;stroke-width:1.5}.left{fill:#13232b}"
    "text{font:13px sans-serif;fill:#4a585e}.unitname{font-weight:600;fill:#13232b}</style>"
)


@dataclass(frozen=True)
class Point:
    """One reading; `as_left` tells the ring (as found) from the dot (as left)."""

    on: date
    value: float
    as_left: bool = False


def reading_chart(points, *, name, unit, band=None, export=False) -> SafeString:
    """Readings of one quantity over time, with the normal band where there is one.

    Points are in the unit that is printed; the line joins what was found, dots show what was left.
    """
    points = sorted(points, key=lambda point: (point.on, point.as_left))
    scale = _Scale(points, band)
    parts = [
        *_ground(scale, f"{name}, {unit}", band),
        *_marks(points, scale),
    ]
    title = f"{name}, {unit}"
    first, last = points[0], points[-1]
    described = (
        f"{len(points)} readings from {date_format(first.on, 'j F Y')} to "
        f"{date_format(last.on, 'j F Y')}: first {first.value:.1f}, last {last.value:.1f}, "
        f"lowest {scale.lowest:.1f}, highest {scale.highest:.1f} {unit}."
    )
    return mark_safe(
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" xmlns="http://www.w3.org/2000/svg">'
        f"<title>{escape(title)}</title><desc>{escape(described)}</desc>"
        f"{EXPORT_STYLE if export else ''}{''.join(parts)}</svg>"
    )


class _Scale:
    """Where a day and a value lie on the sheet."""

    def __init__(self, points, band):
        values = [point.value for point in points]
        self.lowest, self.highest = min(values), max(values)
        edges = values + list(band or ())
        self.step = _round_step((max(edges) - min(edges)) / 4)
        self.bottom = math.floor(min(edges) / self.step) * self.step
        self.top = math.ceil(max(edges) / self.step) * self.step
        if self.top == self.bottom:
            self.top += self.step
        self.first = points[0].on.toordinal()
        self.days = max(1, points[-1].on.toordinal() - self.first)

    def x(self, on):
        share = (on.toordinal() - self.first) / self.days
        return round(LEFT + 8 + share * (WIDTH - LEFT - RIGHT - 16), 1)

    def y(self, value):
        share = (value - self.bottom) / (self.top - self.bottom)
        return round(HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM), 1)

    def lines(self):
        count = round((self.top - self.bottom) / self.step)
        return [self.bottom + number * self.step for number in range(count + 1)]

    def days_named(self):
        """A few days along the foot: first, last and two between."""
        thirds = {self.first + round(self.days * share / 3) for share in range(4)}
        return [date.fromordinal(ordinal) for ordinal in sorted(thirds)]


def _round_step(raw):
    if raw <= 0:
        return 1.0
    size = 10 ** math.floor(math.log10(raw))
    return next(size * step for step in (1, 2, 5, 10) if raw <= size * step)


def _ground(scale, title, band):
    right, decimals = WIDTH - RIGHT, 0 if scale.step >= 1 else -math.floor(math.log10(scale.step))
    if band:
        low, high = scale.y(band[0]), scale.y(band[1])
        size = f'width="{right - LEFT}" height="{low - high:.1f}"'
        yield f'<rect class="band" x="{LEFT}" y="{high}" {size}/>'
    for value in scale.lines():
        y = scale.y(value)
        yield f'<line class="grid" x1="{LEFT}" x2="{right}" y1="{y}" y2="{y}"/>'
        yield f'<text x="{LEFT - 8}" y="{y + 4}" text-anchor="end">{value:.{decimals}f}</text>'
    foot = HEIGHT - BOTTOM
    yield f'<line class="axis" x1="{LEFT}" x2="{right}" y1="{foot}" y2="{foot}"/>'
    yield format_html('<text class="unitname" x="{}" y="16">{}</text>', LEFT, title)
    named = scale.days_named()
    for on in named:
        anchor = {named[0]: "start", named[-1]: "end"}.get(on, "middle")
        yield (
            f'<text x="{scale.x(on)}" y="{HEIGHT - 10}" text-anchor="{anchor}">'
            f"{escape(date_format(on, 'j M y'))}</text>"
        )


def _marks(points, scale):
    found = [point for point in points if not point.as_left]
    if len(found) > 1:
        line = " ".join(f"{scale.x(point.on)},{scale.y(point.value)}" for point in found)
        yield f'<polyline class="line" points="{line}"/>'
    for point in points:
        kind, radius = ("left", 3) if point.as_left else ("found", 4)
        yield (
            f'<circle class="{kind}" cx="{scale.x(point.on)}" cy="{scale.y(point.value)}" '
            f'r="{radius}"/>'
        )
