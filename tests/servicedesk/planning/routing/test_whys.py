"""The sentence that says why a stop is there."""

from servicedesk.kinds import Harm
from servicedesk.planning.routing.problem import Job, Lock, StopWish, Window
from servicedesk.planning.routing.whys import why_there

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


def test_hand_and_meeting_are_said():
    assert why(FILTER, locks=(Lock("1", 0),)).endswith("Kept here by hand.")
    assert why(FILTER, locks=(Lock("1", 0, 600), Lock("2", 0, 600))).endswith("2 people meet here.")
