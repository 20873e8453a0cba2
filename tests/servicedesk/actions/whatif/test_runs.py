"""A comparison from the asking to its end; leases, cancel and dead children among it."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db.models.functions import Now

from servicedesk.actions.whatif import runs
from servicedesk.kinds import PlanState
from servicedesk.models import WhatIf, WhatIfSide
from servicedesk.planning.whatif.months import Months
from servicedesk.planning.whatif.settings import Settings
from tests import make

pytestmark = pytest.mark.django_db
NOW = make.MORNING


@pytest.fixture(autouse=True)
def firm():
    make.firm()
    make.technician()
    place = make.filter_position()
    place.pond = make.pond(site=place.system.site)
    place.save()
    make.task()


def ask(b=None, **fields):
    start = {"by": None, "now": NOW, "weeks": 6, "iterations": 5}
    return runs.ask_what_if("More ponds", Settings(), b or Settings(ponds=2), **start | fields)


def play(side):
    """What a child process does."""
    call_command("simulate", side.what_if_id, side=side.side)


def clock():
    return NOW


def ended(asked):
    runs.collect_what_ifs(clock=clock)
    asked.refresh_from_db()
    return asked


def test_both_sides_are_played_and_kept():
    asked = ask()
    assert runs.start_what_ifs(launch=play) == 2

    assert ended(asked).state == PlanState.DONE
    a, b = (Months.from_data(side.result) for side in asked.sides.order_by("side"))
    assert (a.weeks_done, b.weeks_done, a.sites, b.sites) == (6, 6, 1, 3)
    assert asked.ended_at == NOW


def test_two_sides_run_at_a_time():
    ask()
    ask()
    started = []

    assert runs.start_what_ifs(launch=started.append) == 2
    assert runs.start_what_ifs(launch=started.append) == 0


def test_side_belongs_to_one_process():
    asked = ask()

    assert runs.take_side(asked.pk, "a") is not None
    assert runs.take_side(asked.pk, "a") is None
    with pytest.raises(CommandError, match="no such side"):
        call_command("simulate", asked.pk, side="a")


def test_child_that_died_is_noticed_and_what_it_had_is_kept():
    asked = ask()
    runs.start_what_ifs(launch=lambda side: None)
    side = runs.take_side(asked.pk, "a")
    months = Months(NOW.date(), 6, weeks_done=2)
    assert runs.go_on(side, months=months)
    WhatIfSide.objects.update(lease_until=Now() - timedelta(seconds=1))

    assert ended(asked).state == PlanState.FAILED
    assert asked.says == runs.DEAD
    assert Months.from_data(asked.sides.get(side="a").result) == months
    assert not runs.go_on(side, months=months)
    assert not runs.finish_side(side, months)


def test_cancel_reaches_a_running_side_and_ends_a_waiting_one():
    asked = ask()
    runs.start_what_ifs(launch=lambda side: None)
    a = runs.take_side(asked.pk, "a")
    runs.cancel_what_if(asked, now=NOW)

    assert not runs.go_on(a, months=Months(NOW.date(), 6, weeks_done=3))
    runs.finish_side(a, Months(NOW.date(), 6, weeks_done=3, cancelled=True))
    WhatIfSide.objects.filter(side="b").update(state=PlanState.CANCELLED)
    assert ended(asked).state == PlanState.CANCELLED
    assert asked.sides.get(side="a").done_weeks == 3


def test_comparison_that_nobody_began_ends_at_once():
    asked = ask()
    runs.cancel_what_if(asked, now=NOW)

    asked.refresh_from_db()
    assert (asked.state, asked.ended_at) == (PlanState.CANCELLED, NOW)


def test_settings_that_do_not_suit_the_firm_fail_with_a_sentence():
    asked = ask(Settings(absent=("999",)))
    side = {}

    def launch(one):
        try:
            play(one)
        except CommandError as error:
            side[one.side] = str(error)

    runs.start_what_ifs(launch=launch)
    assert side == {"b": "There is no technician 999."}
    assert ended(asked).state == PlanState.FAILED
    assert asked.says == "Setting B: There is no technician 999."


def test_deleting_a_comparison_takes_its_sides_along():
    ask().delete()

    assert (WhatIf.objects.count(), WhatIfSide.objects.count()) == (0, 0)
