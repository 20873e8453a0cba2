"""A register is loaded whole or not at all, and loading it again changes nothing."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.apps import apps
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from customers.models import Contact, ContactRole, Customer, Ownership, Pond, Site, Trail
from equipment.kinds import PositionKind, PositionUse, SystemState
from equipment.models import (
    Component,
    Configuration,
    Fitting,
    PartFor,
    Position,
    Schedule,
    StateChange,
    System,
)
from servicedesk.actions.registers import RegisterRefused, import_register
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import DoneBy, WorkState
from servicedesk.models import DueItem, Work
from tests import make
from tests.servicedesk.registers.sheets import SAMPLES, csv_file, row, xlsx_file

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 1, 15, tzinfo=UTC)
LATER = NOW + timedelta(days=30)


@pytest.fixture(autouse=True)
def tasks(db):
    load_task_defaults()


def load(*rows, now=NOW, **options):
    return import_register(csv_file(rows), now=now, **options)


def everything():
    """How many rows each table has, and which: any write shows."""
    return {
        model._meta.label: sorted(map(str, model.objects.values_list()))
        for model in apps.get_models()
        if model._meta.app_label in {"customers", "equipment", "servicedesk"}
    }


def test_one_row_makes_all_that_stands_at_a_pond():
    load(row(hours_per_day="16", hazards="dog", gate_code="2580#", state="running_timer"))

    system = System.objects.get(key="A1")
    assert (system.site.key, system.commissioned_on) == ("S1", date(2024, 5, 16))
    assert Ownership.objects.get().customer.key == "C1"
    assert Contact.objects.get().email == "ines1@example.com"
    assert ContactRole.objects.get().role == "owner"
    assert Schedule.objects.get().hours_per_day == 16
    assert {p.label: p.kind for p in Position.objects.all()} == {
        "compressor 1": PositionKind.COMPRESSOR,
        "filter 1": PositionKind.FILTER,
        "D1": PositionKind.DIFFUSER,
        "D2": PositionKind.DIFFUSER,
    }
    depths = Configuration.objects.get().lines.order_by("position__label")
    assert [line.depth_m for line in depths] == [pytest.approx(3.6576), pytest.approx(3.048)]
    assert Fitting.objects.get().component.serial == "4401"
    assert PartFor.objects.get().part.number == "FE-40"
    assert StateChange.objects.get().state == SystemState.RUNNING_TIMER
    assert Site.objects.get().secrets.get().text == "2580#"
    work = Work.objects.get()
    assert (work.done_by, work.task.slug) == (DoneBy.IMPORT, "filter_change")
    due = DueItem.objects.get(task__slug="filter_change")
    assert due.due_on == date(2026, 3, 14) + timedelta(days=120)


@pytest.mark.parametrize("name", ["sample.csv", "sample.xlsx"])
def test_sample_loaded_twice_changes_nothing(name):
    with (SAMPLES / name).open("rb") as file:
        first = import_register(file, now=datetime(2026, 11, 25, tzinfo=UTC))
    before = everything()
    with (SAMPLES / name).open("rb") as file:
        second = import_register(file, now=datetime(2026, 11, 27, tzinfo=UTC))

    assert first.total().new > 1000
    assert System.objects.count() == 130
    total = second.total()
    assert (total.new, total.changed, total.same) == (0, 0, first.total().new)
    assert second.changes == []
    assert everything() == before


def test_workbook_of_the_same_register_changes_nothing_either():
    load(row(), row(2))

    report = import_register(xlsx_file([row(), row(2)]), now=LATER)

    assert (report.total().new, report.changes) == (0, [])


def test_many_systems_ask_no_more_of_the_database_than_it_takes():
    """SQLite takes 1,000 terms in one question; a register may have more of everything."""
    plates = "; ".join(["12"] * 3)
    rows = [row(n, compressor_serial=f"K{n}", diffuser_depths=plates) for n in range(1, 511)]
    first = load(*rows)

    second = load(*rows, now=LATER)

    assert (second.total().new, second.total().same) == (0, first.total().new)


def test_dry_run_tells_the_same_and_writes_nothing():
    before = everything()

    report = load(row(), dry_run=True)

    assert everything() == before
    assert report.counts == load(row()).counts


def test_changed_cells_are_changed_and_told():
    load(row(way_in="By the barn", hours_per_day="24"))

    report = load(row(way_in="By the mill", hours_per_day="12"), now=LATER)

    assert [(c.what, c.column, c.before, c.after) for c in report.changes] == [
        ("site S1", "way_in", "By the barn", "By the mill"),
        ("timer A1", "hours_per_day", "24.0", "12.0"),
    ]
    assert Site.objects.get().way_in == "By the mill"


def test_empty_cell_erases_nothing():
    load(row(way_in="By the barn", fish="koi"))

    load(row(way_in="", fish="", contact="", contact_email=""), now=LATER)

    assert (Site.objects.get().way_in, Pond.objects.get().fish) == ("By the barn", "koi")
    assert Contact.objects.count() == 1


def test_another_serial_number_is_an_exchange_from_today():
    load(row())

    load(row(compressor_serial="L3"), now=LATER)

    old, new = Fitting.objects.order_by("pk")
    assert (old.component.serial, old.to_on) == ("4401", LATER.date())
    assert (new.component.serial, new.from_on, new.to_on) == ("L3", LATER.date(), None)


def test_two_cabinets_that_exchange_units_keep_both_histories():
    load(row(), row(2))

    load(row(compressor_serial="4402"), row(2, compressor_serial="4401"), now=LATER)

    assert Component.objects.count() == 2
    now = Fitting.objects.filter(to_on=None).values_list(
        "position__system__key", "component__serial"
    )
    assert sorted(now) == [("A1", "4402"), ("A2", "4401")]


def test_newer_filter_change_is_added_and_an_earlier_one_replaces_the_slip():
    load(row())
    load(row(filter_changed_on="2026-05-20"), now=LATER)
    assert Work.objects.counting().count() == 2

    load(row(filter_changed_on="2026-05-10"), now=LATER + timedelta(days=1))

    counting = Work.objects.counting().order_by("done_at")
    assert [work.done_at.day for work in counting] == [14, 10]
    assert Work.objects.get(state=WorkState.REFUSED).done_at.day == 20


def test_state_of_the_same_day_is_corrected_and_a_later_one_added():
    load(row(state="shut_other", state_since="2026-05-01"))
    assert StateChange.objects.count() == 2  # it ran before

    load(row(state="failed", state_since="2026-05-01"), now=LATER)
    load(row(state="running", state_since="2026-06-20"), now=LATER)

    standing = StateChange.objects.standing().order_by("at").values_list("state", flat=True)
    assert list(standing) == ["running", "failed", "running"]


def test_plate_that_left_the_register_is_removed_not_deleted():
    load(row())

    load(row(diffuser_depths="12"), now=LATER)

    uses = dict(Position.objects.filter(kind="diffuser").values_list("label", "use"))
    assert uses == {"D1": PositionUse.IN_USE, "D2": PositionUse.REMOVED}


def test_depths_of_a_later_register_begin_that_day_and_are_corrected_on_it():
    load(row())
    load(row(diffuser_depths="11; 10"), now=LATER)

    load(row(diffuser_depths="9; 10"), now=LATER)

    first, second = Configuration.objects.order_by("from_on")
    assert (first.from_on, second.from_on) == (date(2024, 5, 16), LATER.date())
    depths = second.lines.order_by("position__label").values_list("depth_m", flat=True)
    assert list(depths) == [pytest.approx(2.7432), pytest.approx(3.048)]


def test_cabinet_may_feed_two_ponds():
    load(row(), row(2) | {n: row()[n] for n in row() if not n.startswith(("pond", "diffuser"))})

    plates = Position.objects.filter(kind="diffuser").order_by("label")
    assert [(p.label, p.pond.key) for p in plates] == [
        ("D1", "P1"),
        ("D2", "P1"),
        ("D3", "P2"),
        ("D4", "P2"),
    ]
    assert System.objects.count() == 1


def test_sale_ends_one_ownership_and_begins_another():
    load(row())

    load(row(customer_key="C9", customer="Renn", contact_email="renn@example.com"), now=LATER)

    old, new = Ownership.objects.order_by("pk")
    assert (old.customer.key, old.to_on) == ("C1", LATER.date())
    assert (new.customer.key, new.from_on) == ("C9", LATER.date())


def test_renamed_contact_is_known_by_the_address():
    load(row())

    load(row(contact="Ines Renn"), now=LATER)

    assert list(Contact.objects.values_list("name", flat=True)) == ["Ines Renn"]


def test_rows_that_contradict_each_other_are_refused():
    with pytest.raises(RegisterRefused) as refused:
        load(row(), row(2, customer_key="C1", customer="Somebody else", contact="Odo Renn"))

    assert [(f.row, f.column) for f in refused.value.faults] == [(3, "customer")]
    assert "Row 2 says Halvorsen 1" in refused.value.faults[0].says


def test_row_that_stands_there_twice_and_a_unit_in_two_cabinets_are_refused():
    with pytest.raises(RegisterRefused) as refused:
        load(row(), row(), row(2, compressor_serial="4401"))

    found = [(f.row, f.column) for f in refused.value.faults]
    assert found == [(3, "system_key"), (4, "compressor_serial")]


def test_alike_customers_and_ponds_are_told_and_not_refused():
    report = load(
        row(customer="Quillbrook Lane Owners", pond="Mill Pond", town="Oxlip"),
        row(2, customer="Quillbrook  lane owners", pond="Mill Pond", town="Oxlip"),
    )

    alike = [warning for warning in report.warnings if "If they are one" in warning]
    assert [warning.split(":")[0] for warning in alike] == ["C1, C2", "P1, P2"]
    assert Customer.objects.count() == 2


def test_load_leaves_a_trail_and_an_idle_one_does_not():
    manager = make.manager()
    load(row(), by=manager)
    load(row(), by=manager, now=LATER)

    assert [trail.by for trail in Trail.objects.all()] == [manager]


def test_faulty_sample_names_every_faulty_cell():
    with pytest.raises(RegisterRefused) as refused, (SAMPLES / "faulty.csv").open("rb") as file:
        import_register(file, now=datetime(2026, 11, 25, tzinfo=UTC))

    assert [(f.row, f.column) for f in refused.value.faults] == [
        (3, "installed_on"),
        (3, "latitude"),
        (4, "area_unit"),
        (5, "filter_changed_on"),
        (5, "state"),
        (6, "contact_email"),
    ]


SPOILT = {
    "customer_key": "",
    "contact_email": "no address",
    "latitude": "north",
    "longitude": "181",
    "time_zone": "Nowhere",
    "hazards": "dragon",
    "open_from": "25:99",
    "pond_depth": "-3",
    "system": "",
    "installed_on": "2026-02-30",
    "diffuser_depths": "12; x",
    "depth_unit": "fathom",
    "compressor_kind": "steam",
    "compressor_hours": "-1",
    "hours_per_day": "25",
    "filter_changed_on": "01/02/2026",
    "state": "asleep",
    "state_since": "2099-01-01",
    "winter_mode": "cosy",
}


@given(
    cell=st.sampled_from(sorted(SPOILT)),
    at=st.integers(min_value=0, max_value=11),
    as_book=st.booleans(),
)
@settings(
    max_examples=25,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_faulty_cell_anywhere_writes_nothing_and_is_named(cell, at, as_book):
    rows = [row(number) for number in range(1, 13)]
    rows[at] |= {cell: SPOILT[cell]}
    file = (xlsx_file if as_book else csv_file)(rows)
    before = everything()

    with pytest.raises(RegisterRefused) as refused:
        import_register(file, now=NOW)

    assert (at + 2, cell) in [(f.row, f.column) for f in refused.value.faults]
    assert {f.row for f in refused.value.faults} == {at + 2}
    assert everything() == before
