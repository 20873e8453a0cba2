"""What owners look after themselves: told on demand, never stored, no ticket of ours."""

import json
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import call_command

from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk.actions.due import occasions, refresh_all
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import DoneBy, Who
from servicedesk.models import DueItem, Task
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
CHANGED = datetime(2026, 11, 3, 20, tzinfo=UTC)


@pytest.fixture
def filter_():
    load_task_defaults()
    filter_ = make.filter_position()
    make.work(filter_, Task.objects.get(slug="filter_change"), done_at=CHANGED)
    return filter_


def of_owner(filter_, now=NOW):
    found = occasions([filter_.system.site_id], now=now, who=Who.OWNER)
    return {one.task.slug: one.due for one in found}


def test_owner_looks_at_the_filter_thirty_running_days_after_it_was_changed(filter_):
    found = of_owner(filter_)

    assert found["filter_check"].on == date(2026, 12, 3)
    assert set(found) == {"filter_check", "prefilter_clean", "gfci_test"}


def test_owner_tries_the_outlet_monthly_whoever_tried_it_last(filter_):
    test = Task.objects.get(slug="gfci_test")
    make.work(filter_.system, test, done_at=CHANGED)
    assert of_owner(filter_)["gfci_test"].on == date(2026, 12, 3)

    later = CHANGED + timedelta(days=10)
    make.work(filter_.system, test, done_at=later, done_by=DoneBy.OWNER, verified=False)
    assert of_owner(filter_)["gfci_test"].on == date(2026, 12, 13)


def test_owner_need_not_look_at_a_filter_that_stands_still(filter_):
    off = datetime(2026, 11, 10, 18, tzinfo=UTC)
    StateChange.objects.create(
        system=filter_.system, at=off, state=SystemState.SHUT_WINTER, entered_at=off
    )

    assert of_owner(filter_)["filter_check"].paused


def test_what_owners_do_is_not_stored_and_is_listed_by_the_command(filter_, capsys):
    refresh_all(now=NOW)
    assert not DueItem.objects.filter(task__slug__in=["filter_check", "prefilter_clean"]).exists()

    call_command("due", on="2026-11-25", days=10, who="owner", json=True)

    assert "filter_check" in {row["task"] for row in json.loads(capsys.readouterr().out)}


def test_owners_monthly_trial_of_the_outlet_does_not_put_ours_off_for_ever(filter_):
    trial = Task.objects.get(slug="gfci_test")
    make.work(filter_.system, trial, done_at=CHANGED)
    by_owner = {"done_by": DoneBy.OWNER, "verified": False}
    make.work(filter_.system, trial, done_at=CHANGED + timedelta(days=10), **by_owner)
    refresh_all(now=NOW)
    ours = DueItem.objects.get(task=trial)
    assert ours.due_on == CHANGED.date() + timedelta(days=120)

    ticket = make.ticket(task=trial, at=filter_.system)  # this time he answers our ticket
    later = CHANGED + timedelta(days=20)
    make.work(filter_.system, trial, done_at=later, ticket=ticket, **by_owner)
    refresh_all(now=NOW)

    ours.refresh_from_db()
    assert (ours.due_on, ours.verify) == (later.date() + timedelta(days=120), True)
