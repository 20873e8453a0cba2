"""Every change of a week by hand is kept with its days, and can be taken back exactly."""

from datetime import time, timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from servicedesk import kinds
from servicedesk.actions.routes import by_hand, plans, undoing
from servicedesk.actions.routes.later import altered_since
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.reopening import reopen_day
from servicedesk.kinds import HandKind, TicketEnd
from servicedesk.models import Decision, HandChange, PlanRun, Route, Stop, Ticket
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db
LATER = BEFORE + timedelta(hours=1)


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def priya():
    return make.manager()


@pytest.fixture
def dario():
    return make.technician(user=make.user(first_name="Dario", last_name="Lund"), boat=True)


@pytest.fixture
def wen():
    return make.technician(user=make.user(first_name="Wen", last_name="Achterberg"))


def who(by):
    return {"by": by, "today": TODAY, "now": BEFORE}


def place(ticket, *people, by=None, day=MONDAY, start=None):
    return by_hand.place(ticket, technicians=list(people), day=day, start=start, **who(by))


def undo(change, by=None, now=LATER):
    return undoing.undo(change, by=by, today=TODAY, now=now)


def days():
    return undoing.draft_days(MONDAY, TODAY)


def stop_of(ticket):
    return Stop.objects.select_related("route__technician__user", "site").get(tickets=ticket)


def test_change_by_hand_is_kept_with_who_when_and_in_words(priya, dario):
    ticket = weeks.ticket(task=make.task(name="Filter change"))
    place(ticket, dario, by=priya)

    change = HandChange.objects.get()
    assert (change.kind, change.by, change.at) == (HandKind.PLACED, priya, BEFORE)
    assert change.says == (
        f"Filter change at {ticket.site} placed with Dario Lund, Monday 23 November."
    )


def test_change_that_is_refused_leaves_no_line(dario):
    with pytest.raises(RouteRefused):
        place(weeks.ticket(task=make.task(skill=kinds.Skill.ELECTRICIAN)), dario)

    assert not HandChange.objects.exists()


def test_change_that_changes_nothing_leaves_no_line(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    by_hand.keep(stop_of(ticket), stays=True, **who(None))

    assert HandChange.objects.count() == 1


def test_move_is_taken_back_with_name_minutes_and_marks(priya, dario, wen):
    near, far = weeks.ticket(0.1), weeks.ticket(0.3)
    place(near, dario)
    place(far, dario)
    before = days()
    change = by_hand.move(stop_of(far), technician=wen, day=TUESDAY, **who(priya))
    assert days() != before
    back = undo(change, by=priya)

    assert days() == before
    assert (back.kind, back.by, back.undoes) == (HandKind.TAKEN_BACK, priya, change)
    assert back.says == f"Taken back: {change.says}"


def test_moved_stop_keeps_the_name_that_calendars_know_it_by(dario, wen):
    ticket = weeks.ticket()
    place(ticket, dario)
    name = stop_of(ticket).uuid
    by_hand.move(stop_of(ticket), technician=wen, day=TUESDAY, **who(None))

    assert stop_of(ticket).uuid == name


def test_taking_back_is_itself_taken_back(dario, wen):
    ticket = weeks.ticket()
    place(ticket, dario)
    change = by_hand.move(stop_of(ticket), technician=wen, day=TUESDAY, **who(None))
    moved = days()
    again = undo(undo(change))

    assert days() == moved
    assert again.says == f"Done again: {change.says}"
    undo(again)
    assert stop_of(ticket).route.technician == dario


def test_pair_taken_off_comes_back_to_both_days_at_its_minute(dario, wen):
    pair = weeks.for_two()
    place(pair, dario, wen, start=time(10))
    before = days()
    change = by_hand.take_off(Stop.objects.filter(tickets=pair).first(), **who(None))
    assert days() == []
    undo(change)

    assert days() == before


def test_drop_is_taken_back_with_its_decision(priya, dario):
    ticket = weeks.ticket()
    make.due_item(ticket, closes_on=MONDAY + timedelta(days=14))
    place(ticket, dario)
    before = days()
    until = MONDAY + timedelta(days=10)
    change = by_hand.drop_until(stop_of(ticket), until_on=until, reason="fence", **who(priya))
    assert change.decisions.get().reason == "fence"
    undo(change, by=priya)

    assert days() == before
    assert not Decision.objects.standing().exists()
    assert Ticket.objects.open().get() == ticket


def test_drop_that_is_made_again_is_decided_again_by_whoever_does_it(priya, dario):
    ticket = weeks.ticket()
    make.due_item(ticket, closes_on=MONDAY + timedelta(days=14))
    place(ticket, dario)
    until = MONDAY + timedelta(days=10)
    change = by_hand.drop_until(stop_of(ticket), until_on=until, reason="fence", **who(priya))
    odile = make.manager()
    undo(undo(change, by=priya), by=odile)

    decision = Decision.objects.standing().get()
    assert (decision.by, decision.until_on, decision.reason) == (odile, until, "fence")
    assert Decision.objects.count() == 2


def test_change_is_taken_back_once(dario):
    change = place(weeks.ticket(), dario)
    undo(change)

    with pytest.raises(RouteRefused, match="taken back already"):
        undo(change)
    assert HandChange.objects.count() == 2


def test_earlier_change_waits_for_the_later_one_of_its_day(dario):
    first = place(weeks.ticket(0.1), dario)
    second = place(weeks.ticket(0.2), dario)
    assert undoing.may_undo([first, second], MONDAY, TODAY) == {second.pk}
    with pytest.raises(RouteRefused) as refused:
        undo(first)
    assert str(refused.value) == (
        f"A later change altered these days: {second.says} Take that back first, or "
        "make another change."
    )
    undo(second)
    undo(first)

    assert days() == []


def test_change_that_was_taken_back_and_made_again_stands_in_the_way(dario):
    first = place(weeks.ticket(0.1), dario)
    second = place(weeks.ticket(0.2), dario)
    back = undo(second)
    assert altered_since([first, second]) == {second.pk: back.says}
    again = undo(back)

    assert altered_since([first]) == {first.pk: again.says}
    with pytest.raises(RouteRefused, match="Done again: "):
        undo(first)


def test_change_of_a_week_that_was_planned_again_says_so(dario):
    change = place(weeks.ticket(0.1), dario)
    Stop.objects.update(arrive_at=LATER)
    PlanRun.objects.create(
        week="2026-W48",
        monday_on=MONDAY,
        problem={},
        iterations=1,
        asked_at=BEFORE,
        ended_at=LATER,
        state=kinds.PlanState.DONE,
    )

    with pytest.raises(RouteRefused, match=r"altered these days: The week was planned again\."):
        undo(change)


def test_changes_of_different_days_are_taken_back_in_any_order(dario, wen):
    first = place(weeks.ticket(0.1), dario)
    second = place(weeks.ticket(0.2), wen, day=TUESDAY)
    undo(first)
    undo(second)

    assert days() == []


def test_published_day_is_not_taken_back(priya, dario):
    change = place(weeks.ticket(), dario)
    publish_week(MONDAY, by=priya, today=TODAY, now=BEFORE)

    with pytest.raises(RouteRefused, match="was published since"):
        undo(change)
    reopen_day(Route.objects.get(), by=priya, today=TODAY, now=BEFORE)
    undo(change)
    assert days() == []


def test_nothing_is_taken_back_while_the_week_is_planned(dario):
    change = place(weeks.ticket(), dario)
    plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE)

    with pytest.raises(RouteRefused, match="being planned"):
        undo(change)


def test_day_that_is_over_is_not_taken_back(dario):
    change = place(weeks.ticket(), dario)

    with pytest.raises(RouteRefused, match="is over"):
        undoing.undo(change, by=None, today=TUESDAY, now=LATER)


def test_work_that_was_closed_since_does_not_come_back(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    change = by_hand.take_off(stop_of(ticket), **who(None))
    Ticket.objects.update(closed_at=LATER, end=TicketEnd.CANCELLED)

    with pytest.raises(RouteRefused, match="was closed since"):
        undo(change)


def test_work_that_has_another_place_since_does_not_come_back(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    change = by_hand.take_off(stop_of(ticket), **who(None))
    place(ticket, dario, day=MONDAY + timedelta(days=7))

    with pytest.raises(RouteRefused, match="another place since"):
        undo(change)


def test_due_work_that_is_known_no_more_does_not_keep_a_change_from_being_taken_back(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    item = make.due_item(ticket)
    stop_of(ticket).due_items.add(item)
    change = by_hand.take_off(stop_of(ticket), **who(None))
    item.delete()
    undo(change)

    assert stop_of(ticket).due_items.count() == 0


@pytest.fixture
def busy(dario, wen):
    """Two technicians, five tickets at four ponds, a pair among them, and two days with work."""
    site = make.site(lat=44.95, lon=-92.9)
    tickets = [
        weeks.ticket(site=site),
        weeks.ticket(site=site),
        weeks.ticket(0.2),
        weeks.ticket(0.3),
        weeks.for_two(),
    ]
    for ticket in tickets:
        make.due_item(ticket, closes_on=MONDAY + timedelta(days=20))
    place(tickets[2], dario)
    place(tickets[3], wen, day=TUESDAY)
    return tickets, [dario, wen]


KINDS = ["place", "move", "keep", "let go", "take off", "drop", "split", "pair"]
CHANGES = st.lists(
    st.tuples(st.sampled_from(KINDS), st.integers(0, 3), st.integers(0, 1), st.integers(0, 2)),
    min_size=1,
    max_size=6,
)


def change_by_hand(kind, tickets, person, people, day, by):
    ticket, more = tickets
    stop = Stop.objects.filter(tickets=ticket).first()
    if kind == "place":
        return place(ticket, person, day=day)
    if kind == "pair":
        return place(more, *people, day=day, start=time(10))
    if stop is None:
        return None
    if kind == "move":
        return by_hand.move(stop, technician=person, day=day, **who(by))
    if kind == "drop":
        until = MONDAY + timedelta(days=12)
        return by_hand.drop_until(stop, until_on=until, reason="fence", **who(by))
    if kind == "split":
        return by_hand.split(stop, tickets=[ticket], technician=person, day=day, **who(by))
    if kind == "take off":
        return by_hand.take_off(stop, **who(by))
    return by_hand.keep(stop, stays=kind == "keep", **who(by))


@settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(CHANGES)
def test_any_changes_taken_back_in_turn_give_back_exactly_the_days(busy, priya, changes):
    tickets, people = busy
    with transaction.atomic():
        before, decided = days(), Decision.objects.standing().count()
        made = []
        for kind, number, person, day in changes:
            where = MONDAY + timedelta(days=day)
            work = tickets[number], tickets[4]
            try:
                made.append(change_by_hand(kind, work, people[person], people, where, priya))
            except RouteRefused:
                continue
        for change in reversed([one for one in made if one and one.pk]):
            undo(change, by=priya)

        assert days() == before
        assert Decision.objects.standing().count() == decided
        assert set(tickets) <= set(Ticket.objects.open())
        transaction.set_rollback(True)
