"""Publishing freezes a week that breaks no rule, and refuses one that does."""

from datetime import timedelta

import pytest

from servicedesk import kinds
from servicedesk.actions.routes import hands
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.models import Absence, DueItem, Route, Stop, Ticket, place_of
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def dario():
    weeks.firm()
    return make.technician()


def publish(**fields):
    start = {"by": None, "today": TODAY, "now": BEFORE}
    return publish_week(MONDAY, **start | fields)


def place(ticket, technician, day=MONDAY):
    hands.place_by_hand(ticket, technicians=[technician], day=day, start=None, today=TODAY)


def test_published_days_say_when_and_by_whom(dario):
    place(weeks.ticket(), dario)
    manager = make.manager()
    publish(by=manager)

    route = Route.objects.get()
    assert (route.published_at, route.published_by) == (BEFORE, manager)


def test_week_without_a_planned_day_is_refused(dario):
    with pytest.raises(RouteRefused, match="Plan it first"):
        publish()


def test_plan_that_a_later_absence_broke_is_refused_with_the_reason(dario):
    place(weeks.ticket(), dario)
    Absence.objects.create(technician=dario, from_on=MONDAY, to_on=MONDAY)

    with pytest.raises(RouteRefused, match="on Monday: there is no shift on that day"):
        publish()
    assert not Route.objects.exclude(published_at=None).exists()


def test_shift_that_became_shorter_is_found(dario):
    place(weeks.ticket(task=make.task(minutes=200)), dario)
    dario.shifts.update(ends="09:00")

    with pytest.raises(RouteRefused, match="after the shift ends at 09:00"):
        publish()


def test_times_are_worked_out_again_before_they_are_frozen(dario):
    place(weeks.ticket(), dario)
    before = Stop.objects.get().arrive_at
    dario.shifts.update(starts="09:00")
    publish()

    assert Stop.objects.get().arrive_at > before


def test_ticket_closed_meanwhile_is_taken_off(dario):
    done, waits = weeks.ticket(0.1), weeks.ticket(0.2)
    place(done, dario)
    place(waits, dario)
    Ticket.objects.filter(pk=done.pk).update(closed_at=BEFORE, end=kinds.TicketEnd.DONE)
    publish()

    assert [pk for *_, pk in weeks.places()] == [waits.pk]


def test_work_done_along_gets_its_ticket(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    due_on = MONDAY + timedelta(days=9)
    soon = DueItem.objects.create(
        **place_of(make.filter_position(make.system(site=ticket.site))),
        task=make.task(),
        opens_on=MONDAY,
        due_on=due_on,
        closes_on=due_on,
        because="120 days in operation.",
    )
    Stop.objects.get().due_items.add(soon)
    publish()

    (stop,) = Stop.objects.all()
    opened = stop.tickets.exclude(pk=ticket.pk).get()
    assert (opened.task, opened.due_when_opened_on) == (soon.task, due_on)
    assert stop.due_items.count() == 0


def test_published_day_is_left_as_it_is_when_the_rest_is_published(dario):
    place(weeks.ticket(), dario)
    publish()
    place(weeks.ticket(0.2), dario, day=TUESDAY)
    published = publish(now=BEFORE + timedelta(days=1))

    assert [route.day for route in published] == [TUESDAY]
    assert Route.objects.get(day=MONDAY).published_at == BEFORE


def test_days_gone_by_are_not_published(dario):
    place(weeks.ticket(), dario)

    with pytest.raises(RouteRefused, match="no planned day left"):
        publish(today=TUESDAY)
