"""A stop is dropped until a day: off the week, its tickets put off by a name and with a reason."""

from datetime import timedelta

import pytest

from servicedesk.actions.routes import hands
from servicedesk.actions.routes.dropping import drop_until, open_work
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.kinds import Harm
from servicedesk.models import Decision, Stop
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db
LATER = MONDAY + timedelta(days=10)


@pytest.fixture
def manager():
    weeks.firm()
    return make.manager()


def placed(**fields):
    ticket = weeks.ticket(**fields)
    make.due_item(ticket, closes_on=MONDAY + timedelta(days=14))
    person = make.technician()
    hands.place_by_hand(ticket, technicians=[person], day=MONDAY, start=None, today=TODAY)
    return Stop.objects.get(tickets=ticket)


def drop(stop, until_on, by):
    drop_until(stop, until_on=until_on, reason="fence", by=by, today=TODAY, now=BEFORE)


def test_dropped_stop_is_off_and_its_tickets_are_put_off_with_name_and_reason(manager):
    drop(placed(), LATER, manager)

    assert not Stop.objects.exists()
    decision = Decision.objects.get()
    assert (decision.until_on, decision.by, decision.reason) == (LATER, manager, "fence")


def test_work_against_danger_is_not_put_off_beyond_its_tolerance(manager):
    stop = placed(task=make.task(harm=Harm.SAFETY))
    with pytest.raises(RouteRefused, match="somebody's safety"):
        drop(stop, MONDAY + timedelta(days=15), manager)

    assert Stop.objects.exists()
    assert not Decision.objects.exists()


def test_each_ticket_says_when_its_tolerance_ends(manager):
    (_, closes_on), *rest = open_work(placed())

    assert closes_on == MONDAY + timedelta(days=14)
    assert rest == []


def test_day_that_is_no_later_day_is_refused_and_nothing_is_taken_off(manager):
    stop = placed()
    with pytest.raises(RouteRefused, match="after today"):
        drop(stop, TODAY, manager)

    assert Stop.objects.exists()
