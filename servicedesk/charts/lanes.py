"""A day as a lane, drawn to time, as SVG.

No style and no script: the classes take their colours from the page's style sheet.
"""

import math
from dataclasses import dataclass

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

LANE_HEIGHT = 34
SLIM_MIN = 40  # a box shorter than this has no room beside its figure


@dataclass(frozen=True)
class Span:
    """Some minutes of a day."""

    from_min: int
    until_min: int


@dataclass(frozen=True)
class LaneStop:
    """A stop in a lane; `late` draws the triangle of what is overdue, `meets` a second edge."""

    number: int
    from_min: int
    until_min: int
    late: bool = False
    locked: bool = False
    meets: str = ""  # whom and when, for the pointer


@dataclass(frozen=True)
class Axis:
    """The hours that all lanes of a page show."""

    from_h: int
    until_h: int

    def x(self, minute: float) -> float:
        """Percent of the lane's width."""
        width = (self.until_h - self.from_h) * 60
        return 100 * (minute - self.from_h * 60) / width

    @property
    def hours(self):
        return range(self.from_h + 1, self.until_h)


def axis_for(spans) -> Axis:
    """Whole hours around some spans of minutes; 7 to 18 at least."""
    spans = list(spans)
    first = min([7 * 60, *(span.from_min for span in spans)])
    last = max([18 * 60, *(span.until_min for span in spans)])
    return Axis(max(0, first // 60), min(30, math.ceil(last / 60)))


def hours_of(axis: Axis) -> SafeString:
    """The figures above the lanes."""
    marks = "".join(
        f'<text x="{axis.x(hour * 60):.2f}%" y="13">{hour % 24}</text>' for hour in axis.hours
    )
    return mark_safe(f'<svg class="lane axis" aria-hidden="true">{marks}</svg>')


def lane(axis: Axis, *, words: str, shift=None, away=None, stops=(), lunch=None) -> SafeString:
    """One day to scale: the drive as a dotted line, stops as boxes, the paid day's end as a line.

    words: what a person who does not see the picture reads.
    shift: Span of the paid day; away: Span from leaving to being back; lunch: Span of the break.
    """
    parts = [
        f'<line class="hour" x1="{axis.x(h * 60):.2f}%" x2="{axis.x(h * 60):.2f}%" '
        f'y1="0" y2="{LANE_HEIGHT}"/>'
        for h in axis.hours
    ]
    if shift:
        ends = f"{axis.x(shift.until_min):.2f}%"
        parts.append(f'<line class="end" x1="{ends}" x2="{ends}" y1="0" y2="{LANE_HEIGHT}"/>')
    if away:
        x1, x2 = axis.x(away.from_min), axis.x(away.until_min)
        parts.append(f'<line class="drive" x1="{x1:.2f}%" x2="{x2:.2f}%" y1="17" y2="17"/>')
    if lunch:
        x, width = axis.x(lunch.from_min), axis.x(lunch.until_min) - axis.x(lunch.from_min)
        parts.append(f'<rect class="lunch" x="{x:.2f}%" width="{width:.2f}%" y="13" height="8"/>')
    parts += [_lane_stop(axis, stop) for stop in stops]
    return mark_safe(
        f'<svg class="lane" role="img" aria-label="{escape(words)}">{"".join(parts)}</svg>'
    )


def _lane_stop(axis: Axis, stop: LaneStop) -> str:
    """A short stop has its triangle over the box; on a phone its figure is left out."""
    x, middle = axis.x(stop.from_min), axis.x((stop.from_min + stop.until_min) / 2)
    width = axis.x(stop.until_min) - x
    slim = stop.until_min - stop.from_min < SLIM_MIN
    kind = "stop" + " hot" * stop.late + " locked" * stop.locked
    box = f'<rect class="{kind}" x="{x:.2f}%" width="{width:.2f}%" y="5" height="24" rx="2"/>'
    if stop.meets:
        box = (
            f"<g><title>{escape(stop.meets)}</title>{box}"
            f'<line class="meets" x1="{x:.2f}%" x2="{x + width:.2f}%" y1="32" y2="32"/></g>'
        )
    text = ("hott" if stop.late else "") + " slim" * slim
    shift = ' dx="4"' if stop.late and not slim else ""
    figure = f'<text class="{text.strip()}" x="{middle:.2f}%"{shift} y="22">{stop.number}</text>'
    if not stop.late:
        return box + figure
    triangle = "M0-12 4-5-4-5z" if slim else "M-8 0-3.5 9-12.5 9z"
    return (
        f'{box}<svg x="{middle:.2f}%" y="12" overflow="visible">'
        f'<path class="over" d="{triangle}"/></svg>{figure}'
    )
