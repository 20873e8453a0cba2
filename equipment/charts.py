"""A reading over time as SVG: no style, no script; the page's style sheet gives the colours.

The same text serves a mail or a paper, with the literal colours of EXPORT_STYLE put in.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.utils.formats import date_format
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

LOOKED_AHEAD = timedelta(days=400)  # a crossing that lies further off is told in words alone
EXPORT_STYLE = (
    "<style>.band{fill:#d3e7ee}.band.asked{fill:none;stroke:#7b7258;stroke-dasharray:2 3}"
    ".grid{stroke:#d8d0b8}.axis{stroke:#7b7258}"
    ".line{fill:none;stroke:#13232b;stroke-width:1.5}.expected{stroke:#4a585e;stroke-width:1}"
    ".found{fill:#fff;stroke:#13232b;stroke-width:1.5}.left{fill:#13232b}"
    ".mark{stroke:#4a585e;stroke-dasharray:4 3}.visit{stroke:#7b7258}"
    ".baseline{fill:#13232b}.trend{fill:none;stroke:#175a86;stroke-width:2}"
    ".spread{fill:#175a86;fill-opacity:.15}.limit{stroke:#a3270b;stroke-dasharray:6 4}"
    ".crossing{fill:#a3270b;fill-opacity:.2}"
    "text{font:13px sans-serif;fill:#4a585e}.unitname{font-weight:600;fill:#13232b}</style>"
)


@dataclass(frozen=True)
class Point:
    """One reading; `as_left` tells the ring (as found) from the dot (as left).

    `series` names gauge and configuration: no line joins two readings of different series.
    """

    on: date
    value: float
    as_left: bool = False
    series: str = ""


@dataclass(frozen=True)
class Band:
    """The normal band from a day on, until the next one begins.

    Without a confirmed baseline it is only what the plan of the system leads to expect.
    """

    from_on: date
    low: float
    high: float
    expected: float | None = None
    confirmed: bool = True


@dataclass(frozen=True)
class Mark:
    """Something that happened: a `configuration`, a `gauge`, a `baseline` or a `visit`."""

    on: date
    kind: str
    words: str
    value: float | None = None  # of a baseline


@dataclass(frozen=True)
class Trend:
    """The drift: a line between two days, its interval at the second, and the limit ahead."""

    from_on: date
    until_on: date
    start: float
    end: float
    low: float
    high: float
    limit: float | None = None
    crosses_from: date | None = None
    crosses_until: date | None = None


@dataclass(frozen=True)
class Sheet:
    """The size of a chart and of its margins, in units of the drawing."""

    width: int = 640
    height: int = 280
    left: int = 56
    right: int = 16
    top: int = 44
    bottom: int = 34


WIDE, SMALL = Sheet(), Sheet(width=320, height=170, left=50, top=30, bottom=30)


def reading_chart(
    points: Sequence[Point],
    *,
    name: str,
    unit: str,
    bands: Sequence[Band] = (),
    marks: Sequence[Mark] = (),
    trend: Trend | None = None,
    sheet: Sheet = WIDE,
    span: tuple[float, float] | None = None,
    export: bool = False,
) -> SafeString:
    """Readings of one quantity over time, with the normal band where there is one.

    Points are in the unit that is printed; the line joins what was found, dots show what was left.
    `span` sets lowest and highest value where several charts share a scale.
    """
    points = sorted(points, key=lambda point: (point.on, point.as_left))
    bands = sorted(bands, key=lambda band: band.from_on)
    scale = _Scale(points, bands, trend, sheet, span)
    named = [mark for mark in marks if mark.kind in {"configuration", "gauge"}]
    parts = [
        *_bands(bands, scale),
        *_ground(scale, f"{name}, {unit}"),
        *_happened(marks, named, scale),
        *(_drift(trend, scale) if trend else ()),
        *_readings(points, scale),
    ]
    words = described(points, unit=unit, bands=bands, named=named, trend=trend)
    return mark_safe(
        f'<svg viewBox="0 0 {sheet.width} {sheet.height}" role="img" '
        'xmlns="http://www.w3.org/2000/svg">'
        f"<title>{escape(f'{name}, {unit}')}</title><desc>{escape(words)}</desc>"
        f"{EXPORT_STYLE if export else ''}{''.join(parts)}</svg>"
    )


def described(
    points: Sequence[Point],
    *,
    unit: str,
    bands: Sequence[Band] = (),
    named: Sequence[Mark] = (),
    trend: Trend | None = None,
) -> str:
    """What a chart shows, in words, for whoever does not see it."""
    said = [_points_said(points, unit), *_bands_said(bands, unit), *_marks_said(named)]
    return " ".join(said + (_trend_said(trend, unit) if trend else []))


def with_colours(svg: str) -> str:
    """A chart that was drawn for a page, with the literal colours that a paper wants."""
    return svg.replace("</desc>", f"</desc>{EXPORT_STYLE}", 1)


def small_charts(
    lines: Sequence[tuple[str, Sequence[Point], Sequence[Band]]], *, unit: str
) -> list[SafeString]:
    """One small chart for each line of a system, all to one scale so that they compare."""
    values = [point.value for _, points, _ in lines for point in points]
    values += [edge for _, _, bands in lines for band in bands for edge in (band.low, band.high)]
    span = (min(values), max(values)) if values else None
    return [
        reading_chart(points, name=name, unit=unit, bands=bands, sheet=SMALL, span=span)
        for name, points, bands in lines
        if points
    ]


class _Scale:
    """Where a day and a value lie on the sheet."""

    def __init__(self, points, bands, trend, sheet, span):
        self.sheet = sheet
        edges = [point.value for point in points] + list(span or ())
        edges += [edge for band in bands for edge in (band.low, band.high)]
        if trend:
            edges += [trend.start, trend.low, trend.high]
            edges += [trend.limit] if trend.limit is not None else []
        self.step = _round_step((max(edges) - min(edges)) / 4)
        self.bottom = math.floor(min(edges) / self.step) * self.step
        self.top = math.ceil(max(edges) / self.step) * self.step
        if self.top == self.bottom:
            self.top += self.step
        self.first_on, self.last_on = points[0].on, _end(points, trend)
        self.days = max(1, (self.last_on - self.first_on).days)

    def x(self, on):
        on = min(max(on, self.first_on), self.last_on)
        share = (on - self.first_on).days / self.days
        wide = self.sheet.width - self.sheet.left - self.sheet.right - 16
        return round(self.sheet.left + 8 + share * wide, 1)

    def y(self, value):
        share = (value - self.bottom) / (self.top - self.bottom)
        high = self.sheet.height - self.sheet.top - self.sheet.bottom
        return round(self.sheet.height - self.sheet.bottom - share * high, 1)

    def lines(self):
        count = round((self.top - self.bottom) / self.step)
        return [self.bottom + number * self.step for number in range(count + 1)]

    def days_named(self):
        """A few days along the foot: first, last and, where there is room, two between."""
        parts = 3 if self.sheet.width > 400 else 1
        return sorted(
            {
                self.first_on + timedelta(days=round(self.days * share / parts))
                for share in range(parts + 1)
            }
        )


def _end(points, trend):
    last = points[-1].on
    ahead = (trend.crosses_until or trend.crosses_from) if trend else None
    if ahead is None:
        return last
    return max(last, min(ahead, last + LOOKED_AHEAD))


def _round_step(raw):
    if raw <= 0:
        return 1.0
    size = 10 ** math.floor(math.log10(raw))
    return next(size * step for step in (1, 2, 5, 10) if raw <= size * step)


def _ground(scale, title):
    sheet = scale.sheet
    right = sheet.width - sheet.right
    decimals = 0 if scale.step >= 1 else -math.floor(math.log10(scale.step))
    for value in scale.lines():
        y = scale.y(value)
        yield f'<line class="grid" x1="{sheet.left}" x2="{right}" y1="{y}" y2="{y}"/>'
        yield (
            f'<text x="{sheet.left - 8}" y="{y + 4}" text-anchor="end">{value:.{decimals}f}</text>'
        )
    foot = sheet.height - sheet.bottom
    yield f'<line class="axis" x1="{sheet.left}" x2="{right}" y1="{foot}" y2="{foot}"/>'
    yield format_html('<text class="unitname" x="{}" y="16">{}</text>', sheet.left, title)
    named = scale.days_named()
    for on in named:
        anchor = {named[0]: "start", named[-1]: "end"}.get(on, "middle")
        yield (
            f'<text x="{scale.x(on)}" y="{sheet.height - 10}" text-anchor="{anchor}">'
            f"{escape(date_format(on, 'j M y'))}</text>"
        )


def _bands(bands, scale):
    """One step for each band; a step that is only expected is outlined, not filled."""
    ends = [*(band.from_on for band in bands[1:]), scale.last_on][: len(bands)]
    edge = scale.sheet.width - scale.sheet.right
    for band, until in zip(bands, ends, strict=True):
        if until < scale.first_on or band.from_on > scale.last_on:
            continue
        last = until == scale.last_on
        left = scale.sheet.left if band.from_on <= scale.first_on else scale.x(band.from_on)
        right = edge if last else scale.x(until)
        top, low = scale.y(band.high), scale.y(band.low)
        kind = "band" if band.confirmed else "band asked"
        yield (
            f'<rect class="{kind}" x="{left}" y="{top}" width="{max(right - left, 0):.1f}" '
            f'height="{low - top:.1f}"/>'
        )
        if band.expected is not None:
            y = scale.y(band.expected)
            yield f'<line class="expected" x1="{left}" x2="{right}" y1="{y}" y2="{y}"/>'


def _happened(marks, named, scale):
    """Visits as ticks at the foot, changes as numbered upright lines, baselines as squares."""
    foot, top = scale.sheet.height - scale.sheet.bottom, scale.sheet.top
    for mark in marks:
        x = scale.x(mark.on)
        if mark.kind == "visit" and scale.first_on <= mark.on <= scale.last_on:
            yield f'<line class="visit" x1="{x}" x2="{x}" y1="{foot}" y2="{foot + 6}"/>'
        if mark.kind == "baseline" and mark.value is not None:
            y = scale.y(mark.value)
            yield f'<rect class="baseline" x="{x - 4}" y="{y - 4}" width="8" height="8"/>'
    for number, mark in enumerate(named, start=1):
        if scale.first_on < mark.on <= scale.last_on:
            x = scale.x(mark.on)
            yield f'<line class="mark {mark.kind}" x1="{x}" x2="{x}" y1="{top}" y2="{foot}"/>'
            yield f'<text x="{x}" y="{top - 8}" text-anchor="middle">{number}</text>'


def _drift(trend, scale):
    x1, x2 = scale.x(trend.from_on), scale.x(trend.until_on)
    corners = [(x1, trend.start), (x2, trend.low), (x2, trend.high)]
    shape = " ".join(f"{x},{scale.y(value)}" for x, value in corners)
    yield f'<polygon class="spread" points="{shape}"/>'
    if trend.limit is not None:
        y, left = scale.y(trend.limit), scale.sheet.left
        right = scale.sheet.width - scale.sheet.right
        yield f'<line class="limit" x1="{left}" x2="{right}" y1="{y}" y2="{y}"/>'
        if trend.crosses_from and trend.crosses_from < scale.last_on:
            start = scale.x(trend.crosses_from)
            wide = scale.x(trend.crosses_until or scale.last_on) - start
            yield (
                f'<rect class="crossing" x="{start}" y="{y - 5}" width="{max(wide, 3):.1f}" '
                'height="10"/>'
            )
    yield (
        f'<line class="trend" x1="{x1}" x2="{x2}" y1="{scale.y(trend.start)}" '
        f'y2="{scale.y(trend.end)}"/>'
    )


def _readings(points, scale):
    found = [point for point in points if not point.as_left]
    for _, run in groupby(found, key=lambda point: point.series):
        run = list(run)
        if len(run) > 1:
            line = " ".join(f"{scale.x(point.on)},{scale.y(point.value)}" for point in run)
            yield f'<polyline class="line" points="{line}"/>'
    for point in points:
        kind, radius = ("left", 3) if point.as_left else ("found", 4)
        yield (
            f'<circle class="{kind}" cx="{scale.x(point.on)}" cy="{scale.y(point.value)}" '
            f'r="{radius}"/>'
        )


def _points_said(points, unit):
    values = [point.value for point in points]
    first, last = points[0], points[-1]
    return (
        f"{len(points)} readings from {_day(first.on)} to {_day(last.on)}: first "
        f"{first.value:.1f}, last {last.value:.1f}, lowest {min(values):.1f}, "
        f"highest {max(values):.1f} {unit}."
    )


def _bands_said(bands, unit):
    return [
        f"{'Normal' if band.confirmed else 'Expected, not yet confirmed,'} "
        f"{band.low:.1f} to {band.high:.1f} {unit} from {_day(band.from_on)}."
        for band in bands
    ]


def _marks_said(named):
    return [f"{_day(mark.on)}: {mark.words}." for mark in named]


def _trend_said(trend, unit):
    said = [
        f"Drift from {trend.start:.1f} to {trend.end:.1f} {unit} between {_day(trend.from_on)} "
        f"and {_day(trend.until_on)}, {trend.low:.1f} to {trend.high:.1f} with its interval."
    ]
    if trend.limit is not None and trend.crosses_from:
        until = f"and {_day(trend.crosses_until)}" if trend.crosses_until else "and later"
        said.append(
            f"It reaches {trend.limit:.1f} {unit} between {_day(trend.crosses_from)} {until}."
        )
    return said


def _day(on):
    return date_format(on, "j F Y")
