"""What the office is asked after work, in whatever order the work came in."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.kinds import SystemState
from equipment.models import Assessment, StateChange
from servicedesk.actions.due import refresh_all
from servicedesk.actions.states import record_state
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.actions.work import record_work, refuse_work
from servicedesk.kinds import Anchor, Clock, PlaceKind
from servicedesk.models import DueItem, OfficeTask, Task, Ticket, place_of
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)


@pytest.fixture
def filter_():
    filter_ = make.filter_position()
    make.task(by_owner=True)
    refresh_all(now=NOW)
    return filter_


def change(filter_, days_ago, condition=None, **more):
    return record_work(
        uuid=uuid.uuid4(),
        task=Task.objects.get(),
        place=place_of(filter_),
        done_at=NOW - timedelta(days=days_ago),
        now=NOW,
        found={"condition": condition} if condition else {},
        **more,
    )


def asked(start):
    return list(OfficeTask.objects.filter(key__startswith=start, handled_at=None))


@pytest.mark.parametrize("order", [(240, 120), (120, 240)])
def test_two_loaded_filters_in_a_row_propose_a_shorter_interval(filter_, order):
    for days_ago in order:
        change(filter_, days_ago, "loaded")

    (one,) = asked("interval")
    assert "found loaded twice in a row" in one.text
    assert "Perhaps 90 days in place of 120 (a judgement)." in one.text


def test_two_clean_filters_in_a_row_propose_a_longer_interval(filter_):
    for days_ago in (240, 120):
        change(filter_, days_ago, "clean")

    (one,) = asked("interval")
    assert "longer, up to what the maker allows. Perhaps 150 days in place of 120" in one.text


def test_proposal_is_taken_back_once_a_filter_is_found_otherwise(filter_):
    for days_ago, found in ((240, "loaded"), (120, "loaded"), (3, "light")):
        change(filter_, days_ago, found)

    assert asked("interval") == []


def test_same_work_recorded_twice_on_one_day_resets_the_clock_once_and_is_asked_about(filter_):
    change(filter_, 10)
    change(filter_, 10 - 2 / 24)

    (one,) = asked("twice")
    assert "recorded twice on 15 November 2026" in one.text
    day = (NOW - timedelta(days=10)).date()
    assert DueItem.objects.get().due_on == day + timedelta(days=120)


def test_refused_work_proposes_nothing_any_more(filter_):
    change(filter_, 240, "loaded")
    refuse_work(change(filter_, 120, "loaded"), by=make.manager(), now=NOW)

    assert asked("interval") == []


def test_stop_that_is_dated_anew_keeps_its_ticket():
    load_task_defaults()
    system = make.system()
    stop = StateChange.objects.create(
        system=system,
        at=datetime(2026, 11, 20, 18, tzinfo=UTC),
        state=SystemState.FAILED,
        entered_at=NOW,
    )
    refresh_all(now=NOW)
    open_due_tickets(clock=lambda: NOW)
    of_stop = Ticket.objects.filter(task__slug="post_outage_restart")
    ticket = of_stop.get()

    earlier = datetime(2026, 11, 12, 18, tzinfo=UTC)
    record_state(system, at=earlier, state=SystemState.FAILED, now=NOW, corrects=stop)

    assert of_stop.get().pk == ticket.pk
    ticket.refresh_from_db()
    assert ticket.closed_at is None
    assert ticket.occasion == "stopped:20261112T180000"
    assert "12 November 2026" in ticket.because


def test_readings_call_for_a_cleaning_until_it_is_done_or_they_are_well_again():
    load_task_defaults()
    system = make.system()
    cleaning = DueItem.objects.filter(task__slug="membrane_cleaning")
    seen = [(60, ["membrane_cleaning"]), (30, ["membrane_cleaning"])]
    for days, opens in seen:
        at = NOW - timedelta(days=days)
        Assessment.objects.create(system=system, at=at, because="up 2 psi", basis={"opens": opens})
    refresh_all(now=NOW)

    item = cleaning.get()
    assert item.due_on == (NOW - timedelta(days=60)).date()
    assert item.because == "Called for by the readings of 26 September 2026."

    Assessment.objects.create(system=system, at=NOW - timedelta(days=1), because="", basis={})
    refresh_all(now=NOW)
    assert cleaning.get().basis["clock"] == "cal"

    Assessment.objects.filter(because="").delete()
    make.work(system, Task.objects.get(slug="membrane_cleaning"), done_at=NOW - timedelta(days=5))
    refresh_all(now=NOW)
    assert cleaning.get().basis["clock"] == "cal"


def test_question_about_twice_ends_when_one_of_the_two_is_refused(filter_):
    change(filter_, 10)
    second = change(filter_, 10 - 2 / 24)

    refuse_work(second, by=make.manager(), now=NOW)

    assert asked("twice") == []


def test_yearly_work_before_its_window_does_not_count_and_is_asked_about():
    inspection = make.task(
        clock=Clock.CAL,
        every=12,
        unit="month",
        anchor=Anchor.FIXED,
        place_kind=PlaceKind.SYSTEM,
        position_kind="",
        early_days=30,
    )
    system = make.system()  # commissioned on 1 January 2025
    make.work(system, inspection, done_at=datetime(2025, 12, 20, 18, tzinfo=UTC))
    refresh_all(now=NOW)
    item = DueItem.objects.get()
    assert item.due_on == date(2027, 1, 1)

    record_work(uuid=uuid.uuid4(), task=inspection, place=place_of(system), done_at=NOW, now=NOW)

    assert DueItem.objects.get().due_on == date(2027, 1, 1)
    (one,) = asked("early")
    assert "before its window opens on 2 December 2026" in one.text
