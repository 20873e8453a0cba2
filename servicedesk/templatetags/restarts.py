"""Starts after a stop, on the pages of the phone."""

from dataclasses import dataclass

from django import template
from django.db.models import OuterRef, Subquery
from django.db.models.functions import Now

from equipment.kinds import NOT_IN_SERVICE, RUNNING
from equipment.models import System
from servicedesk.models import Restart
from servicedesk.planning.restart.states import OPEN, RestartState
from servicedesk.tables.restarts import STATES
from servicedesk.templatetags.house import STATES as SYSTEM_STATES

register = template.Library()


@dataclass(frozen=True)
class StartHere:
    """A system that stands still, or is being brought up."""

    system: System
    shape: str
    words: str


@register.simple_tag
def restarts_at(site):
    """Systems of a site with guarded steps to follow, in one query."""
    return [_shown(system) for system in with_steps(System.objects.filter(site=site))]


def with_steps(systems):
    """Those of some systems that stand still in service, or have a restart that is open."""
    opened = Restart.objects.filter(system=OuterRef("pk"), state__in=OPEN).values("state")[:1]
    found = systems.with_state(Now()).annotate(restart_state=Subquery(opened)).order_by("name")
    still = NOT_IN_SERVICE | RUNNING
    return [s for s in found if s.restart_state or (s.state_now and s.state_now not in still)]


def _shown(system):
    if system.restart_state:
        return StartHere(system, *STATES[RestartState(system.restart_state)])
    return StartHere(system, *SYSTEM_STATES[system.state_now])
