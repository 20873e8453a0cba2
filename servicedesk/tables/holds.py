"""Holds as they are read: what, where, until when, and the stops that stand in their way."""

from django.utils.translation import gettext as _

from servicedesk.forms.holds import KINDS
from servicedesk.kinds import HoldKind
from servicedesk.planning.calendar import week_name
from servicedesk.planning.routing.barriers import barrier_of

WORDS = dict(KINDS)


def hold_shown(hold):
    """A row about one hold; no query."""
    return {
        "hold": hold,
        "what": WORDS.get(hold.kind, hold.get_kind_display()),
        "where": _where(hold),
    }


def met_shown(stops):
    """(stop, name of its week) of each stop."""
    return [(stop, week_name(stop.route.day)) for stop in stops]


def _where(hold):
    if hold.kind != HoldKind.NO_GO_AREA or not hold.area:
        return str(hold.site or hold.region or _("everywhere"))
    corners = barrier_of(hold.area).corners
    longitude = sum(x for x, _y in corners) / len(corners)
    latitude = sum(y for _x, y in corners) / len(corners)
    place = {"lat": f"{latitude:.3f}", "lon": f"{longitude:.3f}"}
    if hold.area.get("type") == "LineString":
        return _("a line near %(lat)s, %(lon)s") % place
    return _("an area round %(lat)s, %(lon)s") % place
