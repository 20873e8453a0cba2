"""Windows of due days and loads of weeks, drawn to scale without script or style."""

from dataclasses import dataclass
from datetime import date, timedelta

from django import template
from django.utils.formats import date_format
from django.utils.html import escape
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

register = template.Library()

BEFORE, AFTER = timedelta(days=60), timedelta(days=365)
HEIGHT = 34


@dataclass(frozen=True)
class Ruler:
    """The days that all windows of a page show."""

    first: date
    last: date

    def x(self, day: date) -> float:
        """Percent of the width; what lies outside stands at the edge."""
        days = (day - self.first).days / (self.last - self.first).days
        return 100 * min(max(days, 0), 1)

    @property
    def months(self):
        """First days of the months in between."""
        month = self.first.replace(day=1)
        while month <= self.last:
            if month > self.first:
                yield month
            month = (month + timedelta(days=32)).replace(day=1)


def ruler(today: date) -> Ruler:
    return Ruler(today - BEFORE, today + AFTER)


@register.simple_tag
def window_axis(today):
    """The names of every third month above the windows."""
    scale = ruler(today)
    marks = "".join(
        f'<text x="{scale.x(month):.2f}%" y="13">{escape(date_format(month, "M"))}</text>'
        for month in scale.months
        if month.month % 3 == 1
    )
    return mark_safe(f'<svg class="lane axis" aria-hidden="true">{marks}</svg>')


@register.simple_tag
def window_line(item, today):
    """The window of a due day as a box, the day as a diamond, today as a dashed line."""
    scale = ruler(today)
    parts = [
        f'<line class="hour" x1="{scale.x(m):.2f}%" x2="{scale.x(m):.2f}%" y1="0" y2="{HEIGHT}"/>'
        for m in scale.months
    ]
    now = f"{scale.x(today):.2f}%"
    parts.append(f'<line class="end" x1="{now}" x2="{now}" y1="0" y2="{HEIGHT}"/>')
    if item.due_on:
        parts += _window(item, scale, today)
    return mark_safe(
        f'<svg class="lane" role="img" aria-label="{escape(_words(item, scale))}">'
        f"{''.join(parts)}</svg>"
    )


def _window(item, scale, today):
    x, late = scale.x(item.opens_on), item.closes_on < today
    width = max(scale.x(item.closes_on) - x, 0.4)
    kind = "stop hot" if late else "stop"
    yield f'<rect class="{kind}" x="{min(x, 99.6):.2f}%" width="{width:.2f}%" y="9" height="16"/>'
    shape = "M0-8 8 6-8 6z" if late else "M0-8 8 0 0 8-8 0z"
    mark = "over" if late else "on"
    yield f'<svg x="{scale.x(item.due_on):.2f}%" y="17" overflow="visible">'
    yield f'<path class="{mark}" d="{shape}"/></svg>'


def _words(item, scale):
    if item.due_on is None:
        return _("No due day: the clock stands still.")
    named = {
        "opens": date_format(item.opens_on, "j F Y"),
        "due": date_format(item.due_on, "j F Y"),
        "closes": date_format(item.closes_on, "j F Y"),
    }
    said = _("Window from %(opens)s to %(closes)s, due %(due)s.") % named
    outside = not scale.first <= item.due_on <= scale.last
    return f"{said} {_('The day lies outside the line.')}" if outside else said


@register.simple_tag
def bar(percent):
    """A bar to scale; what it means stands beside it in words."""
    return mark_safe(
        '<svg class="lane load" aria-hidden="true">'
        f'<rect class="stop" x="0" y="3" width="{percent:.1f}%" height="10"/></svg>'
    )
