"""A running system that nobody has seen for too long becomes a task of the office, once."""

from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.kinds import Certainty, SystemState
from equipment.models import ReadingSet, StateChange
from servicedesk.actions.due import refresh_all
from servicedesk.actions.watch import watch_silence
from servicedesk.kinds import Clock, DoneBy, OfficeTaskKind
from servicedesk.models import OfficeTask, SystemCheck
from servicedesk.planning.silence import interval_days, silent_after_days
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 7, 6, 15, tzinfo=UTC)


@pytest.fixture
def filter_():
    make.firm()
    filter_ = make.filter_position()
    make.task(every=120)
    refresh_all(now=NOW)
    return filter_


def days_ago(days):
    return NOW - timedelta(days=days)


def open_tasks():
    return OfficeTask.objects.filter(kind=OfficeTaskKind.SILENT, handled_at=None)


def look(system, at):
    visit = make.visit(site=system.site, arrived_at=at)
    SystemCheck.objects.create(visit=visit, system=system, found_running=True, left_running=True)


def read(system, at):
    ReadingSet.objects.create(system=system, moment="other", taken_at=at, entered_at=at)


def seen_running(system, at, certainty=Certainty.OBSERVED):
    state = SystemState.RUNNING_TIMER
    StateChange.objects.create(
        system=system, at=at, state=state, certainty=certainty, entered_at=at
    )


def test_system_is_silent_after_one_and_a_half_of_its_shortest_interval(filter_):
    look(filter_.system, days_ago(180))
    assert watch_silence(now=NOW) == 0

    assert watch_silence(now=NOW + timedelta(days=1)) == 1

    task = OfficeTask.objects.get()
    assert task.site == filter_.system.site
    assert "longer than 180 days, 1.5 times its shortest interval" in task.text
    assert "nobody has seen it since 7 January 2026" in task.text


def test_shorter_interval_makes_silence_sooner(filter_):
    make.task(every=1440, unit="h", clock=Clock.RUN)  # 60 days of 24 h
    refresh_all(now=NOW)
    look(filter_.system, days_ago(91))

    assert watch_silence(now=NOW) == 1
    assert "longer than 90 days" in OfficeTask.objects.get().text


def test_figure_of_the_firm_holds(filter_):
    make.firm(silent_after_intervals=1.0)
    look(filter_.system, days_ago(121))

    assert watch_silence(now=NOW) == 1


@pytest.mark.parametrize("sign", [look, read, seen_running])
def test_look_reading_or_state_that_somebody_saw_is_a_sign_of_life(filter_, sign):
    sign(filter_.system, days_ago(10))

    assert watch_silence(now=NOW) == 0


def test_owners_word_is_a_sign_of_life_and_an_assumption_is_none(filter_):
    seen_running(filter_.system, days_ago(10), Certainty.ASSUMED)
    assert watch_silence(now=NOW) == 1
    work = {"done_by": DoneBy.OWNER, "verified": False, "done_at": days_ago(5)}
    make.work(filter_, make.task(), **work)

    assert watch_silence(now=NOW) == 0
    assert not open_tasks().exists()
    assert "seen since" in OfficeTask.objects.get().handled_note


def test_silence_is_told_once_and_again_after_the_next_one(filter_):
    assert watch_silence(now=NOW) == 1
    OfficeTask.objects.update(handled_at=NOW)
    assert watch_silence(now=NOW + timedelta(days=1)) == 0
    look(filter_.system, NOW + timedelta(days=2))

    assert watch_silence(now=NOW + timedelta(days=183)) == 1
    assert open_tasks().count() == 1


def test_system_at_rest_is_not_silent(filter_):
    filter_.system.state_changes.update(state=SystemState.SHUT_WINTER)

    assert watch_silence(now=NOW) == 0


@pytest.mark.parametrize("systems", [1, 3])
def test_watch_reads_the_database_as_often_for_one_system_as_for_three(
    filter_, systems, django_assert_max_num_queries
):
    for _number in range(systems - 1):
        make.filter_position()
    refresh_all(now=NOW)

    with django_assert_max_num_queries(10):
        assert watch_silence(now=NOW) == systems


def test_intervals_in_days():
    assert interval_days("run", 2900, "h", 24) == pytest.approx(120.833, abs=0.001)
    assert interval_days("run", 1000, "h", None) == pytest.approx(1000 / 24)
    assert interval_days("cal", 12, "month", None) == pytest.approx(365.25)
    assert interval_days("season", None, "", None) is None
    assert silent_after_days([], 1.5) == 180
    assert date(2026, 1, 7) + timedelta(days=silent_after_days([365, 121], 1.5)) == date(2026, 7, 8)
