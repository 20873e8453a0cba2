"""A system moved to another pond: what wears goes along, what belongs to the water begins anew."""

from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.kinds import PositionKind, PositionUse, SystemState, WinterMode
from equipment.models import (
    Configuration,
    ConfigurationLine,
    Fitting,
    Position,
    Reading,
    ReadingSet,
    StateChange,
)
from servicedesk.actions.commissioning.begin import BeginRefused, begin_commissioning, plan_system
from servicedesk.actions.commissioning.moving import move_system
from servicedesk.actions.due import refresh_all
from servicedesk.actions.states import StateRefused, record_state
from servicedesk.kinds import Clock, PlaceKind
from servicedesk.models import Commissioning, Defect, DueItem, Ticket, Work
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 20, 18, tzinfo=UTC)
MOVED_AT = NOW - timedelta(hours=4)


@pytest.fixture
def there():
    """A cabinet at Mill Pond since 2025, and Heron Pond at another site."""
    system = make.system(site=make.site(), winter_mode=WinterMode.SHUT_DOWN)
    old = make.pond(site=system.site, name="Mill Pond")
    new = make.pond(site=make.site(), name="Heron Pond")
    plates = [
        make.position(PositionKind.DIFFUSER, system=system, pond=old, label=f"D{n}") for n in (1, 2)
    ]
    summer = Configuration.objects.create(
        system=system, from_on=date(2025, 1, 1), name="summer", entered_at=NOW
    )
    for plate in plates:
        ConfigurationLine.objects.create(configuration=summer, position=plate, depth_m=3.4)
    return system, old, new


def move(system, pond, **fields):
    start = {"at": MOVED_AT, "new_membranes": False, "by": make.manager(), "now": NOW}
    return move_system(system, pond, **start | fields)


def test_moved_system_stands_at_the_new_pond_and_waits_for_its_handing_over(there):
    system, _, new = there

    record = move(system, new)

    system.refresh_from_db()
    assert system.site == new.site
    assert system.winter_mode == WinterMode.UNDECIDED
    assert StateChange.objects.latest("at").state == SystemState.INSTALLED
    assert record == Commissioning.objects.open().get()
    assert record.because == "moved from Mill Pond"
    with pytest.raises(StateRefused, match="is being handed over"):
        record_state(system, at=NOW, state=SystemState.RUNNING, now=NOW, by=make.manager())


def test_plates_begin_anew_and_the_old_ones_stay_on_record_under_their_pond(there):
    system, old, new = there
    before = set(Position.objects.filter(system=system).values_list("pk", flat=True))

    move(system, new)

    lying = Position.objects.lying().filter(system=system).order_by("label")
    assert [(p.label, p.pond) for p in lying] == [("D1", new), ("D2", new)]
    gone = Position.objects.filter(pk__in=before, pond=old).order_by("label")
    assert [(p.label, p.use) for p in gone] == [
        ("D1, Mill Pond", PositionUse.REMOVED),
        ("D2, Mill Pond", PositionUse.REMOVED),
    ]
    first, second = Configuration.objects.filter(system=system).order_by("from_on")
    assert [line.depth_m for line in first.lines.all()] == [3.4, 3.4]
    assert list(second.lines.all()) == []
    assert second.because == "moved from Mill Pond"


def test_unit_keeps_its_seat_its_hours_and_its_warranty(there):
    system, _, new = there
    seat = make.position(system=system)
    unit = make.component(warranty_from=date(2025, 1, 1), warranty_months=24, hours_before=1200)
    fitting = make.fit(unit, seat)

    move(system, new)

    fitting.refresh_from_db()
    unit.refresh_from_db()
    assert (fitting.position, fitting.to_on) == (seat, None)
    assert (unit.hours_before, unit.warranty_from) == (1200, date(2025, 1, 1))


def test_plate_that_came_along_lies_at_its_new_place_from_that_day(there):
    system, _, new = there
    disc = make.component(type=make.compressor_type(kind=PositionKind.DIFFUSER, compressor_kind=""))
    make.fit(disc, Position.objects.get(label="D1"))

    move(system, new)

    left, laid = Fitting.objects.order_by("from_on")
    assert (left.to_on, laid.from_on) == (date(2026, 6, 20), date(2026, 6, 20))
    assert (laid.position.label, laid.position.pond) == ("D1", new)


def test_old_pond_keeps_its_work_and_its_readings(there):
    system, old, new = there
    plate = Position.objects.get(label="D1")
    work = make.work(plate, make.task(position_kind=PositionKind.DIFFUSER))
    taken = ReadingSet.objects.create(pond=old, taken_at=make.MORNING, entered_at=NOW)
    Reading.objects.create(set=taken, quantity="level", value=0.1)

    move(system, new)

    work.refresh_from_db()
    assert (work.pond, work.site, work.position) == (old, old.site, plate)
    assert ReadingSet.objects.get(pond=old) == taken


def test_work_done_before_the_move_goes_on_counting(there):
    """A trip test of 1 June counts at the new site too: the outlet came along."""
    system, _, new = there
    task = make.task(
        clock=Clock.CAL, every=365, place_kind=PlaceKind.SYSTEM, position_kind="", early_days=30
    )
    make.work(system, task)
    refresh_all(now=NOW)
    before = DueItem.objects.get(task=task).due_on

    move(system, new)
    assert not DueItem.objects.filter(system=system).exists()  # nothing is due before it runs
    Commissioning.objects.update(in_service_at=NOW, in_service_by=make.manager())
    record_state(system, at=NOW, state=SystemState.RUNNING, now=NOW, by=make.manager())

    item = DueItem.objects.get(task=task)
    assert (item.due_on, item.site) == (before, new.site)
    assert before == date(2027, 6, 1)


@pytest.mark.parametrize(
    ("new_membranes", "due_on"), [(True, date(2031, 6, 19)), (False, date(2029, 12, 31))]
)
def test_new_membranes_age_from_the_move_and_old_ones_from_their_first_day(
    there, new_membranes, due_on
):
    """1825 days from 20 June 2026, or from 1 January 2025."""
    system, _, new = there
    task = make.task(clock=Clock.CAL, every=1825, position_kind=PositionKind.DIFFUSER)
    move(system, new, new_membranes=new_membranes)
    Commissioning.objects.update(in_service_at=NOW, in_service_by=make.manager())

    record_state(system, at=NOW, state=SystemState.RUNNING, now=NOW, by=make.manager())

    assert {item.due_on for item in DueItem.objects.filter(task=task)} == {due_on}


def test_what_was_to_be_mended_goes_with_the_cabinet_and_what_was_due_there_ends(there):
    system, old, new = there
    task = make.task(
        clock=Clock.CAL, every=365, place_kind=PlaceKind.SYSTEM, position_kind="", early_days=600
    )
    refresh_all(now=NOW)
    due = make.ticket(at=system, task=task)
    repair = make.ticket(at=system, task=task, occasion="defect:7")
    defect = Defect.objects.create(
        system=system, site=old.site, sign="noise", seen_at=NOW, entered_at=NOW
    )

    move(system, new)

    defect.refresh_from_db()
    repair.refresh_from_db()
    due.refresh_from_db()
    assert defect.site == repair.site == new.site
    assert repair.closed_at is None
    assert due.closed_at == NOW
    assert Ticket.objects.open().count() == 1


def test_move_within_a_site_needs_a_new_handing_over_too(there):
    system, old, _ = there
    beside = make.pond(site=old.site, name="Lower Pond")

    record = move(system, beside)

    assert record.moved_from is None
    assert {p.pond for p in Position.objects.lying().filter(system=system)} == {beside}


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"at": NOW + timedelta(days=1)}, "in the future"),
        ({"at": datetime(2024, 5, 1, tzinfo=UTC)}, "begins on 2025-01-01"),
    ],
)
def test_impossible_move_is_refused_and_changes_nothing(there, fields, says):
    system, old, new = there

    with pytest.raises(BeginRefused, match=says):
        move(system, new, **fields)

    system.refresh_from_db()
    assert system.site == old.site
    assert not Commissioning.objects.exists()
    assert Position.objects.lying().filter(pond=old).count() == 2


def test_move_to_the_same_pond_is_a_change_of_plates(there):
    system, old, _ = there

    with pytest.raises(BeginRefused, match="begin a configuration"):
        move(system, old)


def test_system_that_is_handed_over_cannot_be_moved_meanwhile(there):
    system, _, new = there
    move(system, new)

    with pytest.raises(BeginRefused, match="Complete that record first"):
        move(system, make.pond())


def test_system_in_service_needs_no_record(there):
    system, _, _ = there

    with pytest.raises(BeginRefused, match="in service, or gone"):
        begin_commissioning(system, because="x", by=make.manager(), now=NOW)


def test_record_is_begun_once(there):
    system, _, new = there
    record = move(system, new)

    again = begin_commissioning(system, because="again", by=make.manager(), now=NOW)

    assert again == record


def test_plan_names_its_pond_and_a_number_of_its_own(there):
    system, old, new = there
    start = {"name": "", "installed_on": date(2026, 7, 1), "compressor": None}
    start |= {"by": make.manager(), "now": NOW}

    with pytest.raises(BeginRefused, match="lies at another site"):
        plan_system(old.site, new, key="A-1", **start)
    with pytest.raises(BeginRefused, match="with the number"):
        plan_system(old.site, old, key=system.key, **start)
    planned = plan_system(old.site, old, key="A-1", **start)

    assert (planned.name, StateChange.objects.get(system=planned).state) == (
        "Mill Pond",
        SystemState.PLANNED,
    )
    assert not Work.objects.exists()
