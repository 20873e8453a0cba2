"""One pond of the demo firm is being brought up by steps, after its outlet had tripped."""

from datetime import date, datetime, timedelta

from equipment.actions.profiles import Probe
from equipment.kinds import Certainty, SystemState
from servicedesk.actions.climates import climate_of
from servicedesk.actions.demo.measures import outside_c
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.systems import Built, at
from servicedesk.actions.reminders import send_queued_messages
from servicedesk.actions.restarts.approve import Approval, approve_restart
from servicedesk.actions.restarts.known import known_of
from servicedesk.actions.restarts.propose import Told, propose_restart
from servicedesk.actions.restarts.run import StepSeen, record_step, start_restart
from servicedesk.actions.states import record_state
from servicedesk.actions.tickets import derive_anew
from servicedesk.models import Restart, Visit
from servicedesk.planning.restart.ramps import StepEnd
from servicedesk.planning.season_plan import pond_year, winter_of

DAY = timedelta(days=1)
STOOD_D = 2  # days from the stop to the readings
SUNDAY = 7
OXYGEN = ("8.4", "3.3")


def bring_up(built: list[Built], crew: Crew, *, today: date, now: datetime) -> Restart | None:
    """A short ramp that began the day before yesterday; none where ponds lie under ice."""
    first_on = today - (1 if (today - 3 * DAY).isoweekday() == SUNDAY else 2) * DAY
    found = _one(built, first_on, today)
    if found is None or _frozen(found, today):
        return None
    dario = crew.technicians[0]
    read_at = at(first_on - DAY, 15)
    record_state(
        found.system,
        at=read_at - STOOD_D * DAY,
        state=SystemState.SHUT_OTHER,
        now=read_at - DAY,
        by=crew.office,
        certainty=Certainty.OBSERVED,
        reason="The outlet tripped in the storm; the owner saw it the same hour.",
    )
    made = propose_restart(found.system, _told(found, read_at), by=dario, now=read_at)
    given = Approval(first_on, watcher=str(dario), weekend_watcher="the owner, from the bank")
    approve_restart(made, given, by=crew.manager, now=at(first_on - DAY, 15.5))
    send_queued_messages(clock=lambda: at(first_on - DAY, 15.75))
    start_restart(made, by=dario, now=at(first_on, 8), told_how="The owner, by phone")
    for n in range((today - first_on).days):
        said = StepSeen(StepEnd.DONE, made.minutes[n], 8.1 - 0.2 * n, 7.6 - 0.2 * n)
        record_step(made, first_on + n * DAY, said, by=dario, now=at(first_on + n * DAY, 16.5))
    derive_anew([found.system.site_id], now=now)
    return made


def _one(built, first_on, today):
    """A system without a story of its own that runs, and that nobody has seen since it stopped."""
    seen = Visit.objects.filter(arrived_at__gt=at(first_on - (STOOD_D + 2) * DAY, 0))
    visited = set(seen.values_list("site_id", flat=True))
    for one in built:
        plain = not one.cabinet.story and not one.cabinet.ails and one.hours_per_day == 24
        alone = plain and len(one.place.cabinets) == 1 and one.place.site.pk not in visited
        if alone and one.state_on(today) == SystemState.RUNNING:
            return one
    return None


def _frozen(one, today):
    climate = climate_of(one.place.site)
    plan = pond_year(climate, (), winter_of(today, climate.latitude))
    known = plan.ice_on and plan.ice_out
    return bool(known) and plan.ice_on.on <= today <= plan.ice_out.on


def _told(one, read_at):
    known = known_of(one.system, now=read_at)
    surface = max(4.0, min(26.0, outside_c(read_at.date()) + 2))
    depth = (known.pond.depth_max_m or 3.0) * 0.85
    temperatures = (f"{surface:.1f}", f"{surface - 0.2:.1f}")
    return Told(
        read_at=read_at,
        pond=known.pond,
        probes=[
            Probe(f"{metres:.1f}", warm, air)
            for metres, warm, air in zip((0.0, depth), temperatures, OXYGEN, strict=True)
        ],
        off_hours=24.0 * STOOD_D,
        ran_full_time=True,
        layered_season=known.layered_season,
        ice=False,
        confirmed=True,
    )
