"""Two settings month by month as pairs of bars, as SVG.

No style and no script: the classes take their colours from the page's style sheet.
"""

import math
from collections.abc import Sequence

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

WIDTH, HEIGHT = 640, 240
LEFT, RIGHT, TOP, BOTTOM = 60, 632, 30, 206
LINES = 4  # at most, over the ground


def month_bars(
    rows: Sequence[tuple[str, str, float, float]], *, title: str, unit: str, described: str
) -> SafeString:
    """Bars in pairs, A at the left, B at the right.

    rows: of each month its short name, its full one, and the two values, 0 or more, in `unit`.
    described: what a person who does not see the picture reads.
    """
    top, step = scale_of(max((max(a, b) for _, _, a, b in rows), default=0))
    wide = (RIGHT - LEFT) / max(1, len(rows))
    parts = [
        f'<text class="unitname" x="{LEFT}" y="18">{escape(title)}, {escape(unit)}</text>'
        if unit
        else f'<text class="unitname" x="{LEFT}" y="18">{escape(title)}</text>'
    ]
    value = 0.0
    while value <= top + step / 2:
        y = _y(value, top)
        parts.append(
            f'<line class="{"axis" if value == 0 else "grid"}" x1="{LEFT}" x2="{RIGHT}" '
            f'y1="{y:.1f}" y2="{y:.1f}"/>'
            f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{value:,.10g}</text>'
        )
        value += step
    for number, (short, _name, a, b) in enumerate(rows):
        x, bar = LEFT + number * wide, wide * 0.36
        parts.append(_bar("a", x + wide * 0.12, bar, a, top))
        parts.append(_bar("b", x + wide * 0.52, bar, b, top))
        parts.append(
            f'<text class="month{" second" * (number % 2)}" x="{x + wide / 2:.1f}" '
            f'y="{BOTTOM + 20}" '
            f'text-anchor="middle">{escape(short)}</text>'
        )
    return mark_safe(
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img"><title>{escape(title)}</title>'
        f"<desc>{escape(described)}</desc>{''.join(parts)}</svg>"
    )


def scale_of(highest: float) -> tuple[float, float]:
    """The top of the scale, and the step of its lines: 1, 2 or 5 of some power of ten."""
    if highest <= 0:
        return 1.0, 1.0
    rough = highest / LINES
    power = 10 ** math.floor(math.log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough)
    step = max(step, 1.0)
    return step * math.ceil(highest / step), step


def _y(value: float, top: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * value / top


def _bar(side: str, x: float, width: float, value: float, top: float) -> str:
    y = _y(value, top)
    return (
        f'<rect class="side-{side}" x="{x:.1f}" y="{y:.1f}" '
        f'width="{width:.1f}" height="{BOTTOM - y:.1f}"/>'
    )
