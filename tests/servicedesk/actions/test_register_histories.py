"""What a register tells of the time before it: clocks begin there, and nobody is flooded."""

from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.models import System
from servicedesk.actions.registers import RegisterRefused, import_register
from servicedesk.actions.reminders.queue import queue_owner_tasks_due
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.kinds import WorkState
from servicedesk.models import DueItem, Reminder, Ticket, Work
from tests.servicedesk.registers.sheets import SAMPLES, csv_file, row

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 1, 15, tzinfo=UTC)
LATER = NOW + timedelta(days=30)
SAMPLE_DAY = datetime(2026, 9, 30, 15, tzinfo=UTC)


@pytest.fixture(autouse=True)
def tasks(db):
    load_task_defaults()


def load(*rows, now=NOW):
    return import_register(csv_file(rows), now=now)


def begins():
    return System.objects.get().records_from_on


@pytest.mark.parametrize(
    ("cells", "day"),
    [
        ({"last_service": "2026-04-20"}, date(2026, 4, 20)),
        ({}, date(2026, 3, 14)),  # the filter change
        ({"filter_changed_on": ""}, NOW.date()),
    ],
)
def test_records_begin_with_the_last_service_else_the_filter_change_else_today(cells, day):
    load(row(**cells))

    assert begins() == day
    item = DueItem.objects.get(task__slug="health_readings")
    assert item.due_on == day + timedelta(days=120)


def test_filter_keeps_its_own_day_where_the_service_came_later():
    load(row(last_service="2026-05-20"))

    found = {item.task.slug: item.due_on for item in DueItem.objects.select_related("task")}
    assert found["filter_change"] == date(2026, 3, 14) + timedelta(days=120)
    assert found["health_readings"] == date(2026, 5, 20) + timedelta(days=120)


@pytest.mark.parametrize("day", ["2026-02-01", "2026-06-20"])
def test_another_last_service_moves_the_beginning_and_an_empty_cell_does_not(day):
    load(row(last_service="2026-04-20"))

    report = load(row(last_service=day), now=LATER)
    again = load(row(last_service=""), now=LATER + timedelta(days=1))

    assert begins() == date.fromisoformat(day)
    assert [(c.before, c.after) for c in report.changes] == [("2026-04-20", day)]
    assert again.changes == []
    assert DueItem.objects.get(task__slug="fan_check").due_on == begins() + timedelta(days=120)


def test_membranes_count_at_every_plate_and_the_overhaul_at_the_compressor():
    load(row(last_membranes="2025-05-12", last_overhaul="2025-10-02"))

    works = Work.objects.exclude(task__slug="filter_change").order_by("position__label")
    assert [(w.task.slug, w.position.label, w.done_by) for w in works] == [
        ("membrane_replacement", "D1", "import"),
        ("membrane_replacement", "D2", "import"),
        ("piston_service", "compressor 1", "import"),
    ]
    membranes = DueItem.objects.filter(task__slug="membrane_replacement")
    assert {item.due_on for item in membranes} == {date(2025, 5, 12) + timedelta(days=1825)}
    overhaul = DueItem.objects.get(task__slug="piston_service")
    assert "piston compressor service of 2 October 2025" in overhaul.because


@pytest.mark.parametrize(
    ("kind", "slug"),
    [
        ("piston", "piston_service"),
        ("vane", "vane_replacement"),
        ("linear", "diaphragm_service"),
    ],
)
def test_overhaul_is_that_of_the_compressors_kind(kind, slug):
    load(row(compressor_kind=kind, last_overhaul="2025-10-02", filter_changed_on=""))

    assert Work.objects.get().task.slug == slug


def test_slip_in_the_membranes_is_replaced_and_told_once():
    load(row(last_membranes="2025-05-12"))

    report = load(row(last_membranes="2025-04-12"), now=LATER)

    assert [(c.column, c.before, c.after) for c in report.changes] == [
        ("last_membranes", "2025-05-12", "2025-04-12")
    ]
    wrong = Work.objects.filter(state=WorkState.REFUSED)
    assert [work.done_at.month for work in wrong] == [5, 5]


def test_same_file_again_changes_nothing():
    rows = [
        row(last_service="2026-04-20", last_membranes="2025-05-12", last_overhaul="2025-10-02"),
        row(2, filter_changed_on=""),
    ]
    first = load(*rows)

    second = load(*rows, now=LATER)

    assert (second.total().new, second.total().changed) == (0, 0)
    assert second.total().same == first.total().new
    assert second.changes == second.warnings == []


def test_what_is_not_said_is_told_once_and_counted():
    report = load(
        row(),
        row(2, filter_changed_on=""),
        row(3, last_service="2026-04-20", last_membranes="2025-05-12", last_overhaul="2025-10-02"),
        row(4, installed_on="2025-03-01", last_service="2026-04-20"),
    )

    assert report.warnings == [
        "1 system without a day of the last service: their checks count from today.",
        "1 system without a day of the last service: their checks count from the last filter "
        "change.",
        "2 systems older than 2 years, and nothing is said of their membranes: enter "
        "last_membranes, or their wear counts from the day the records begin.",
        "2 systems older than 2 years, and nothing is said of their overhaul: enter "
        "last_overhaul, or their wear counts from the day the records begin.",
    ]


def test_membranes_without_plates_are_not_lost_in_silence():
    report = load(row(last_membranes="2025-05-12", diffuser_depths=""))

    assert any("last_membranes is told" in warning for warning in report.warnings)


@pytest.mark.parametrize(
    ("cells", "name"),
    [
        ({"last_service": "2026-06-02"}, "last_service"),
        ({"last_membranes": "2024-01-01"}, "last_membranes"),
        ({"last_overhaul": "03/04/2026"}, "last_overhaul"),
        ({"last_overhaul": "2025-10-02", "compressor_kind": "other"}, "last_overhaul"),
    ],
)
def test_day_that_cannot_be_is_refused_by_its_name(cells, name):
    with pytest.raises(RegisterRefused) as refused:
        load(row(**cells))

    assert [fault.column for fault in refused.value.faults] == [name]


def test_sample_loaded_on_its_day_floods_nobody():
    with (SAMPLES / "sample.csv").open("rb") as file:
        import_register(file, now=SAMPLE_DAY)
    open_due_tickets(clock=lambda: SAMPLE_DAY)
    queue_owner_tasks_due(clock=lambda: SAMPLE_DAY)

    items = {(i.place_key, i.task_id, i.occasion): i for i in DueItem.objects.all()}
    due = [items[t.place_key, t.task_id, t.occasion] for t in Ticket.objects.open()]
    today = SAMPLE_DAY.date()
    late = [(today - item.closes_on).days for item in due if item.closes_on < today]
    assert 100 <= len(due) <= 250
    assert 5 <= len(late) <= 40
    assert max(late) <= 120
    told = Reminder.objects.select_related("ticket")
    days = [items[r.ticket.place_key, r.ticket.task_id, r.ticket.occasion].due_on for r in told]
    assert 1 <= len(days) <= 20
    assert all(today - timedelta(days=60) <= day <= today for day in days)
