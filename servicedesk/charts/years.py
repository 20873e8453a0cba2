"""A pond's year as rows of bars over the months, and its profiles by depth, as SVG.

No style and no script: the classes take their colours from the page's style sheet.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

WIDTH, LEFT, RIGHT, ROW, TOP = 640, 150, 632, 30, 28
BOX_W, BOX_H, BOX_TOP, BOX_LEFT = 260, 190, 34, 40


@dataclass(frozen=True)
class Bar:
    """Days of a row; `kind` is the class that gives its colour."""

    from_on: date
    until_on: date
    kind: str
    words: str


@dataclass(frozen=True)
class BarRow:
    name: str
    bars: tuple[Bar, ...]


def year_chart(
    rows: Sequence[BarRow],
    from_on: date,
    until_on: date,
    *,
    title: str,
    described: str,
    today: date | None = None,
) -> SafeString:
    """Rows of bars between two days, with the months over them and today as a line."""
    span = (until_on - from_on).days
    height = TOP + ROW * len(rows) + 8

    def x(on):
        return LEFT + (RIGHT - LEFT) * (min(max(on, from_on), until_on) - from_on).days / span

    parts = [_month_line(on, x, height) for on in _months(from_on, until_on)]
    for number, row in enumerate(rows):
        y = TOP + ROW * number
        parts.append(f'<text class="unitname" x="4" y="{y + 19}">{escape(row.name[:15])}</text>')
        for bar in row.bars:
            if bar.until_on < from_on or bar.from_on > until_on:
                continue
            wide = max(2.0, x(bar.until_on + timedelta(days=1)) - x(bar.from_on))
            parts.append(
                f'<rect class="{bar.kind}" x="{x(bar.from_on):.1f}" y="{y + 5}" '
                f'width="{wide:.1f}" height="18"><title>{escape(bar.words)}</title></rect>'
            )
    if today and from_on <= today <= until_on:
        parts.append(
            f'<line class="today" x1="{x(today):.1f}" x2="{x(today):.1f}" '
            f'y1="{TOP - 6}" y2="{height}"/>'
        )
    return mark_safe(
        f'<svg viewBox="0 0 {WIDTH} {height}" role="img"><title>{escape(title)}</title>'
        f"<desc>{escape(described)}</desc>{''.join(parts)}</svg>"
    )


def _months(from_on, until_on):
    day = from_on.replace(day=1)
    while day <= until_on:
        if day >= from_on:
            yield day
        day = (day + timedelta(days=32)).replace(day=1)


def _month_line(on, x, height):
    second = " second" if on.month % 2 == 0 else ""
    return (
        f'<line class="grid" x1="{x(on):.1f}" x2="{x(on):.1f}" y1="{TOP - 6}" y2="{height}"/>'
        f'<text class="month{second}" x="{x(on) + 3:.1f}" y="{TOP - 10}">'
        f"{escape(date_format(on, 'M'))}</text>"
    )


def profile_chart(
    points: Sequence[tuple[float, float | None]],
    *,
    title: str,
    unit: str,
    depth_unit: str,
    described: str,
) -> SafeString:
    """One quantity by depth, the surface at the top; points without a value leave a gap."""
    known = [(depth, value) for depth, value in points if value is not None]
    deepest = max((depth for depth, _ in points), default=1) or 1
    low = min([0.0, *(value for _, value in known)])
    high = max([1.0, *(value for _, value in known)])
    right, bottom = BOX_W - 12, BOX_H - 10

    def x(value):
        return BOX_LEFT + (right - BOX_LEFT) * (value - low) / (high - low)

    def y(depth):
        return BOX_TOP + (bottom - BOX_TOP) * depth / deepest

    dots = "".join(
        f'<circle class="left" cx="{x(v):.1f}" cy="{y(d):.1f}" r="3"/>' for d, v in known
    )
    line = " ".join(f"{x(v):.1f},{y(d):.1f}" for d, v in known)
    depths = "".join(
        f'<line class="grid" x1="{BOX_LEFT}" x2="{right}" y1="{y(d):.1f}" y2="{y(d):.1f}"/>'
        f'<text x="{BOX_LEFT - 6}" y="{y(d) + 4:.1f}" text-anchor="end">{d:.3g}</text>'
        for d in (0, deepest / 2, deepest)
    )
    ends = (
        f'<text x="{BOX_LEFT}" y="28">{low:.3g}</text>'
        f'<text x="{right}" y="28" text-anchor="end">{high:.3g} {escape(unit)}</text>'
    )
    return mark_safe(
        f'<svg viewBox="0 0 {BOX_W} {BOX_H}" role="img"><title>{escape(title)}</title>'
        f"<desc>{escape(described)}</desc>"
        f'<text class="unitname" x="{BOX_LEFT}" y="13">{escape(title)}</text>{ends}{depths}'
        f'<text x="2" y="{BOX_H - 26}">{escape(depth_unit)}</text>'
        f'<polyline class="line" points="{line}"/>{dots}</svg>'
    )
