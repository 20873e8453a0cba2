"""The demo firm's stories and readings, and that it is the same for the same day."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from django.core.management import call_command

from customers.models import Contact, Customer, User
from equipment.actions import assessment
from equipment.models import Component, ConfigurationLine, Position, Reading, StateChange, System
from servicedesk.actions.demo.building import build_demo
from servicedesk.actions.reports import write_report
from servicedesk.actions.restarts.course import course_of
from servicedesk.forms.units import units_to_hand
from servicedesk.models import (
    DueItem,
    Message,
    OwnerAnswer,
    PartUsed,
    Photo,
    Reminder,
    Restart,
    Route,
    ServiceReport,
    Ticket,
    Visit,
    Work,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)  # a Wednesday
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module", autouse=True)
def small(django_db_setup, django_db_blocker):
    """One small demo for all tests here; each of them takes back what it changes itself."""
    with django_db_blocker.unblock():
        build_demo(today=TODAY, number=20)
        yield
        call_command("flush", interactive=False, verbosity=0)


def due_of(name, slug):
    return DueItem.objects.get(system__name=name, task__slug=slug)


def facts():
    """What must not differ between two demos of one day."""
    where = ["site__key", "system__key", "position__label", "task__slug"]
    works = Work.objects.values_list("uuid", *where, "done_at", "user__username").order_by("uuid")
    due = DueItem.objects.values_list(*where, "due_on", "because").order_by(*where)
    read = Reading.objects.values_list("set__uuid", "quantity", "position__label", "typed_value")
    read = read.order_by("set__uuid", "quantity", "position__label")
    names = System.objects.values_list("key", "name", "site__name", "site__lat").order_by("key")
    units = Component.objects.values_list("serial", "type__model", "state").order_by("serial", "pk")
    return [list(table) for table in (works, due, read, names, units)]


def test_shelf_holds_units_to_lend_and_to_fit_and_one_of_them_counts_hours():
    compressors, meters = (list(units_to_hand(kind, 0)) for kind in ("compressor", "meter"))

    assert [unit.state for unit in compressors] == ["loaner", "loaner", "spare"]
    assert [unit.hours_before for unit in compressors] == [6_240, 3_815, 0]
    assert [unit.state for unit in meters] == ["spare"]


def test_mill_pond_filter_is_due_in_five_days_and_says_why():
    item = due_of("Mill Pond", "filter_change")

    assert item.due_on == TODAY + timedelta(days=5)
    assert "120 running days" in item.because
    assert Ticket.objects.open().filter(place_key=item.place_key, task=item.task).exists()


def test_heron_pond_rests_and_its_filter_clock_with_it():
    item = due_of("Heron Pond", "filter_change")

    assert (item.due_on, item.paused) == (None, True)
    assert "with 40 running days left" in item.because
    assert due_of("Heron Pond", "relief_valve_test").due_on is not None


def test_quillbrook_upper_has_two_systems_due_at_two_times():
    tuesday = due_of("Quillbrook Upper A", "filter_change").due_on

    assert (tuesday.isoweekday(), tuesday > TODAY) == (2, True)
    assert due_of("Quillbrook Upper B", "gfci_test").due_on == TODAY + timedelta(days=12)
    ponds = Position.objects.filter(system__name__startswith="Quillbrook Upper", kind="diffuser")
    assert set(ponds.values_list("pond__name", flat=True)) == {"Quillbrook Upper"}


def test_one_compressor_is_dead_and_its_follow_up_waits():
    assert StateChange.objects.filter(state="failed").count() == 1
    assert Ticket.objects.open().filter(task__slug="post_outage_restart").count() == 1


def test_one_filter_is_overdue():
    item = due_of("Withy Pool", "filter_change")

    assert item.closes_on < TODAY


def test_route_is_published_for_today_and_owners_have_answered():
    published = Route.objects.filter(published_at__isnull=False, stops__isnull=False)

    assert TODAY in published.values_list("day", flat=True)
    assert OwnerAnswer.objects.filter(handled_at=None).exists()


def test_nobody_has_an_address_outside_example_com():
    addresses = [
        *Contact.objects.values_list("email", flat=True),
        *User.objects.values_list("email", flat=True),
        *Message.objects.values_list("to_address", flat=True),
    ]

    assert [a for a in addresses if not a.endswith("@example.com")] == []


def test_pressure_is_that_of_the_water_and_a_little_more():
    """Hydrostatic pressure: 998.2 kg/m3 (IAPWS, 20 degC) times 9.80665 m/s2 gives 9789 Pa/m."""
    told = 0
    for reading in Reading.objects.filter(quantity="pressure").select_related("set"):
        lines = ConfigurationLine.objects.filter(configuration=reading.set.configuration)
        over = reading.value - 9789 * max(line.depth_m for line in lines)
        told += 1
        assert 0 < over < 30_000  # check valve, line, membrane, what fouls it, and a flood
    assert told > 100


def test_told_faults_show_in_the_readings_and_the_others_mostly_do_not():
    """The readings come from physics, and are judged by it: each fault must be found again."""
    judged = assessment.judge(System.objects.values_list("pk", flat=True), now=NOW)
    names = dict(System.objects.values_list("name", "pk"))
    first = {name: judged[pk].verdict.first_cause for name, pk in names.items()}
    causes = judged[names["Oxlip 4"]].verdict.ranking.causes

    assert first["Oxlip 2"] == "membrane_fouled"
    assert first["Oxlip 11"] == "compressor_worn"
    assert "leak_on_shore" in [cause.slug for cause in causes[:2]]
    assert [call.task for call in judged[names["Oxlip 2"]].verdict.opens] == ["membrane_cleaning"]
    assert (
        sum(one.verdict.flagged for one in judged.values()) <= 6
    )  # of 20, with a flood among them


def test_every_filter_changed_in_two_years_used_an_element():
    changed = Work.objects.filter(task__slug="filter_change", visit__isnull=False)

    assert PartUsed.objects.count() == changed.count() > 50


def test_technicians_never_work_at_two_places_at_once():
    works = Work.objects.filter(visit__isnull=False).select_related("visit")
    visits = sorted({w.visit for w in works}, key=lambda v: (v.technician_id, v.arrived_at))
    for first, second in pairwise(visits):
        assert first.technician_id != second.technician_id or first.left_at <= second.arrived_at


def test_no_work_lies_in_the_future():
    assert Work.objects.filter(done_at__date__gte=TODAY).count() == 0


def test_every_customer_owns_something():
    assert Customer.objects.filter(ownerships__isnull=True).count() == 0


def test_demo_is_the_same_for_the_same_day():
    first = facts()

    call_command("flush", interactive=False, verbosity=0)
    build_demo(today=TODAY, number=20)

    assert facts() == first


def test_last_visits_owe_reports_that_can_be_written_and_one_shows_a_photo(settings, tmp_path):
    owed = Visit.objects.filter(report_owed_at__isnull=False)
    shown = Photo.objects.get(visit__in=owed)
    settings.MEDIA_ROOT = tmp_path  # the photo's file lies elsewhere: the paper goes without

    assert owed.count() >= 6
    assert write_report(shown.visit, now=NOW) == 1
    report = ServiceReport.objects.get()
    assert [one["uuid"] for one in report.facts["photos"]] == [str(shown.uuid)]
    assert report.fault == ""


def test_one_pond_is_brought_up_by_steps_and_its_owner_was_told_before():
    restart = Restart.objects.get()
    walk = course_of(restart, today=TODAY)
    told = Reminder.objects.get(topic="restart")

    assert (restart.path, restart.state) == ("R7", Restart.State.UNDER_WAY)
    assert walk.coming[0].on == TODAY
    assert told.message.sent_at < restart.started_at
