"""Scenarios of the due list on records, from a fact written down to the row that is shown."""

from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.kinds import PositionKind, Quantity, SystemState, WinterMode
from equipment.models import Fitting, Reading, ReadingSet, StateChange
from servicedesk.actions.due import occasions, refresh_all, refresh_systems
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import Anchor, Clock, DecisionKind, DoneBy, PlaceKind
from servicedesk.models import Decision, DueItem, Override, Rhythm, Task, place_of
from tests import make

pytestmark = pytest.mark.django_db
CHANGED = datetime(2026, 8, 3, 20, tzinfo=UTC)
NOW = datetime(2026, 11, 25, 15, tzinfo=UTC)
READS = 18  # with the two of the transaction; per hundred sites


def state(system, word, at):
    return StateChange.objects.create(system=system, at=at, state=word, entered_at=at)


def only_item(**where):
    return DueItem.objects.get(**where)


def due_on(position, task=None):
    refresh_systems([position.system_id], now=NOW)
    return only_item(position=position, **({"task": task} if task else {})).due_on


def test_filter_changed_115_days_ago_is_in_its_window_and_says_why():
    filter_ = make.filter_position()
    make.work(filter_, make.task(), done_at=NOW - timedelta(days=115))

    refresh_systems([filter_.system_id], now=NOW)

    item = only_item()
    assert item.opens_on <= NOW.date() <= item.due_on <= item.closes_on
    assert item.due_on == NOW.date() + timedelta(days=5)
    assert item.because == "120 running days since the filter change of 2 August 2026."


def test_filter_waits_through_the_winter_while_the_valve_test_stays_due():
    filter_ = make.filter_position()
    change = make.task()
    valve = make.task(
        clock=Clock.CAL, every=365, place_kind=PlaceKind.SYSTEM, position_kind="", name="Valve test"
    )
    make.work(filter_, change, done_at=datetime(2026, 8, 22, 18, tzinfo=UTC))
    make.work(filter_.system, valve, done_at=datetime(2026, 3, 14, 18, tzinfo=UTC))
    state(filter_.system, SystemState.SHUT_WINTER, datetime(2026, 11, 10, 18, tzinfo=UTC))

    refresh_systems([filter_.system_id], now=datetime(2027, 1, 20, 18, tzinfo=UTC))

    waiting = only_item(task=change)
    assert (waiting.due_on, waiting.paused) == (None, True)
    assert "with 40 running days left" in waiting.because
    assert only_item(task=valve).due_on == date(2027, 3, 14)

    state(filter_.system, SystemState.RUNNING, datetime(2027, 4, 5, 18, tzinfo=UTC))
    refresh_systems([filter_.system_id], now=datetime(2027, 4, 6, 18, tzinfo=UTC))

    assert only_item(task=change).due_on == date(2027, 5, 15)
    assert "paused 146 days while shut for winter" in only_item(task=change).because


def test_second_refresh_writes_nothing():
    load_task_defaults()
    make.filter_position()

    first, second = refresh_all(now=NOW), refresh_all(now=NOW + timedelta(hours=2))

    assert first.added > 10
    assert (second.systems, second.written) == (1, 0)


def test_refresh_of_a_later_day_writes_only_what_moved():
    load_task_defaults()
    filter_ = make.filter_position()
    refresh_all(now=NOW)
    make.work(filter_, Task.objects.get(slug="filter_change"), done_at=NOW)

    again = refresh_all(now=NOW + timedelta(days=1))

    assert (again.added, again.changed, again.removed) == (0, 1, 0)


@pytest.mark.parametrize("systems", [3, 30])
def test_refresh_asks_the_database_the_same_number_of_times(systems, django_assert_num_queries):
    load_task_defaults()
    filters = [make.filter_position() for _ in range(systems)]
    for filter_ in filters:
        make.work(filter_, Task.objects.get(slug="filter_change"), done_at=CHANGED)

    refresh_all(now=NOW)  # writes go in batches, as many as there are rows

    with django_assert_num_queries(READS):
        refresh_all(now=NOW)


def test_due_item_of_a_removed_system_goes():
    filter_ = make.filter_position()
    make.task()
    refresh_all(now=NOW)
    state(filter_.system, SystemState.REMOVED, NOW - timedelta(days=1))

    refreshed = refresh_all(now=NOW)

    assert refreshed.removed == 1
    assert not DueItem.objects.exists()


def test_task_applies_to_the_compressors_of_its_kind_only():
    make.filter_position()
    make.task(position_kind=PositionKind.COMPRESSOR, compressor_kinds=["vane"])

    refresh_all(now=NOW)

    assert not DueItem.objects.exists()


def test_system_that_was_off_all_along_is_put_right_from_that_day_on():
    filter_ = make.filter_position()
    task = make.task()
    make.work(filter_, task, done_at=datetime(2026, 5, 4, 18, tzinfo=UTC))
    before = due_on(filter_)
    state(filter_.system, SystemState.SHUT_OTHER, datetime(2026, 6, 3, 18, tzinfo=UTC))
    state(filter_.system, SystemState.RUNNING, datetime(2026, 7, 3, 18, tzinfo=UTC))

    assert due_on(filter_, task) - before == timedelta(days=30)


def test_work_entered_late_counts_from_the_day_it_was_done():
    filter_ = make.filter_position()
    task = make.task()
    make.work(filter_, task, done_at=CHANGED)
    make.work(filter_, task, done_at=CHANGED - timedelta(days=60), entered_at=NOW)

    assert due_on(filter_) == date(2026, 12, 1)


def test_work_under_review_or_not_done_leaves_the_due_day_alone():
    filter_ = make.filter_position()
    task = make.task()
    make.work(filter_, task, done_at=CHANGED)
    make.work(filter_, task, done_at=CHANGED + timedelta(days=30), state="review")
    make.work(
        filter_,
        task,
        done_at=CHANGED + timedelta(days=31),
        outcome="not_done",
        not_done_reason="no_access",
    )

    assert due_on(filter_) == date(2026, 12, 1)


def test_day_counts_at_the_site_and_not_where_the_server_stands():
    late_evening = datetime(2026, 8, 4, 3, tzinfo=UTC)  # still 3 August at the pond
    filter_ = make.filter_position()
    make.work(filter_, make.task(), done_at=late_evening)

    assert due_on(filter_) == date(2026, 12, 1)


def test_clock_change_moves_no_due_day():
    filter_ = make.filter_position()  # Chicago turned its clocks back on 1 November 2026
    make.work(filter_, make.task(), done_at=datetime(2026, 8, 3, 17, tzinfo=UTC))

    assert due_on(filter_) == date(2026, 8, 3) + timedelta(days=120)


def test_month_ends_are_clamped_from_the_first_anchor():
    system = make.system(installed_on=date(2024, 2, 29), commissioned_on=date(2024, 2, 29))
    make.task(
        clock=Clock.CAL,
        every=12,
        unit="month",
        anchor=Anchor.FIXED,
        place_kind=PlaceKind.SYSTEM,
        position_kind="",
    )

    for year, day in [(2025, 28), (2026, 28), (2027, 28), (2028, 29)]:
        refresh_systems([system.pk], now=datetime(year, 2, 20, 18, tzinfo=UTC))
        assert only_item().due_on == date(year, 2, day)


def test_timer_and_meter_give_the_hours():
    filter_ = make.filter_position(make.system(hours_per_day=8))
    meter = make.position(PositionKind.METER, system=filter_.system, serves=filter_.serves)
    Fitting.objects.create(
        component=make.component(type=make.compressor_type(kind=PositionKind.METER)),
        position=meter,
        from_on=date(2026, 1, 1),
        meter_start_h=500,
        entered_at=NOW,
    )
    task = make.task(clock=Clock.RUN, every=2900, unit="h")
    make.work(filter_, task, done_at=datetime(2026, 1, 1, 18, tzinfo=UTC))
    assert due_on(filter_) == date(2026, 1, 1) + timedelta(days=363)
    assert only_item().estimated

    taken = datetime(2026, 4, 11, 18, tzinfo=UTC)
    readings = ReadingSet.objects.create(system=filter_.system, taken_at=taken, entered_at=taken)
    Reading.objects.create(
        set=readings, quantity=Quantity.RUN_HOURS, position=meter, value=500 + 1800
    )

    assert due_on(filter_) == date(2026, 1, 1) + timedelta(days=162)
    assert not only_item().estimated


def test_replaced_meter_loses_no_hours():
    filter_ = make.filter_position()
    meter = make.position(PositionKind.METER, system=filter_.system, serves=filter_.serves)
    kind = make.compressor_type(kind=PositionKind.METER)
    ends = [(date(2026, 1, 1), date(2026, 3, 1), 14_000, 14_230), (date(2026, 3, 1), None, 0, None)]
    for begun, end, first, last in ends:
        Fitting.objects.create(
            component=make.component(type=kind),
            position=meter,
            from_on=begun,
            to_on=end,
            meter_start_h=first,
            meter_end_h=last,
            entered_at=NOW,
        )
    at = datetime(2026, 5, 1, 18, tzinfo=UTC)
    readings = ReadingSet.objects.create(system=filter_.system, taken_at=at, entered_at=at)
    Reading.objects.create(set=readings, quantity=Quantity.RUN_HOURS, position=meter, value=310)
    make.work(
        filter_,
        make.task(clock=Clock.RUN, every=540, unit="h"),
        done_at=datetime(2026, 1, 1, 18, tzinfo=UTC),
    )

    assert due_on(filter_) == date(2026, 5, 1)  # 230 h on the old meter and 310 h on the new


def test_wear_of_a_compressor_begins_when_its_unit_was_fitted():
    filter_ = make.filter_position()
    position = filter_.serves
    Fitting.objects.filter(position=position).update(to_on=date(2026, 6, 1))
    make.fit(make.component(), position, from_on=date(2026, 6, 1))
    service = make.task(clock=Clock.RUN, every=2400, unit="h", position_kind="compressor")
    make.work(position, service, done_at=datetime(2026, 5, 1, 18, tzinfo=UTC))

    assert due_on(position) == date(2026, 6, 1) + timedelta(days=100)
    assert "fitting unit" in only_item().because


def test_winter_tasks_follow_the_mode_chosen_for_the_system():
    load_task_defaults()
    site = make.site(region=make.region())
    make.system(site=site, winter_mode=WinterMode.SHUT_DOWN)

    refresh_all(now=NOW)

    winter = DueItem.objects.filter(task__slug__startswith="winter")
    assert [item.task.slug for item in winter] == ["winter_shut_down"]
    assert winter[0].due_on == date(2026, 11, 13)
    assert winter[0].opens_on == date(2026, 10, 31)


def test_southern_pond_is_made_ready_for_its_own_winter():
    load_task_defaults()
    region = make.region(ice_on_typical="06-20", ice_on_earliest="", ice_out_typical="09-05")
    make.system(
        site=make.site(region=region, lat=-44.7, time_zone="Pacific/Auckland"),
        winter_mode=WinterMode.SHUT_DOWN,
    )

    refresh_all(now=NOW)

    assert only_item(task__slug="winter_shut_down").due_on == date(2027, 6, 13)


def test_stopped_system_calls_for_a_restart_and_nothing_once_it_runs():
    load_task_defaults()
    system = make.system()
    state(system, SystemState.FAILED, datetime(2026, 11, 20, 18, tzinfo=UTC))
    refresh_all(now=NOW)

    item = only_item(task__slug="post_outage_restart")
    assert (item.due_on, item.occasion) == (date(2026, 11, 20), "stopped:20261120T180000")
    assert item.because == "Called for by the stop of 20 November 2026."

    state(system, SystemState.RUNNING, datetime(2026, 11, 22, 18, tzinfo=UTC))
    refresh_all(now=NOW)

    assert not DueItem.objects.filter(task__slug="post_outage_restart").exists()


def test_winter_watch_runs_only_while_the_system_runs_in_winter():
    load_task_defaults()
    system = make.system()
    refresh_all(now=NOW)
    assert not DueItem.objects.filter(task__slug="winter_watch").exists()

    state(system, SystemState.RUNNING_WINTER_SHALLOW, datetime(2026, 11, 18, 18, tzinfo=UTC))
    refresh_all(now=NOW)

    assert only_item(task__slug="winter_watch").due_on == date(2026, 12, 2)


def test_filter_change_is_a_filter_check_too():
    load_task_defaults()
    Rhythm.objects.update(who="technician")
    filter_ = make.filter_position()
    make.work(filter_, Task.objects.get(slug="filter_change"), done_at=CHANGED)

    assert due_on(filter_, Task.objects.get(slug="filter_check")) == date(2026, 9, 2)


def test_owners_claim_resets_the_clock_and_asks_to_verify():
    filter_ = make.filter_position()
    make.work(filter_, make.task(), done_at=CHANGED, done_by=DoneBy.OWNER, verified=False)

    assert due_on(filter_) == date(2026, 12, 1)
    assert only_item().verify


def test_firms_own_interval_holds_from_its_day_and_makes_nothing_overdue_backwards():
    filter_ = make.filter_position()
    task = make.task()
    make.work(filter_, task, done_at=CHANGED)
    Override.objects.create(
        task=task,
        rhythm=task.rhythms.get(),
        system=filter_.system,
        field="every",
        value=90,
        from_on=date(2026, 11, 20),
        by=make.manager(),
        reason="gravel road",
        entered_at=CHANGED,
    )

    refresh_systems([filter_.system_id], now=datetime(2026, 11, 19, 18, tzinfo=UTC))
    assert only_item().due_on == date(2026, 12, 1)
    assert due_on(filter_) == date(2026, 11, 20)


def test_task_switched_off_at_a_site_is_not_owed_there():
    filter_, other = make.filter_position(), make.filter_position()
    task = make.task()
    Override.objects.create(
        task=task,
        site=filter_.system.site,
        field="active",
        value=0,
        from_on=date(2026, 1, 1),
        by=make.manager(),
        reason="owner does it",
        entered_at=CHANGED,
    )

    refresh_all(now=NOW)

    assert only_item().position == other


def test_withdrawn_decision_counts_no_more():
    filter_ = make.filter_position()
    task = make.task()
    make.work(filter_, task, done_at=CHANGED)
    decision = Decision.objects.create(
        **place_of(filter_),
        task=task,
        kind=DecisionKind.POSTPONED,
        from_on=date(2026, 12, 1),
        until_on=date(2027, 1, 8),
        reason="owner away",
        by=make.manager(),
        decided_at=NOW,
    )
    assert due_on(filter_) == date(2027, 1, 8)

    Decision.objects.filter(pk=decision.pk).update(withdrawn_at=NOW)

    assert due_on(filter_) == date(2026, 12, 1)


def test_later_occasions_are_told_and_not_stored():
    filter_ = make.filter_position()
    make.work(filter_, make.task(), done_at=CHANGED)

    found = occasions([filter_.system.site_id], now=NOW, until=date(2027, 8, 1))

    assert [o.due.on for o in found] == [date(2026, 12, 1), date(2027, 3, 31), date(2027, 7, 29)]
    assert not DueItem.objects.exists()
