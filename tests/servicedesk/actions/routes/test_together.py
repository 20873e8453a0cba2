"""People who meet, from the planning to the published week, and what a hand changes in it."""

from datetime import UTC, datetime, time, timedelta
from functools import partial

import pytest

from servicedesk.actions.routes import by_hand, hands, plans
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.reopening import reopen_day
from servicedesk.actions.routes.undoing import undo
from servicedesk.kinds import Skill
from servicedesk.models import Absence, LeftOut, Reminder, Route, Stop
from servicedesk.planning.routing.frozen import problem_from
from servicedesk.planning.routing.solver import plan_week
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db

WEDNESDAY = TUESDAY + timedelta(days=1)
judged = {"by": None, "today": TODAY, "now": BEFORE}


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def dario():
    return make.technician(boat=True, skill=Skill.TECHNICIAN)


@pytest.fixture
def wen():
    return make.technician(skill=Skill.TECHNICIAN)


def planned():
    run = plans.ask_for_plan(MONDAY, **judged, iterations=20, seeds=(1,))
    plans.start_plans(launch=partial(solve, run))
    plans.collect_plans(clock=weeks.clock)
    run.refresh_from_db()
    return run


def solve(run, solve):
    taken = plans.take_solve(run.pk, solve.seed)
    problem = problem_from(run.problem)
    assert plans.finish_solve(taken, problem, plan_week(problem, iterations=20, seed=solve.seed))


def stays(ticket):
    rows = Stop.objects.filter(tickets=ticket).select_related("route").order_by("route__technician")
    return [(stop.route.technician, stop.route.day, stop.arrive_at) for stop in rows]


def together(ticket):
    """Who meets, on which day; all at one minute."""
    found = stays(ticket)
    assert len({(day, at) for _, day, at in found}) == 1
    return [person for person, *_ in found], found[0][1]


def test_boat_job_is_planned_by_itself_with_the_other_work_of_the_site(dario, wen):
    boat = weeks.ticket(0.1, task=make.task(needs_boat=True, minutes=60))
    alone = weeks.ticket(site=boat.site)
    planned()

    assert together(boat)[0] == [dario, wen]
    assert len(stays(alone)) == 1
    assert not Stop.objects.filter(by_hand=True).exists()
    assert not LeftOut.objects.exists()


def test_each_of_them_reads_whom_he_meets_and_when(dario, wen):
    ticket = weeks.for_two()
    planned()

    for one, other in ((dario, wen), (wen, dario)):
        because = Stop.objects.get(route__technician=one).because
        assert f"Meets {other} here at " in because
    assert "as soon as" in because
    assert len(stays(ticket)) == 2


def test_planning_again_is_free_to_move_a_meeting(dario, wen):
    ticket = weeks.for_two()
    planned()
    day = together(ticket)[1]
    Absence.objects.create(technician=wen, from_on=day, to_on=day)
    planned()

    assert together(ticket)[1] != day


def test_second_person_is_found_for_the_one_who_was_placed_by_hand(dario, wen):
    first = weeks.ticket()
    hands.place_by_hand(first, technicians=[wen], day=WEDNESDAY, start=None, today=TODAY)
    pair = weeks.for_two(site=first.site)
    planned()

    assert together(pair) == ([dario, wen], WEDNESDAY)
    assert [person for person, *_ in stays(first)] == [wen]


def test_meeting_is_published_as_it_stands_and_its_owner_told_once(dario, wen):
    site = make.site(owner=make.contact().customer, lat=44.95, lon=-93.0)
    ticket = weeks.for_two(site=site)
    planned()
    before = stays(ticket)
    publish_week(MONDAY, **judged)

    assert stays(ticket) == before
    assert Route.objects.filter(published_at=BEFORE).count() == 2
    assert Reminder.objects.filter(ticket=ticket).count() == 1


def test_meeting_keeps_its_minute_when_more_is_put_on_the_day_of_one(dario, wen):
    ticket = weeks.for_two()
    planned()
    day = together(ticket)[1]
    before = stays(ticket)
    hands.place_by_hand(weeks.ticket(0.2), technicians=[wen], day=day, start=None, today=TODAY)

    assert stays(ticket) == before


def test_moving_one_moves_both_and_keeps_their_hour(dario, wen):
    ticket = weeks.for_two()
    hands.place_by_hand(ticket, technicians=[dario, wen], day=MONDAY, start=time(10), today=TODAY)
    stop = Stop.objects.get(route__technician=wen)
    by_hand.move(stop, technician=wen, day=TUESDAY, **judged)

    ten = datetime(2026, 11, 24, 16, tzinfo=UTC)
    assert stays(ticket) == [(dario, TUESDAY, ten), (wen, TUESDAY, ten)]
    assert not Route.objects.filter(day=MONDAY).exists()
    assert Stop.objects.filter(by_hand=True).count() == 2


def test_moved_pair_meets_at_another_hour_where_its_own_is_taken(dario, wen):
    ticket, other = weeks.for_two(), weeks.for_two()
    for one, day in ((ticket, MONDAY), (other, TUESDAY)):
        hands.place_by_hand(one, technicians=[dario, wen], day=day, start=time(10), today=TODAY)
    stop = Stop.objects.get(route__technician=dario, route__day=MONDAY)
    by_hand.move(stop, technician=dario, day=TUESDAY, **judged)

    assert together(ticket) == ([dario, wen], TUESDAY)
    assert stays(ticket)[0][2] != stays(other)[0][2]


def test_somebody_else_takes_the_place_of_one_of_them(dario, wen):
    kay = make.technician(skill=Skill.TECHNICIAN)
    ticket = weeks.for_two()
    hands.place_by_hand(ticket, technicians=[dario, wen], day=MONDAY, start=time(10), today=TODAY)
    stop = Stop.objects.get(route__technician=wen)
    by_hand.move(stop, technician=kay, day=MONDAY, **judged)

    assert together(ticket) == ([dario, kay], MONDAY)
    assert Stop.objects.get(route__technician=kay).uuid == stop.uuid


@pytest.mark.parametrize("who", ["him who is there already", "nobody that day"])
def test_pair_that_cannot_move_says_why_and_stays(dario, wen, who):
    ticket = weeks.for_two()
    hands.place_by_hand(ticket, technicians=[dario, wen], day=MONDAY, start=time(10), today=TODAY)
    before = stays(ticket)
    stop = Stop.objects.get(route__technician=wen)
    if who == "nobody that day":
        Absence.objects.create(technician=dario, from_on=TUESDAY, to_on=TUESDAY)
        change, words = {"technician": wen, "day": TUESDAY}, "no shift"
    else:
        change, words = {"technician": dario, "day": TUESDAY}, "meets the others there already"
    with pytest.raises(RouteRefused, match=words):
        by_hand.move(stop, **change, **judged)

    assert stays(ticket) == before


def test_nobody_waits_for_one_whose_day_was_published_while_the_week_was_planned(dario, wen):
    pair, alone = weeks.for_two(), weeks.ticket(0.1)
    run = plans.ask_for_plan(MONDAY, **judged, iterations=20, seeds=(1,))
    plans.start_plans(launch=partial(solve, run))
    for number in range(7):
        Route.objects.create(
            technician=wen, day=MONDAY + timedelta(days=number), published_at=BEFORE
        )
    plans.collect_plans(clock=weeks.clock)

    assert stays(pair) == []
    assert [person for person, *_ in stays(alone)] in ([dario], [])


def test_planned_pair_is_taken_off_together(dario, wen):
    ticket = weeks.for_two()
    planned()
    hands.take_off(Stop.objects.filter(tickets=ticket).first(), today=TODAY)

    assert stays(ticket) == []


def test_move_of_a_pair_is_taken_back_whole(dario, wen):
    ticket = weeks.for_two()
    planned()
    before = stays(ticket)
    stop = Stop.objects.filter(tickets=ticket).first()
    day = WEDNESDAY if before[0][1] != WEDNESDAY else TUESDAY
    change = by_hand.move(stop, technician=stop.route.technician, day=day, **judged)
    assert together(ticket) == ([dario, wen], day)
    undo(change, **judged)

    assert stays(ticket) == before


def published_pair(dario, wen):
    ticket = weeks.for_two()
    alone = weeks.ticket(0.1)
    meet = {"day": TUESDAY, "start": time(11), "today": TODAY}
    hands.place_by_hand(ticket, technicians=[dario, wen], **meet)
    hands.place_by_hand(alone, technicians=[dario], day=TUESDAY, start=None, today=TODAY)
    publish_week(MONDAY, **judged)
    return ticket, alone


def reopened(technician):
    route = Route.objects.get(technician=technician, day=TUESDAY)
    return reopen_day(route, by=make.manager(), today=TODAY, now=BEFORE)


def test_day_with_a_meeting_is_opened_with_the_day_of_the_other(dario, wen):
    published_pair(dario, wen)

    assert [route.technician for route in reopened(dario)] == [wen]
    assert not Route.objects.filter(published_at__isnull=False).exists()


def test_other_work_of_an_opened_day_changes_and_the_meeting_keeps_its_hour(dario, wen):
    ticket, alone = published_pair(dario, wen)
    before = stays(ticket)
    reopened(dario)
    hands.take_off(Stop.objects.get(tickets=alone), today=TODAY)
    publish_week(MONDAY, **judged)

    assert stays(ticket) == before


def test_day_is_not_opened_when_the_other_has_begun_his(dario, wen):
    ticket, _alone = published_pair(dario, wen)
    make.visit(stop=Stop.objects.get(tickets=ticket, route__technician=wen))
    with pytest.raises(RouteRefused, match="is met on this day and has begun it"):
        reopened(dario)

    assert Route.objects.filter(published_at=None).count() == 0


def test_pair_is_not_taken_off_while_the_day_of_one_is_published(dario, wen):
    ticket, _alone = published_pair(dario, wen)
    Route.objects.filter(technician=dario).update(published_at=None)
    with pytest.raises(RouteRefused, match="published and frozen"):
        hands.take_off(Stop.objects.get(tickets=ticket, route__technician=dario), today=TODAY)

    assert Stop.objects.filter(tickets=ticket).count() == 2
