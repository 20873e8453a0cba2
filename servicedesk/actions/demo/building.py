"""Build the demo firm: invented, the same for the same day, and ready to work with."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from random import Random

from django.db import transaction

from equipment.actions import assessment
from equipment.models import System
from servicedesk.actions import assessing
from servicedesk.actions.demo import (
    closures,
    handover,
    history,
    papers,
    people,
    places,
    ramps,
    rounds,
    seasons,
    shelf,
    stock,
    systems,
    week,
    winters,
)
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.models import JobBeat, Ticket, Visit

SEED = "alder and rill"
SYSTEMS = 180
SMALLEST = 20
STARTS_H = 6  # the hour of the day at which the demo begins

Progress = Callable[[str, int, int], None]


class DemoRefused(Exception):
    """This demo cannot be built; the text says why and what to do."""


@dataclass(frozen=True)
class Demo:
    """What was built, for whoever prints it."""

    today: date
    systems: int
    ponds: int
    visits: int
    open_tickets: int
    published: list[date]


def refuse_too_small(number: int) -> None:
    if number < SMALLEST:
        raise DemoRefused(f"The demo has at least {SMALLEST} systems: its stories need them.")


def judge_readings(*, now: datetime) -> None:
    """What the readings say, twice: many that moved together are told only from all of them."""
    ids = list(System.objects.order_by("pk").values_list("pk", flat=True))
    assessing.assess(ids, now=now)
    together = assessment.patterns_at(now).values()
    moved = {pk for patterns in together for one in patterns for pk in one.systems}
    assessing.assess(moved, now=now)
    JobBeat.objects.update_or_create(name=assessing.BEAT, defaults={"beat_at": now})


@transaction.atomic
def build_demo(
    *,
    today: date,
    number: int = SYSTEMS,
    progress: Progress = lambda what, done, of: None,
) -> Demo:
    """Fill an empty database with the demo firm as of the morning of a day.

    number: how many systems. progress: hears what is made, how many of it are, and of how many.
    Raises DemoRefused.
    """
    refuse_too_small(number)
    if people.User.objects.exists():
        raise DemoRefused("There is a firm in this database already. The demo needs an empty one.")
    draw = Random(SEED)
    now = systems.at(today, STARTS_H)
    load_task_defaults()
    people.make_firm()
    crew = people.make_crew(today=today)
    there = places.draw_places(draw, number)
    owners = people.make_owners(draw, max(place.owner for place in there) + 1, today=today)
    places.save_places(draw, there, owners, now=now)
    progress("places", len(there), len(there))
    built = systems.draw_systems(draw, there, today=today)
    systems.save_systems(draw, built, by=crew.manager)
    progress("systems", len(built), len(built))
    week.agree_tasks(crew, today=today)
    days = rounds.days_of_work(draw, built, rounds.Tasks.read(), today=today)
    history.write_history(
        draw, days, crew, today=today, progress=lambda done, of: progress("visits", done, of)
    )
    judge_readings(now=now)
    week.open_tickets(
        today=today, now=now, progress=lambda done, of: progress("due days", done, of)
    )
    winters.decide_winters(crew, now=now)
    published = week.publish_days(crew, today=today)
    week.send_mails(today=today)
    papers.owe_reports()
    week.tell_stories(draw, built, crew, today=today, now=now)
    shelf.fill_shelf(crew, today=today)
    handover.hand_over(crew, today=today, now=now)
    closures.close_ways(crew, today=today, now=now)
    stock.stock_vans(crew, today=today, now=now)
    seasons.tell_seasons(crew, today=today, now=now)
    ramps.bring_up(built, crew, today=today, now=now)
    return Demo(
        today=today,
        systems=len(built),
        ponds=sum(len(place.ponds) for place in there),
        visits=Visit.objects.count(),
        open_tickets=Ticket.objects.open().count(),
        published=published,
    )
