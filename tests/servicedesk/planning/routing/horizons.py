"""Random horizons of three weeks: windows that open and close, parts that come, infested water."""

from dataclasses import replace

from hypothesis import strategies as st

from servicedesk.planning.routing.problem import Lunch, Shift, Window
from tests.servicedesk.planning.routing.weeks import EVERYBODY, random_weeks, week

THREE_WEEKS = tuple(Window(day) for day in range(21) if day % 7 < 5)


def shifts(technicians=("dario",), days=range(5), weeks=3, **fields):
    return [
        Shift(name, 7 * n + day, 480, 960, 0, EVERYBODY, **fields)
        for n in range(weeks)
        for day in days
        for name in technicians
    ]


def horizon(wishes, people=None, **fields):
    fields = {"weeks": 3, "full_percent": 100, "lunch": Lunch(minutes=0)} | fields
    return week(wishes, people or shifts(), **fields)


@st.composite
def random_horizons(draw):
    one = draw(random_weeks())
    people = [replace(s, van_units=draw(st.none() | st.integers(2, 6))) for s in one.shifts]
    people += [replace(s, day=s.day + 7 * n) for s in people for n in (1, 2)]
    wishes = []
    for wish in one.wishes:
        jobs = tuple(_with_window(draw, job) for job in wish.jobs)
        later = tuple(replace(w, day=w.day + 7 * n) for w in wish.windows for n in (1, 2))
        wishes.append(
            replace(
                wish,
                jobs=jobs,
                windows=wish.windows + later,
                good_until_day=draw(st.integers(0, 30)),
                infested=draw(st.booleans()),
                detours_hm=tuple(draw(st.lists(st.integers(0, 900), max_size=4))),
            )
        )
    return replace(one, shifts=tuple(people), wishes=tuple(wishes), weeks=3)


def _with_window(draw, job):
    opens = draw(st.none() | st.integers(-20, 20))
    return replace(
        job,
        opens_day=opens,
        closes_day=draw(st.none() | st.integers(max(-job.days_late, opens or 0), 90)),
        ready_day=draw(st.none() | st.integers(0, 9)),
        every_days=draw(st.none() | st.sampled_from([50.0, 120.0])),
        units=draw(st.integers(0, 2)),
    )
