"""What the plan left out names the people and the time that would do after all."""

from datetime import time, timedelta

import pytest

from servicedesk.actions.routes import alternatives, hands
from servicedesk.actions.routes.horizon import problem_ahead
from servicedesk.actions.routes.week import read_week
from servicedesk.models import LeftOut, PlanRun
from servicedesk.planning.routing.problem import LeftOut as Without
from servicedesk.planning.routing.problem import LeftOutReason, WeekPlan
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def people():
    weeks.firm()
    return [make.technician(user=make.user(first_name=name)) for name in ("Dario", "Wen")]


def left_out(*tickets):
    """The rows of a plan that found no place for some tickets, and stands empty."""
    problem = problem_ahead(read_week(MONDAY, today=TODAY))
    wanted = {f"ticket:{ticket.pk}" for ticket in tickets}
    out = [
        Without(wish.key, job.key, LeftOutReason.FULL, "Every day is full.")
        for wish in problem.wishes
        for job in wish.jobs
        if job.key in wanted
    ]
    run = PlanRun.objects.create(
        week="2026-W48", monday_on=MONDAY, problem={}, iterations=1, asked_at=BEFORE, state="done"
    )
    alternatives.keep_left_out(run, problem, WeekPlan((), tuple(out)))
    return {row.ticket_id: row for row in LeftOut.objects.filter(plan_run=run)}


def test_work_for_two_names_both_and_their_time_and_stands_where_it_is_placed(people):
    ticket = weeks.for_two()
    row = left_out(ticket)[ticket.pk]

    assert MONDAY <= row.day < MONDAY + timedelta(days=7)
    assert sorted(row.people) == sorted(person.pk for person in people)
    assert row.technician_id == row.people[0]
    assert time(7) <= row.meet_at <= time(18)
    assert row.detour_hm > 0
    hands.place_by_hand(
        ticket,
        technicians=alternatives.people_of(row),
        day=row.day,
        start=row.meet_at,
        today=TODAY,
    )
    assert {place[:2] for place in weeks.places()} == {(person.pk, row.day) for person in people}


def test_work_for_two_that_can_wait_has_its_day_too(people):
    ticket = weeks.for_two(due_when_opened_on=MONDAY + timedelta(days=12))
    row = left_out(ticket)[ticket.pk]

    assert len(row.people) == 2


def test_work_for_three_has_none_where_two_work():
    ticket = weeks.ticket(task=make.task(crew=3, minutes=60))
    row = left_out(ticket)[ticket.pk]

    assert (row.people, row.day, row.technician) == ([], None, None)


def test_meetings_are_looked_for_gravest_first_and_only_so_many(people, monkeypatch):
    monkeypatch.setattr(alternatives, "MEETINGS", 1)
    mild = weeks.ticket(task=make.task(crew=2, minutes=60, harm="cosmetic"))
    grave = weeks.ticket(0.1, task=make.task(crew=2, minutes=60, harm="fish"))
    rows = left_out(mild, grave)

    assert rows[grave.pk].people
    assert not rows[mild.pk].people
