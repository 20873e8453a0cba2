"""Small firms for simulated years, made without a database."""

from datetime import date, timedelta

from equipment.kinds import SystemState
from servicedesk.kinds import Clock, Harm, Skill
from servicedesk.planning.due.facts import Place, RhythmRule, TaskRule
from servicedesk.planning.due.timeline import StateFrom, timeline
from servicedesk.planning.whatif.world import Duty, PaidDay, Person, Work, WorkSite, World

MONDAY = date(2026, 6, 1)
LONG_AGO = date(2024, 1, 1)
SHOP = (45.0, -93.0)


def filter_change(**fields):
    start = {"slug": "filter_change", "name": "Filter change", "minutes": 20}
    start |= {"harm": Harm.ASSET, "parts": ("filter_element",)}
    return Work(**start | fields)


def duty(key="position:1", *, work=None, due_on=MONDAY + timedelta(days=30), every=90, **fields):
    """A task every so many days, due first on a day, five days early or late are fine."""
    work = work or filter_change()
    clock = fields.pop("clock", Clock.CAL)
    states = fields.pop("states", ())
    history = [StateFrom(LONG_AGO, SystemState.RUNNING), *states]
    line = timeline(history, counting=fields.pop("counting", {SystemState.RUNNING}))
    rule = TaskRule(
        work.slug, work.name, (RhythmRule(clock, every, "d"),), early_days=5, late_days=5
    )
    start = {
        "work": work,
        "place_key": key,
        "place": Place(line, due_on - timedelta(days=every)),
        "rules": {SystemState.RUNNING: (rule, line), SystemState.SHUT_WINTER: (rule, line)},
        "state": SystemState.RUNNING,
        "states": tuple(states),
        "resets": frozenset({(key, work.slug)}),
    }
    return Duty(**start | fields)


def site(number=1, *duties, lat=45.5, lon=-93.0, **fields):
    duties = duties or (duty(f"position:{number}"),)
    return WorkSite(f"site:{number}", f"Mill Lane {number}", lat, lon, duties, **fields)


def person(number=1, **fields):
    days = tuple(PaidDay(weekday, 450, 960, 30, LONG_AGO) for weekday in range(1, 6))
    start = {"key": str(number), "name": f"Dario {number}", "days": days}
    start |= {"skills": frozenset({Skill.TRAINED})}
    return Person(**start | fields)


def world(*sites, people=None, **fields):
    start = {
        "begins_on": MONDAY,
        "shop": SHOP,
        "people": (person(),) if people is None else tuple(people),
        "sites": sites or (site(),),
        "road_factor": 1.0,
        "speed_km_h": 60.0,
        "setup_min": 10,
        "full_percent": 80,
    }
    return World(**start | fields)


def many(count=12, people=2, **fields):
    """Sites in a ring around the shop, each with its filter due on a day of its own."""
    sites = [
        site(
            n,
            duty(f"position:{n}", due_on=MONDAY + timedelta(days=5 * n), every=60),
            lat=45 + 0.1 * ((n % 5) - 2),
            lon=-93 + 0.12 * ((n % 7) - 3),
        )
        for n in range(1, count + 1)
    ]
    return world(*sites, people=[person(n) for n in range(1, people + 1)], **fields)
