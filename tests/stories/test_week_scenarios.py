"""What the manager meets in a week, from due work to mail: real clocks, real planning."""

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from customers.models import SiteSecret
from equipment.kinds import PartRole, Quantity
from equipment.models import Reading, ReadingSet
from servicedesk.actions.due import refresh_all
from servicedesk.actions.reminders import gather
from servicedesk.actions.routes import plans
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.models import Message, Reminder, Route, Stop, Ticket
from servicedesk.planning.calendar import week_name
from servicedesk.planning.routing.frozen import problem_from
from servicedesk.planning.routing.solver import plan_week
from tests import make
from tests.servicedesk.actions.routes import weeks

pytestmark = pytest.mark.django_db

NOW = timezone.now()
TODAY = NOW.astimezone(ZoneInfo("America/Chicago")).date()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())


@pytest.fixture(autouse=True)
def dario():
    weeks.firm()
    return make.technician(user=make.user(username="dario", first_name="Dario", last_name="Lund"))


def changed(system, task, days_ago, pond=None):
    """A filter of a system that runs all day, changed so many days ago."""
    place = make.filter_position(system, pond=pond)
    done_at = NOW - timedelta(days=days_ago)
    make.work(place, task, done_at=done_at, entered_at=done_at)
    return place


def open_tickets():
    refresh_all(now=NOW)
    open_due_tickets(clock=lambda: NOW)


def plan():
    run = plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=NOW, iterations=100, seeds=(1,))
    problem = problem_from(run.problem)
    solve = plans.take_solve(run.pk, 1)
    plans.finish_solve(solve, problem, plan_week(problem, iterations=100, seed=1))
    plans.collect_plans(clock=lambda: NOW)


def test_filter_in_its_window_is_on_the_route_with_all_that_the_manager_wants_to_know(client):
    pond = make.pond(name="Mill Pond")
    system = make.system(site=pond.site, since=NOW - timedelta(days=400))
    task = make.task(every=120, kit=["torch"], part_roles=[PartRole.FILTER_ELEMENT])
    place = changed(system, task, 115, pond=pond)
    model = place.serves.fittings.get().component.type
    make.part_for(model, PartRole.FILTER_ELEMENT, part=make.part(number="F-120"))
    readings = ReadingSet.objects.create(system=system, taken_at=NOW, entered_at=NOW)
    Reading.objects.create(set=readings, quantity=Quantity.PRESSURE, value=43_437)  # 6.3 psi
    SiteSecret.objects.create(site=pond.site, kind="gate_code", text="4711", entered_at=NOW)
    open_tickets()
    plan()
    client.force_login(make.manager())
    route = Route.objects.get()
    day = reverse("week_day", args=[week_name(MONDAY), "dario", route.day.isoformat()])
    shown = client.get(day).content.decode()

    due_on = (NOW - timedelta(days=115)).astimezone(ZoneInfo("America/Chicago")).date()
    left = (due_on + timedelta(days=120) - route.day).days
    assert any(words in shown for words in (f"Due in {left} day", "Due today", "within tolerance"))
    assert "F-120" in shown
    assert "torch" in shown
    assert re.search(r"6\.3\spsi", shown)
    assert "gate code is shown on the technician" in shown
    assert "4711" not in shown
    assert Ticket.objects.get().because in shown


def test_two_systems_at_one_pond_are_one_stop_one_drive_and_one_mail():
    contact = make.contact()
    site = make.site(owner=contact.customer, name="Quillbrook Upper", lat=44.95, lon=-93.0)
    pond = make.pond(site=site)
    task = make.task(every=120)
    for days_ago in (118, 110):
        changed(make.system(site=site, since=NOW - timedelta(days=400)), task, days_ago, pond=pond)
    open_tickets()
    plan()
    publish_week(MONDAY, by=None, today=TODAY, now=NOW)
    stop = Stop.objects.get()
    gather.gather_lines(now=NOW + timedelta(days=1))

    assert stop.tickets.count() == 2
    assert stop.route.stops.count() == 1
    assert Reminder.objects.filter(contact=contact).count() == 2
    assert Message.objects.filter(contact=contact).count() == 1
