"""Two managers take the same change back at the same moment, on connections of their own."""

from datetime import timedelta

import pytest

from servicedesk.actions.routes import by_hand, undoing
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.models import HandChange, Stop
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY
from tests.servicedesk.actions.test_at_once import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_change_that_two_take_back_at_once_is_taken_back_once():
    weeks.firm()
    people, person = [make.manager(), make.manager()], make.technician()
    change = by_hand.place(
        weeks.ticket(),
        technicians=[person],
        day=MONDAY,
        start=None,
        by=people[0],
        today=TODAY,
        now=BEFORE,
    )
    refused = []

    def take_back(by):
        try:
            undoing.undo(change, by=by, today=TODAY, now=BEFORE + timedelta(hours=1))
        except RouteRefused as why:
            refused.append(str(why))

    at_once(*[lambda by=by: take_back(by) for by in people])

    assert HandChange.objects.filter(undoes=change).count() == 1
    assert refused == ["This change was taken back already. Load the page again."]
    assert not Stop.objects.exists()
