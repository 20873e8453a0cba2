"""The sentence that says why a stop is there."""

from servicedesk.kinds import Harm
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.problem import Job, Lock, StopWish, Window
from servicedesk.planning.routing.whys import meets, why_there
from tests.servicedesk.planning.routing import weeks

FILTER = Job("ticket:1", 10, Harm.ASSET, days_late=2, name="Filter change")
FISH = Job("ticket:2", 10, Harm.FISH, days_late=-1, name="Oxygen check")
EARLY = Job("due:3", 10, Harm.COSMETIC, days_late=-30, pulled_forward=True, name="Gauge check")


def why(*jobs, locks=(), day=0):
    wish = StopWish("site:1", 0, jobs, (Window(0),), locks=locks)
    return why_there(wish, jobs, day)


def test_gravest_harm_comes_first_with_its_lateness_on_the_day_of_the_stop():
    assert why(FILTER, FISH, day=3) == (
        "Fish: Oxygen check, 2 days past its due day. Also due: Filter change."
    )


def test_what_is_done_early_is_named_apart():
    assert why(FILTER, EARLY).endswith("Done along, not due yet: Gauge check.")


def test_stop_that_could_wait_says_that_the_way_leads_past():
    assert why(EARLY) == "Can wait, but the way leads past: Gauge check, due 30 days later."


def test_day_itself_and_one_day_are_said_as_people_say_them():
    assert "due that day" in why(FISH, day=1)
    assert "1 day past its due day" in why(FISH, day=2)
    assert "due 1 day later" in why(FISH, day=0)


def test_hand_is_said():
    assert why(FILTER, locks=(Lock("1", 0),)).endswith("Kept here by hand.")


def said_of_pair(problem):
    plan = plan_week_greedily(problem)
    said = {}
    for route in plan.routes:
        (stop,) = [stop for stop in route.stops if stop.wish == "site:1"]
        there = meets(problem, plan.routes, route, stop)
        wish = problem.wish_by_key["site:1"]
        said[route.technician] = why_there(wish, wish.jobs, route.day, there)
    return said


PAIR = Job("ticket:1", 60, Harm.ASSET, crew=2)


def test_meeting_says_with_whom_at_what_time_and_why_not_earlier():
    late = [weeks.shift("dario"), weeks.shift("wen", from_min=500)]
    said = said_of_pair(weeks.week([weeks.wish(jobs=(PAIR,))], late))

    assert said["dario"].endswith("Meets wen here at 08:35, as soon as wen can be there.")
    assert said["wen"].endswith("Meets dario here at 08:35, as soon as wen can be there.")


def test_meeting_placed_by_hand_says_so():
    locks = tuple(Lock(name, 0, 600) for name in ("dario", "wen"))
    people = [weeks.shift("dario"), weeks.shift("wen")]
    said = said_of_pair(weeks.week([weeks.wish(jobs=(PAIR,), locks=locks)], people))

    assert said["wen"].endswith("Meets dario here at 10:00, placed by hand.")
