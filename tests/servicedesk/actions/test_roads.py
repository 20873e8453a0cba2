"""Drives are asked for once, kept, and guessed wherever the routing service does not answer."""

from datetime import timedelta

import pytest
from django.core.management import call_command

from servicedesk.actions import roads
from servicedesk.actions.routes import measure, plans
from servicedesk.actions.routes.week import read_week
from servicedesk.actions.routes.wishes import problem_as_it_stands
from servicedesk.kinds import PlanState, RoadState
from servicedesk.models import PlanRun, RoadTime
from servicedesk.planning import travel
from servicedesk.planning.routing.problem import Place, WeekProblem
from servicedesk.roads import spot_key
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db

PLACES = [Place(45.0, -93.0), Place(45.0, -93.1), Place(45.2, -93.0)]


@pytest.fixture(autouse=True)
def service(road_service, settings):
    settings.ROADS_URL = road_service.url
    return road_service


def ask(places=PLACES, at=BEFORE, **fields):
    return roads.ask(places, clock=lambda: at, **fields)


def many(count):
    return [Place(45 + n // 20 / 50, -93 + n % 20 / 50) for n in range(count)]


def week(places):
    return WeekProblem(tuple(places), (), (), roads=roads.known_table(places))


def test_drives_that_are_known_stand_in_the_week_instead_of_guesses():
    assert ask() == roads.Asked(6, 0, 0, roads.Asked.because)

    # a tenth of a degree is ten minutes and ten kilometres by this service
    driving = week(PLACES).travel
    assert driving.minutes.tolist() == [[0, 10, 20], [10, 0, 30], [20, 30, 0]]
    assert driving.hectometres[1].tolist() == [100, 0, 300]


def test_what_is_known_is_not_asked_again_before_half_a_year_is_over(service):
    ask()
    ask(at=BEFORE + timedelta(days=179))
    assert len(service.asked) == 1

    ask(at=BEFORE + timedelta(days=181))
    assert len(service.asked) == 2
    assert RoadTime.objects.count() == 6


def test_site_that_moves_has_new_drives(service):
    ask()
    moved = [*PLACES[:2], Place(45.3, -93.0)]
    ask(moved)

    assert len(service.asked) == 2
    assert week(moved).travel.minutes[0, 2] == 30
    assert week(PLACES).travel.minutes[0, 2] == 20


def test_pages_never_ask(service):
    weeks.firm()
    make.technician()
    weeks.ticket()
    plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE)

    assert service.asked == []
    assert PlanRun.objects.get().roads == RoadState.WANTED


def test_drive_without_a_road_is_longer_than_any_day(service):
    service.change = lambda said: said | {"durations": [[0, None, 20], [None, 0, 3], [20, 3, 0]]}
    asked = ask()

    assert asked.says == "For 2 drives the routing service knows no road."
    assert week(PLACES).travel.minutes[0, 1] == travel.NO_ROAD_MIN


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        ({"status": 429}, "answered with status 429"),
        ({"status": 500}, "answered with status 500"),
        ({"body": b"short"}, "answered with something else than drives"),
        ({"change": lambda said: said | {"durations": []}}, "gave durations of another size"),
    ],
)
def test_planning_goes_on_with_guesses_where_the_service_does_not_answer(service, fault, why):
    vars(service).update(fault)
    asked = ask()

    assert asked.says.startswith(f"6 of 6 drives are guessed: the routing service {why}")
    guessed = WeekProblem(tuple(PLACES), (), ()).travel
    assert (week(PLACES).travel.minutes == guessed.minutes).all()


def test_drives_are_guessed_one_by_one(service):
    ask(PLACES[:2])
    service.status = 500

    assert ask().says == (
        "4 of 6 drives are guessed: the routing service answered with status 500."
    )
    assert week(PLACES).travel.minutes[0, 1] == 10


def test_late_service_costs_its_budget_and_no_more(service):
    service.after_s = 1
    asked = ask(budget_s=0.3)

    assert asked.says == "6 of 6 drives are guessed: the routing service did not answer in time."


def test_old_answer_is_better_than_a_guess(service):
    ask()
    service.status = 500

    assert ask(at=BEFORE + timedelta(days=300)).guessed == 0


def test_every_two_groups_of_fifty_places_are_asked_for_in_one_call(service):
    asked = ask(many(150))

    assert (asked.drives, asked.guessed) == (150 * 149, 0)
    assert len(service.asked) == 3
    assert max(len(spots) for spots, _, _ in service.asked) == 100


def test_ten_new_places_cost_a_few_calls(service):
    places = many(100)
    ask(places)
    service.asked.clear()
    ask([*places, *(Place(46, -93 - n / 50) for n in range(10))])

    assert 1 <= len(service.asked) <= 3


def test_service_that_fails_twice_is_left_alone(service):
    service.status = 500
    ask(many(300))

    assert len(service.asked) == roads.GIVE_UP_AFTER


def test_of_very_many_places_only_near_drives_are_asked_for(service, monkeypatch):
    monkeypatch.setattr(roads, "MANY", 3)
    far = [*PLACES, Place(48.0, -93.0)]  # 311 km and more from the others

    assert ask(far).drives == 6


def test_two_sites_at_one_spot_are_not_asked_about():
    asked = ask([*PLACES, PLACES[0]])

    assert asked.drives == 10  # twelve pairs, two of them of one spot
    assert week([*PLACES, PLACES[0]]).travel.minutes[0].tolist() == [0, 10, 20, 0]


def test_number_of_queries_is_the_same_for_two_places_and_for_fifty(django_assert_num_queries):
    ask(many(50))
    for count in (2, 50):
        with django_assert_num_queries(1):
            roads.known_table(many(count))


def test_without_an_address_nobody_is_asked_and_nothing_is_read(
    service, settings, django_assert_num_queries
):
    settings.ROADS_URL = ""

    with django_assert_num_queries(0):
        assert roads.known_table(PLACES) == ""
        assert ask() == roads.Asked()
    assert service.asked == []


def run_of(**fields):
    weeks.firm()
    make.technician()
    weeks.ticket(0.1)
    weeks.ticket(0.4)
    return plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE, **fields)


def test_one_process_of_a_run_asks_and_both_plan_with_the_same_drives(service):
    run = run_of()
    first = measure.measured(run, clock=weeks.clock, go_on=lambda: True)
    other = PlanRun.objects.get()
    second = measure.measured(other, clock=weeks.clock, go_on=lambda: True)

    assert first == second
    assert first.roads
    assert len(service.asked) == 1
    assert other.roads == RoadState.KNOWN


def test_run_says_how_many_of_its_drives_are_guessed(service):
    service.status = 503
    run = run_of()
    measure.measured(run, clock=weeks.clock, go_on=lambda: True)

    assert run.roads_say == (
        "6 of 6 drives are guessed: the routing service answered with status 503."
    )


def test_process_whose_fellow_died_while_asking_goes_on_with_what_is_known():
    run = run_of()
    PlanRun.objects.update(roads=RoadState.ASKING)  # and nobody asks any more
    problem = measure.measured(run, clock=weeks.clock, go_on=lambda: True, wait_s=0.3)

    assert problem.roads == ""
    run.refresh_from_db()
    assert run.roads == RoadState.KNOWN


def test_late_answer_does_not_change_a_run_that_has_gone_on():
    run = run_of()
    gone_on = []

    def clock():  # asked for while the answer is kept
        gone_on.append(PlanRun.objects.update(roads=RoadState.KNOWN))
        return BEFORE

    measure.measured(run, clock=clock, go_on=lambda: True)

    assert gone_on
    assert PlanRun.objects.get().problem["roads"] == ""


def test_drives_of_this_week_and_the_next_are_known_before_anybody_plans(service):
    weeks.firm()
    make.technician()
    weeks.ticket(0.1)

    assert measure.measure_ahead(clock=weeks.clock) > 0
    assert RoadTime.objects.filter(from_key=spot_key((44.9, -93.2))).exists()


def test_drives_that_nobody_wants_any_more_are_forgotten():
    ask()

    assert roads.forget_old(now=BEFORE + timedelta(days=399)) == 0
    assert roads.forget_old(now=BEFORE + timedelta(days=401)) == 6


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("status", [200, 500])
def test_real_processes_ask_once_and_say_what_they_guessed(
    service, status, test_database, monkeypatch
):
    service.status = status
    for name, value in (test_database | {"ROADS_URL": service.url}).items():
        monkeypatch.setenv(f"SERVICEDESK_{name}", str(value))
    weeks.firm()
    make.technician()
    weeks.ticket(0.1)
    weeks.ticket(0.2)
    call_command("plan_week", "2035-W10", iterations=30)

    run = PlanRun.objects.get()
    assert run.state == PlanState.DONE
    assert bool(run.problem["roads"]) is (status == 200)
    assert ("6 of 6 drives are guessed" in run.says) is (status == 500)
    # one call that was answered, or one that was not: there is one block of places
    assert len(service.asked) == 1
    assert RoadTime.objects.count() == (6 if status == 200 else 0)


def test_day_that_is_changed_by_hand_is_timed_by_the_drives_that_are_known(service):
    weeks.firm()
    dario = make.technician()
    ticket = weeks.ticket()
    make.stop(ticket, route=make.route(technician=dario, day=MONDAY, published_at=None))
    shop, site = Place(44.9, -93.2), Place(ticket.site.lat, ticket.site.lon)
    ask([shop, site])
    problem, _ = problem_as_it_stands(read_week(MONDAY, today=TODAY))

    # a twentieth of a degree north and a fifth east: 25 minutes by this service
    assert problem.travel.minutes[0, problem.wishes[0].place] == 25
