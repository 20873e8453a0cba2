"""The firm's own figures: first seen, then kept, never backwards."""

from datetime import timedelta

import pytest

from servicedesk.actions.due import refresh_sites
from servicedesk.actions.figures import Figure, FigureRefused, moved_by, set_figure
from servicedesk.models import DueItem, Override
from tests import make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.MORNING, make.TODAY


@pytest.fixture
def places():
    """Two filters at two sites, changed ten days ago, and the task that falls due there."""
    task = make.task(every=120)
    found = [make.filter_position() for _ in range(2)]
    for place in found:
        make.work(place, task, done_at=NOW - timedelta(days=10))
    refresh_sites([place.system.site_id for place in found], now=NOW)
    return task, found


def every(task, days, **more):
    figure = {"task": task, "field": "every", "value": days, "from_on": TODAY, "where": {}}
    return Figure(**figure | {"rhythm": task.rhythms.get()} | more)


def due_days(task):
    items = DueItem.objects.filter(task=task).order_by("place_key")
    return [(item.due_on - TODAY).days for item in items]


def test_looking_says_how_many_days_move_and_moves_none(places):
    task, _ = places
    moved = moved_by(every(task, 60), by=make.manager(), today=TODAY, now=NOW)

    assert (moved.looked_at, moved.earlier, moved.later, moved.gone) == (2, 2, 0, 0)
    assert due_days(task) == [110, 110]
    assert not Override.objects.exists()


def test_kept_figure_moves_due_days_and_bears_name_and_reason(places):
    task, _ = places
    manager = make.manager()
    set_figure(every(task, 60), by=manager, reason="Dusty road", today=TODAY, now=NOW)

    assert due_days(task) == [50, 50]
    row = Override.objects.get()
    assert (row.by, row.reason, row.value) == (manager, "Dusty road", 60)


def test_figure_for_one_system_leaves_the_others(places):
    task, (first, _) = places
    one = every(task, 60, where={"system_id": first.system_id})
    set_figure(one, by=make.manager(), reason="Dusty road", today=TODAY, now=NOW)

    assert sorted(due_days(task)) == [50, 110]


def test_task_taken_out_of_use_is_due_nowhere(places):
    task, _ = places
    off = Figure(task=task, field="active", value=0, from_on=TODAY, where={})
    assert moved_by(off, by=make.manager(), today=TODAY, now=NOW).gone == 2
    set_figure(off, by=make.manager(), reason="Not our work", today=TODAY, now=NOW)

    assert due_days(task) == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"from_on": TODAY - timedelta(days=1)},
        {"value": 0},
        {"value": float("nan")},
        {"field": "late_days", "rhythm": None, "value": 2.5},
        {"field": "active", "rhythm": None, "value": 3},
    ],
)
def test_figure_that_makes_no_sense_is_refused_and_nothing_written(places, wrong):
    task, _ = places
    with pytest.raises(FigureRefused):
        set_figure(every(task, 60, **wrong), by=make.manager(), reason="x", today=TODAY, now=NOW)

    assert not Override.objects.exists()


def test_figure_without_a_reason_is_refused(places):
    with pytest.raises(FigureRefused, match="reason"):
        set_figure(every(places[0], 60), by=make.manager(), reason=" ", today=TODAY, now=NOW)
