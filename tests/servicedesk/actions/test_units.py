"""Wear belongs to the serial unit and travels with it; expected days are counted by hand."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from customers.models import Ownership
from equipment.actions.fitting import FittingRefused
from equipment.kinds import ComponentState, PositionKind, Quantity, SystemState
from equipment.models import Configuration, Fitting, Reading, ReadingSet, StateChange
from servicedesk.actions.due import refresh_all, refresh_sites
from servicedesk.actions.units import exchange, unit_hours
from servicedesk.actions.work import record_work
from servicedesk.kinds import Clock, PlaceKind, Skill
from servicedesk.models import DueItem, place_of
from tests import make

pytestmark = pytest.mark.django_db
BEGIN = date(2026, 1, 1)
SWAP = date(2026, 5, 1)  # 120 days on
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)


def at(day, hour=18):
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def pond(name, **fields):
    """A system with a compressor position that has run since the new year, and its filter."""
    system = make.system(
        name=name, installed_on=BEGIN, commissioned_on=BEGIN, since=at(BEGIN), **fields
    )
    compressor = make.position(system=system)
    return compressor, make.position(PositionKind.FILTER, system=system, serves=compressor)


@pytest.fixture
def service():
    """An overhaul by run hours, of a compressor."""
    return make.task(
        name="Overhaul",
        clock=Clock.RUN,
        every=12_000,
        unit="h",
        position_kind=PositionKind.COMPRESSOR,
        skill=Skill.REBUILD,
    )


def shown(task, position):
    return DueItem.objects.get(task=task, position=position)


def test_loaner_runs_on_its_own_hours_and_the_filter_stays_due(service):
    mill, filter_ = pond("Mill Pond")
    heron, _ = pond("Heron Pond")
    kind = make.compressor_type()
    unit = make.component(type=kind, serial="4471", hours_before=9_800 - 120 * 24)
    loaner = make.component(type=kind, serial="L3", hours_before=2_100, state=ComponentState.LOANER)
    make.fit(unit, mill, from_on=BEGIN)
    change = make.task(every=400)
    refresh_all(now=at(SWAP))
    before = shown(change, filter_).due_on
    assert unit_hours(unit, now=at(SWAP)).since_new_h == pytest.approx(9_800)

    exchange(mill, fitted=loaner, on=SWAP, by=make.manager(), reason="rebuild", now=at(SWAP))

    later = at(SWAP + timedelta(days=50))
    assert shown(change, filter_).due_on == before
    assert unit_hours(unit, now=later).since_new_h == pytest.approx(9_800)
    assert unit_hours(loaner, now=later).since_new_h == pytest.approx(2_100 + 50 * 24)
    # 9,900 of 12,000 hours are left on the loaner: 412.5 days
    assert shown(service, mill).due_on == SWAP + timedelta(days=413)
    assert "with 2,100 h run before" in shown(service, mill).because

    rebuilt, back = SWAP + timedelta(days=20), SWAP + timedelta(days=30)
    record_work(
        uuid=uuid.uuid4(),
        task=service,
        place=place_of(unit, site=mill.system.site),
        done_at=at(rebuilt),
        now=at(rebuilt),
    )
    exchange(heron, fitted=unit, on=back, by=make.manager(), reason="rebuilt", now=at(back))

    found = unit_hours(unit, now=at(back))
    assert (found.since_overhaul_h, found.since_new_h) == pytest.approx((0, 9_800))
    assert shown(service, heron).due_on == back + timedelta(days=500)


def test_unit_moved_to_another_pond_takes_its_wear_and_nothing_else(service):
    mill, filter_ = pond("Mill Pond")
    heron, other_filter = pond("Heron Pond")
    unit = make.component()
    make.fit(unit, mill, from_on=BEGIN)
    make.work(mill, service, done_at=at(date(2026, 2, 1)))
    change = make.task(every=400)
    make.work(filter_, change, done_at=at(date(2026, 4, 1)))
    StateChange.objects.create(
        system=mill.system, at=at(SWAP), state=SystemState.TRANSFERRED, entered_at=at(SWAP)
    )

    exchange(heron, fitted=unit, on=SWAP, by=make.manager(), reason="moved", now=at(SWAP))
    refresh_all(now=at(SWAP))

    assert shown(service, heron).due_on == date(2026, 2, 1) + timedelta(days=500)
    assert shown(change, other_filter).due_on == BEGIN + timedelta(days=400)
    assert not DueItem.objects.filter(system=mill.system).exists()


def test_days_between_two_ponds_do_not_count(service):
    mill, _ = pond("Mill Pond")
    heron, _ = pond("Heron Pond")
    unit = make.component()
    make.fit(unit, mill, from_on=BEGIN, to_on=SWAP)
    make.fit(unit, heron, from_on=SWAP + timedelta(days=60))

    refresh_all(now=NOW)

    item = shown(service, heron)
    assert item.due_on == BEGIN + timedelta(days=500 + 60)
    assert item.basis["paused_days"] == {"removed": 60}


def test_what_is_learnt_late_of_the_old_pond_moves_the_due_day_at_the_new_one(service):
    mill, _ = pond("Mill Pond")
    heron, _ = pond("Heron Pond")
    unit = make.component()
    make.fit(unit, mill, from_on=BEGIN, to_on=SWAP)
    make.fit(unit, heron, from_on=SWAP)
    refresh_all(now=NOW)
    for word, day in [(SystemState.SHUT_OTHER, 1), (SystemState.RUNNING, 11)]:
        StateChange.objects.create(
            system=mill.system, at=at(date(2026, 2, day)), state=word, entered_at=NOW
        )

    refresh_sites([mill.system.site_id], now=NOW)

    assert shown(service, heron).due_on == BEGIN + timedelta(days=510)
    assert refresh_all(now=NOW).written == 0


def test_work_on_the_unit_before_does_not_count_for_the_one_fitted_now(service):
    mill, _ = pond("Mill Pond")
    make.fit(make.component(), mill, from_on=BEGIN, to_on=SWAP)
    make.fit(make.component(), mill, from_on=SWAP)
    make.work(mill, service, done_at=at(SWAP - timedelta(days=1)))

    refresh_all(now=NOW)

    assert shown(service, mill).due_on == SWAP + timedelta(days=500)


def test_exchange_that_cannot_be_changes_nothing(service):
    mill, _ = pond("Mill Pond")
    unit = make.component()
    make.fit(unit, mill, from_on=BEGIN)

    with pytest.raises(FittingRefused):
        exchange(mill, fitted=unit, on=SWAP, by=make.manager(), reason="?", now=at(SWAP))

    assert Fitting.objects.get().to_on is None


def meter_at(compressor, **nameplate):
    position = make.position(PositionKind.METER, system=compressor.system, serves=compressor)
    kind = make.compressor_type(kind=PositionKind.METER, compressor_kind="", nameplate=nameplate)
    return position, kind


def read(meter, day, value):
    taken = ReadingSet.objects.create(system=meter.system, taken_at=at(day), entered_at=at(day))
    Reading.objects.create(set=taken, quantity=Quantity.RUN_HOURS, position=meter, value=value)


def test_meter_exchanged_in_one_step_keeps_the_next_due_day_in_hours():
    mill, filter_ = pond("Mill Pond")
    meter, kind = meter_at(mill)
    make.fit(make.component(type=kind), meter, from_on=BEGIN, meter_start_h=14_230 - 23 * 100)
    change = make.task(clock=Clock.RUN, every=23 * 100 + 310, unit="h")
    make.work(filter_, change, done_at=at(BEGIN))
    on = BEGIN + timedelta(days=100)

    exchange(
        meter,
        fitted=make.component(type=kind),
        on=on,
        by=make.manager(),
        reason="display is blind",
        now=at(on),
        meter_end_h=14_230,
        meter_start_h=0,
    )
    read(meter, on + timedelta(days=14), 310)
    refresh_all(now=NOW)

    assert shown(change, filter_).due_on == on + timedelta(days=14)


@pytest.mark.parametrize(
    ("turns", "first", "second"), [(9999.9, 9_900, 1_100), (99_999, 99_000, 200)]
)
def test_meter_that_turned_over_loses_no_hours(turns, first, second):
    mill, filter_ = pond("Mill Pond")
    meter, kind = meter_at(mill, turns_at_h=turns)
    make.fit(make.component(type=kind), meter, from_on=BEGIN, meter_start_h=first)
    read(meter, BEGIN + timedelta(days=50), second)  # 1,200 h in 50 days
    change = make.task(clock=Clock.RUN, every=2_400, unit="h")
    make.work(filter_, change, done_at=at(BEGIN))

    refresh_all(now=NOW)

    item = shown(change, filter_)
    assert item.due_on == BEGIN + timedelta(days=100)
    assert not item.estimated


def test_units_own_counter_leaves_with_the_unit():
    mill, filter_ = pond("Mill Pond", hours_per_day=10)
    make.fit(make.component(), mill, from_on=BEGIN, to_on=SWAP)
    make.fit(make.component(), mill, from_on=SWAP)
    for day, value in [(BEGIN, 500), (SWAP - timedelta(days=1), 500 + 119 * 12)]:
        read(mill, day, value)
    read(mill, SWAP, 9_000)
    read(mill, SWAP + timedelta(days=20), 9_000 + 20 * 6)
    change = make.task(clock=Clock.RUN, every=119 * 12 + 10 + 20 * 6, unit="h")
    make.work(filter_, change, done_at=at(BEGIN))

    refresh_all(now=NOW)

    assert shown(change, filter_).due_on == SWAP + timedelta(days=20)


def test_pond_task_is_owed_once_however_many_systems_feed_the_pond():
    site = make.site()
    water = make.pond(site=site)
    for name in ("North", "South"):
        make.position(PositionKind.DIFFUSER, system=make.system(name=name, site=site), pond=water)
    look = make.task(place_kind=PlaceKind.POND, position_kind="", clock=Clock.CAL, every=30)

    refresh_all(now=NOW)

    item = DueItem.objects.get(task=look)
    assert (item.place_key, item.pond_id) == (f"pond:{water.pk}", water.pk)


def test_unit_task_is_owed_at_the_unit_where_it_sits():
    mill, _ = pond("Mill Pond")
    unit = make.component()
    make.fit(unit, mill, from_on=BEGIN)
    look = make.task(place_kind=PlaceKind.UNIT, position_kind="", clock=Clock.CAL, every=365)

    refresh_all(now=NOW)

    item = DueItem.objects.get(task=look)
    assert (item.place_key, item.site_id) == (f"unit:{unit.pk}", mill.system.site_id)
    assert item.due_on == BEGIN + timedelta(days=365)


def test_pond_that_is_sold_keeps_its_history_and_its_due_days():
    _, filter_ = pond("Mill Pond")
    change = make.task()
    make.work(filter_, change, done_at=at(date(2026, 8, 3)))
    site = filter_.system.site
    Ownership.objects.create(customer=make.customer(), site=site, from_on=BEGIN, to_on=SWAP)
    refresh_all(now=NOW)
    before = shown(change, filter_).due_on

    Ownership.objects.create(customer=make.customer(), site=site, from_on=SWAP)

    assert refresh_all(now=NOW).written == 0
    assert shown(change, filter_).due_on == before == date(2026, 12, 1)


def test_plates_laid_to_another_depth_move_no_due_day():
    _, filter_ = pond("Mill Pond")
    make.task()
    refresh_all(now=NOW)

    Configuration.objects.create(
        system=filter_.system, from_on=SWAP, name="after the flood", entered_at=NOW
    )

    assert refresh_all(now=NOW).written == 0
