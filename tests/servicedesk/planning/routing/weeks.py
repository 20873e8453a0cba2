"""Small weeks to plan: the shop in the middle, sites on a line east of it, and random ones."""

from hypothesis import strategies as st

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing.problem import (
    Job,
    Lock,
    Lunch,
    Place,
    Shift,
    StopWish,
    WeekProblem,
    Window,
    skills_held,
)

SHOP = Place(45.0, -93.0)
EVERYBODY = skills_held(frozenset({Skill.REBUILD, Skill.ELECTRICIAN}))
TRAINED = skills_held(frozenset({Skill.TRAINED}))
WEEK = tuple(Window(day) for day in range(5))


def job(key="ticket:1", minutes=30, harm=Harm.ASSET, **fields):
    return Job(key, minutes, harm, **fields)


def shift(technician="dario", day=0, from_min=450, until_min=960, skills=EVERYBODY, **fields):
    return Shift(technician, day, from_min, until_min, 0, skills, **{"boat": True} | fields)


def wish(key="site:1", place=1, jobs=None, windows=WEEK, **fields):
    return StopWish(key, place, jobs or (job(),), windows, **fields)


def week(wishes, shifts=None, km_apart=10, **fields):
    """Sites stand `km_apart` by straight line; place 1 is the first east of the shop."""
    count = max((w.place for w in wishes), default=0)
    degrees = km_apart / 78.6  # one degree of longitude at 45 degrees north
    places = [SHOP, *(Place(45.0, -93.0 + degrees * n) for n in range(1, count + 1))]
    return WeekProblem(tuple(places), tuple(shifts or [shift()]), tuple(wishes), **fields)


skills = st.sampled_from([Skill.TRAINED, Skill.TECHNICIAN, Skill.REBUILD, Skill.ELECTRICIAN])


@st.composite
def jobs(draw, site):
    count = draw(st.integers(1, 3))
    made = [
        Job(
            f"ticket:{site}-{n}",
            draw(st.integers(4, 120)),
            draw(st.sampled_from(list(Harm))),
            draw(skills),
            draw(st.integers(-20, 90)),
            crew=draw(st.sampled_from([1, 1, 1, 2, 2, 3])),
            boat=draw(st.integers(0, 4)) == 0,
            units=draw(st.integers(0, 2)),
        )
        for n in range(count)
    ]
    if draw(st.booleans()):
        made.append(Job(f"due:{site}", draw(st.integers(4, 60)), Harm.ASSET, pulled_forward=True))
    return tuple(made)


@st.composite
def windows(draw):
    dawn, dusk = draw(st.sampled_from([(0, 1440), (470, 990), (330, 1300)]))
    light = {"boat_from_min": dawn, "boat_until_min": dusk}
    if draw(st.booleans()):
        return tuple(Window(day, **light) for day in range(draw(st.integers(0, 2)), 5))
    made = []
    for day in draw(st.sets(st.integers(0, 4), max_size=4)):
        opens = draw(st.integers(300, 900))
        closes = draw(st.integers(opens + 10, 1200))
        starts_by = draw(st.none() | st.integers(opens, closes))
        made.append(Window(day, opens, closes, starts_by, **light))
    return tuple(made)


@st.composite
def locks(draw, shifts, crew):
    if not shifts or draw(st.integers(0, 4)):
        return ()
    first = draw(st.sampled_from(shifts))
    others = [s for s in shifts if s.day == first.day and s.technician != first.technician]
    if crew == 1 or not others or draw(st.booleans()):
        return (Lock(first.technician, first.day, draw(st.none() | st.integers(480, 900))),)
    start = draw(st.integers(500, 800))
    return (Lock(first.technician, first.day, start), Lock(others[0].technician, first.day, start))


@st.composite
def random_shifts(draw):
    shifts = []
    for technician in ("dario", "wen", "kay")[: draw(st.integers(0, 3))]:
        held = skills_held(draw(st.frozensets(skills, min_size=1, max_size=2)))
        boat = draw(st.booleans())
        for day in draw(st.sets(st.integers(0, 4), max_size=4)):
            begin = draw(st.integers(360, 800))
            end = draw(st.integers(begin + 30, 1140))
            van = draw(st.none() | st.integers(1, 8))
            shifts.append(Shift(technician, day, begin, end, 0, held, 30, boat, van))
    return shifts


@st.composite
def shifts_of_crews(draw):
    """People enough to meet, on days that are long enough for it."""
    shifts = []
    for technician in ("dario", "wen", "kay")[: draw(st.integers(2, 3))]:
        held = EVERYBODY if draw(st.integers(0, 2)) else TRAINED
        boat = draw(st.booleans())
        for day in sorted(draw(st.sets(st.integers(0, 4), min_size=2))):
            begin, end = draw(st.integers(400, 560)), draw(st.integers(840, 1100))
            shifts.append(Shift(technician, day, begin, end, 0, held, 30, boat))
    return shifts


@st.composite
def random_weeks(draw):
    shifts = draw(random_shifts() | shifts_of_crews())
    wishes, places = [], [SHOP]
    for site in range(draw(st.integers(0, 7))):
        places.append(
            Place(45 + draw(st.integers(-50, 50)) / 100, -93 + draw(st.integers(-50, 50)) / 100)
        )
        made = draw(jobs(site))
        wishes.append(
            StopWish(
                f"site:{site}",
                site + 1,
                made,
                draw(windows()),
                draw(st.integers(0, 20)),
                draw(st.integers(0, 7)),
                draw(locks(shifts, max(one.people for one in made))),
                infested=draw(st.integers(0, 5)) == 0,
            )
        )
    lunch = draw(st.sampled_from([Lunch(), Lunch(minutes=0), Lunch(690, 45)]))
    return WeekProblem(tuple(places), tuple(shifts), tuple(wishes), lunch)
