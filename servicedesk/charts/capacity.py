"""Work whose windows close against the hours that crews have, as SVG.

No style and no script: the classes take their colours from the page's style sheet.
"""

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from django.utils.formats import date_format
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from servicedesk.charts.months import scale_of
from servicedesk.planning.capacity import CurvePoint

WIDTH, HEIGHT = 640, 280
LEFT, RIGHT, TOP, BOTTOM = 60, 624, 34, 236


def capacity_chart(
    points: Sequence[CurvePoint], *, title: str, needed: str, available: str, described: str
) -> SafeString:
    """Two curves over the days that are left: steps of need, and a slope of what there is.

    needed, available: the names of both, written at their ends.
    described: what a person who does not see the picture reads.
    """
    top, step = scale_of(max(max(p.needed_h, p.available_h) for p in points))
    first, last = points[0].on, points[-1].on
    span = max(1, (last - first).days)

    def x(on):
        return LEFT + (RIGHT - LEFT) * (on - first).days / span

    def y(value):
        return BOTTOM - (BOTTOM - TOP) * value / top

    parts = [f'<text class="unitname" x="{LEFT}" y="18">{escape(title)}</text>']
    value = 0.0
    while value <= top + step / 2:
        kind = "axis" if value == 0 else "grid"
        parts.append(
            f'<line class="{kind}" x1="{LEFT}" x2="{RIGHT}" y1="{y(value):.1f}" '
            f'y2="{y(value):.1f}"/>'
            f'<text x="{LEFT - 8}" y="{y(value) + 4:.1f}" text-anchor="end">{value:,.10g}</text>'
        )
        value += step
    parts += [_month(on, x(on)) for on in _months(first, last)]
    parts.append(_short(points, x, y))
    slope = " ".join(f"{x(p.on):.1f},{y(p.available_h):.1f}" for p in points)
    parts.append(f'<polyline class="trend" fill="none" points="{slope}"/>')
    stairs, before = [], 0.0
    for p in points:
        stairs += [f"{x(p.on):.1f},{y(before):.1f}", f"{x(p.on):.1f},{y(p.needed_h):.1f}"]
        before = p.needed_h
    parts.append(f'<polyline class="line" points="{" ".join(stairs)}"/>')
    parts += _names(points[-1], y, needed, available)
    return mark_safe(
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img"><title>{escape(title)}</title>'
        f"<desc>{escape(described)}</desc>{''.join(parts)}</svg>"
    )


def _months(first: date, last: date):
    """The first days of months inside the picture, at most about eight."""
    months, year, month = [], first.year, first.month
    while True:
        month += 1
        if month > 12:
            year, month = year + 1, 1
        day = date(year, month, 1)
        if day > last:
            return months[:: 1 + len(months) // 9]
        months.append(day)


def _month(on, x):
    return (
        f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{BOTTOM}"/>'
        f'<text x="{x:.1f}" y="{BOTTOM + 20}" text-anchor="middle">'
        f"{escape(date_format(on, 'j M'))}</text>"
    )


def _short(points, x, y):
    """Where more is needed than there is, shaded."""
    shapes = []
    for one, other in pairwise(points):
        if one.needed_h > one.available_h:
            shapes.append(
                f'<rect class="crossing" x="{x(one.on):.1f}" y="{y(one.needed_h):.1f}" '
                f'width="{x(other.on) - x(one.on):.1f}" '
                f'height="{y(one.available_h) - y(one.needed_h):.1f}"/>'
            )
    return "".join(shapes)


def _names(end, y, needed, available):
    """The names stand over the ends of their curves, and never on each other."""
    ys = [y(end.needed_h) - 6, y(end.available_h) - 6]
    if abs(ys[0] - ys[1]) < 16:
        lower = 0 if end.needed_h <= end.available_h else 1
        ys[lower] += 24
    return [
        f'<text class="unitname" x="{RIGHT}" y="{max(TOP, at):.1f}" text-anchor="end">'
        f"{escape(name)}</text>"
        for name, at in zip((needed, available), ys, strict=True)
    ]
