"""Changes of a week by hand, each judged at once."""

from datetime import UTC, datetime, time, timedelta

import pytest

from customers.models import OpeningHours
from servicedesk import kinds
from servicedesk.actions.routes import hands, plans
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.models import Absence, Hold, Route, Stop
from servicedesk.planning.calendar import said_day
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db

TEN = datetime(2026, 11, 23, 16, tzinfo=UTC)  # 10:00 in Chicago


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def dario():
    return make.technician(boat=True)


@pytest.fixture
def wen():
    return make.technician()


def place(ticket, *technicians, day=MONDAY, start=None):
    hands.place_by_hand(ticket, technicians=list(technicians), day=day, start=start, today=TODAY)


def stop_of(ticket, technician):
    return Stop.objects.get(tickets=ticket, route__technician=technician)


def test_ticket_is_placed_with_its_times(dario):
    ticket = weeks.ticket()
    place(ticket, dario)

    stop = stop_of(ticket, dario)
    assert (stop.by_hand, stop.locked, stop.number) == (True, True, 1)
    assert stop.leave_at - stop.arrive_at == timedelta(minutes=10 + 8)
    assert stop.route.drive_min > 0


def test_two_person_ticket_stands_on_two_routes_at_one_time(dario, wen):
    ticket = weeks.for_two()
    place(ticket, dario, wen, start=time(10))

    assert [stop_of(ticket, one).arrive_at for one in (dario, wen)] == [TEN, TEN]


def test_pair_keeps_its_time_when_more_is_put_on_the_day(dario, wen):
    pair = weeks.for_two()
    place(pair, dario, wen, start=time(10))
    place(weeks.ticket(0.2), dario)

    assert [stop_of(pair, one).arrive_at for one in (dario, wen)] == [TEN, TEN]
    assert Route.objects.get(technician=dario).stops.count() == 2


def test_one_person_work_of_the_site_goes_along_with_the_first(dario, wen):
    site = make.site()
    pair, alone = weeks.for_two(site=site), weeks.ticket(site=site)
    place(alone, wen, day=TUESDAY)
    place(pair, dario, wen, start=time(10))

    assert set(stop_of(pair, dario).tickets.all()) == {pair, alone}
    assert set(stop_of(pair, wen).tickets.all()) == {pair}
    assert not Route.objects.filter(day=TUESDAY).exists()


def test_work_that_the_first_is_not_able_to_do_stays_behind(dario, wen):
    pair = weeks.for_two()
    rebuild = weeks.ticket(site=pair.site, task=make.task(skill=kinds.Skill.REBUILD))
    place(pair, dario, wen, start=time(10))

    assert stop_of(pair, dario).tickets.get() == pair
    assert not rebuild.stops.exists()


def test_what_does_not_fit_beside_the_ticket_stays_behind(dario):
    asked = weeks.ticket()
    due = weeks.ticket(site=asked.site)
    later = weeks.ticket(
        site=asked.site,
        task=make.task(minutes=600),
        due_when_opened_on=MONDAY + timedelta(days=30),
    )
    place(asked, dario)

    assert set(stop_of(asked, dario).tickets.all()) == {asked, due}
    assert not later.stops.exists()


@pytest.mark.parametrize("count", [0, 1])
def test_two_person_ticket_is_refused_with_fewer_people(dario, count):
    with pytest.raises(RouteRefused, match="needs two people"):
        place(weeks.for_two(), *[dario, dario][: count + 1], start=time(10))
    assert Stop.objects.count() == 0


def test_pair_has_to_say_when_it_meets(dario, wen):
    with pytest.raises(RouteRefused, match="at what time"):
        place(weeks.for_two(), dario, wen)


def test_boat_work_needs_somebody_who_is_qualified(wen, dario):
    other = make.technician()
    ticket = weeks.ticket(task=make.task(needs_boat=True, minutes=60))
    with pytest.raises(RouteRefused, match="qualified for a boat"):
        place(ticket, wen, other, start=time(10))
    place(ticket, dario, wen, start=time(10))

    assert Stop.objects.count() == 2


def test_skill_that_is_missing_is_refused(wen):
    ticket = weeks.ticket(task=make.task(skill=kinds.Skill.ELECTRICIAN))

    with pytest.raises(RouteRefused, match="has the skill electrician"):
        place(ticket, wen)
    assert Route.objects.count() == 0


def test_closed_site_is_refused(dario):
    ticket = weeks.ticket()
    OpeningHours.objects.create(site=ticket.site, weekday=2, opens=time(9), closes=time(12))

    with pytest.raises(RouteRefused, match="nobody may work there on Monday"):
        place(ticket, dario)
    place(ticket, dario, day=TUESDAY)


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (kinds.HoldKind.TREATMENT, "its water is treated: no visit, no start"),
        (kinds.HoldKind.BLACKOUT, "nobody may come"),
    ],
)
def test_held_day_is_refused_with_the_hold_in_words(dario, kind, said):
    ticket = weeks.ticket()
    Hold.objects.create(
        kind=kind, site=ticket.site, from_on=MONDAY, to_on=MONDAY, reason="by the owner's man"
    )

    with pytest.raises(RouteRefused) as refused:
        place(ticket, dario)
    assert refused.value.sentences[-1] == (
        f"{ticket.site}, {said_day(MONDAY)}: {said} until {said_day(MONDAY)} "
        "(by the owner's man). Choose another day."
    )
    assert not any("opening hours" in sentence for sentence in refused.value.sentences)
    place(ticket, dario, day=TUESDAY)


def test_day_without_a_shift_is_refused(dario):
    Absence.objects.create(technician=dario, from_on=MONDAY, to_on=MONDAY)

    with pytest.raises(RouteRefused, match="has no shift"):
        place(weeks.ticket(), dario)


def test_day_that_is_too_long_is_refused_and_nothing_changes(dario):
    place(weeks.ticket(0.1, task=make.task(minutes=300)), dario)
    before = weeks.places()

    with pytest.raises(RouteRefused, match="after the shift ends"):
        place(weeks.ticket(0.2, task=make.task(minutes=300)), dario)
    assert weeks.places() == before


def test_by_hand_a_day_may_be_filled_beyond_the_room_for_surprises(dario):
    place(weeks.ticket(task=make.task(minutes=400)), dario)

    assert Stop.objects.count() == 1


def test_stop_is_moved_and_both_days_are_timed_anew(dario, wen):
    near, far = weeks.ticket(0.1), weeks.ticket(0.3)
    place(near, dario)
    place(far, dario)
    hands.move_stop(stop_of(far, dario), technician=wen, day=TUESDAY, today=TODAY)

    assert [(t, d, n) for t, d, n, _ in weeks.places()] == [
        (dario.pk, MONDAY, 1),
        (wen.pk, TUESDAY, 1),
    ]
    assert Route.objects.get(technician=dario).drive_km < Route.objects.get(technician=wen).drive_km


def test_move_that_breaks_a_rule_leaves_everything_where_it_was(dario, wen):
    ticket = weeks.ticket()
    place(ticket, dario)
    Absence.objects.create(technician=wen, from_on=MONDAY, to_on=MONDAY)
    before = weeks.places()

    with pytest.raises(RouteRefused, match="has no shift"):
        hands.move_stop(stop_of(ticket, dario), technician=wen, day=MONDAY, today=TODAY)
    assert weeks.places() == before


def test_stop_can_leave_the_day_of_somebody_who_fell_ill(dario, wen):
    first, second = weeks.ticket(0.1), weeks.ticket(0.3)
    place(first, dario)
    place(second, dario)
    Absence.objects.create(technician=dario, from_on=MONDAY, to_on=MONDAY)
    hands.move_stop(stop_of(first, dario), technician=wen, day=MONDAY, today=TODAY)

    assert stop_of(first, wen)


def test_half_of_a_pair_is_not_moved_alone(dario, wen):
    ticket = weeks.for_two()
    place(ticket, dario, wen, start=time(10))

    with pytest.raises(RouteRefused, match="several people"):
        hands.move_stop(stop_of(ticket, wen), technician=wen, day=TUESDAY, today=TODAY)


def test_stop_does_not_leave_its_week_by_moving(dario):
    ticket = weeks.ticket()
    place(ticket, dario)

    with pytest.raises(RouteRefused, match="inside its week"):
        hands.move_stop(
            stop_of(ticket, dario), technician=dario, day=MONDAY + timedelta(days=7), today=TODAY
        )


def test_stop_taken_off_waits_again_and_a_pair_goes_together(dario, wen):
    ticket = weeks.for_two()
    place(ticket, dario, wen, start=time(10))
    hands.take_off(stop_of(ticket, wen), today=TODAY)

    assert weeks.places() == []
    assert Route.objects.count() == 0


def test_published_day_is_frozen(dario, wen):
    ticket = weeks.ticket()
    place(ticket, dario)
    Route.objects.update(published_at=BEFORE)
    stop = stop_of(ticket, dario)

    for change in (
        lambda: hands.take_off(stop, today=TODAY),
        lambda: hands.move_stop(stop, technician=wen, day=MONDAY, today=TODAY),
        lambda: hands.keep_stop(stop, keep=False, today=TODAY),
        lambda: place(weeks.ticket(), dario),
        lambda: place(ticket, wen),
    ):
        with pytest.raises(RouteRefused, match="frozen"):
            change()


def test_nothing_is_changed_while_the_week_is_planned(dario):
    plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE)

    with pytest.raises(RouteRefused, match="being planned"):
        place(weeks.ticket(), dario)


def test_day_that_is_over_is_refused(dario):
    with pytest.raises(RouteRefused, match="is over"):
        hands.place_by_hand(
            weeks.ticket(), technicians=[dario], day=MONDAY, start=None, today=TUESDAY
        )


def test_closed_ticket_is_refused(dario):
    ticket = weeks.ticket(closed_at=BEFORE, end=kinds.TicketEnd.CANCELLED)

    with pytest.raises(RouteRefused, match="closed already"):
        place(ticket, dario)


def test_stop_is_kept_or_let_go_for_the_next_planning(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    hands.keep_stop(stop_of(ticket, dario), keep=False, today=TODAY)

    assert not stop_of(ticket, dario).by_hand


def test_pair_is_kept_or_let_go_together(dario, wen):
    ticket = weeks.for_two()
    place(ticket, dario, wen, start=time(10))
    hands.keep_stop(stop_of(ticket, wen), keep=False, today=TODAY)

    assert [stop_of(ticket, one).by_hand for one in (dario, wen)] == [False, False]
    assert [stop_of(ticket, one).arrive_at for one in (dario, wen)] == [TEN, TEN]


def test_boat_job_that_needs_90_min_with_40_min_of_light_left_is_not_placed(dario, wen):
    ticket = weeks.ticket(task=make.task(needs_boat=True, minutes=80))  # and 10 to set up
    with pytest.raises(RouteRefused) as refused:
        place(ticket, dario, wen, start=time(15, 56))  # the sun sets at 16:36

    assert any("daylight only from" in str(reason) for reason in refused.value.sentences)
    assert weeks.places() == []
