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


def test_shorter_interval_over_212_systems_is_counted_right_and_makes_nothing_overdue():
    task = make.task(every=120)
    from_on = TODAY + timedelta(days=5)
    since = [10, 50, 84, 87, 90, 94, 95, 96, 100, 110, 124, 130]  # days since the last change
    filters = [make.filter_position() for _ in range(212)]
    for number, filter_ in enumerate(filters):
        done_at = NOW - timedelta(days=since[number % len(since)])
        make.work(filter_, task, done_at=done_at)
    sites = [filter_.system.site_id for filter_ in filters]
    refresh_sites(sites, now=NOW)
    figure = every(task, 90, from_on=from_on)
    manager = make.manager()

    moved = moved_by(figure, by=manager, today=TODAY, now=NOW)

    rounds = [since[number % len(since)] for number in range(212)]
    # Due after 90 days, but not before the figure holds; what was due by then stays as it is.
    old = [120 - days for days in rounds]
    new = [max(90 - days, min(120 - days, 5)) for days in rounds]
    pairs = list(zip(old, new, strict=True))
    assert moved.looked_at == moved.sites == moved.of_sites == 212
    assert moved.earlier == sum(1 for was, is_ in pairs if is_ < was)
    assert moved.come_due == sum(1 for was, is_ in pairs if is_ <= 5 < was)
    assert (moved.later, moved.gone) == (0, 0)

    overdue_before = DueItem.objects.filter(closes_on__lt=from_on).count()
    set_figure(figure, by=manager, reason="Dusty roads", today=TODAY, now=NOW)
    refresh_sites(sites, now=NOW + timedelta(days=5))
    days = [(row.due_on - TODAY).days for row in DueItem.objects.order_by("position_id")]
    assert days == new
    assert DueItem.objects.filter(closes_on__lt=from_on).count() == overdue_before


def test_look_at_a_figure_reads_the_same_number_of_times_however_many_sites(
    django_assert_max_num_queries,
):
    task = make.task(every=120)
    filters = [make.filter_position() for _ in range(12)]
    refresh_sites([filter_.system.site_id for filter_ in filters], now=NOW)
    manager = make.manager()

    with django_assert_max_num_queries(20):
        moved_by(every(task, 90), by=manager, today=TODAY, now=NOW)


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
