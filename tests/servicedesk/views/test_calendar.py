"""The clocks of a system on one page, and twelve months of a system, a pond and the firm."""

from collections import Counter
from datetime import UTC, date, datetime

import pytest

from customers.kinds import Role
from equipment.kinds import SystemState
from servicedesk.actions.due import refresh_all
from servicedesk.kinds import Clock, PlaceKind
from servicedesk.models import DueItem
from servicedesk.tables.calendar import months_of, year_of_the_firm
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 1, 15, tzinfo=UTC)
QUERIES = [9, 5, 16]  # clocks, the firm's year, a pond's year: that one asks the due engine


@pytest.fixture
def filter_():
    make.firm()
    site = make.site(name="Mill Lane")
    system = make.system(site=site, name="Cabinet at the mill")
    make.position("diffuser", system=system, pond=make.pond(site=site, name="Mill Pond"))
    return make.filter_position(system)


def filter_change(filter_, *, done_at=datetime(2026, 5, 1, 15, tzinfo=UTC), **fields):
    task = make.task(name="Filter change", **fields)
    make.work(filter_, task, done_at=done_at)
    refresh_all(now=NOW)
    return task


def test_page_of_clocks_tells_sentence_facts_and_what_would_change_each(client, filter_):
    filter_change(filter_, clock=Clock.RUN, every=2900, unit="h")
    client.force_login(make.user())

    page = client.get(f"/systems/{filter_.system_id}/clocks/").content.decode()

    assert DueItem.objects.get().because in page
    assert "Running hours" in page
    assert "24 h, estimated from the schedule" in page
    assert "Counts from" in page
    assert "Fri 1 May 2026" in page
    assert "A reading of the hour meter" in page
    assert "common practice, no source" in page
    assert 'aria-label="Window from' in page


def test_clock_at_rest_says_so_and_draws_no_window(client, filter_):
    filter_.system.state_changes.update(state=SystemState.SHUT_WINTER)
    make.task()
    refresh_all(now=NOW)
    client.force_login(make.user())

    page = client.get(f"/systems/{filter_.system_id}/clocks/").content.decode()

    assert "No due day: the clock stands still." in page
    assert "At rest" in page


def test_twelve_months_of_a_system_hold_each_occasion_once(filter_):
    filter_change(filter_)

    months = months_of(filter_.system, now=NOW, today=date(2026, 6, 1))

    days = [on for month in months for line in month.lines for on in line.days]
    assert days == [date(2026, 8, 29), date(2026, 12, 27), date(2027, 4, 26)]
    assert len(months) == 12
    assert months[2].minutes == 8


def test_units_and_waters_of_other_systems_stand_in_their_own_calendar(client, filter_):
    other = make.filter_position(make.system(site=filter_.system.site, name="Cabinet two"))
    make.position("diffuser", system=other.system, pond=make.pond(site=other.system.site))
    for kind in (PlaceKind.UNIT, PlaceKind.POND, PlaceKind.SYSTEM, PlaceKind.SITE):
        make.task(place_kind=kind, position_kind="", name=f"At a {kind}", every=300)
    refresh_all(now=NOW)
    client.force_login(make.user())
    site_and_three = {"At a unit": 1, "At a pond": 1, "At a system": 1, "At a site": 1}

    for system in (filter_.system, other.system):
        months = months_of(system, now=NOW, today=date(2026, 6, 1))
        found = Counter(line.task.name for month in months for line in month.lines[:4])
        assert {name: min(count, 1) for name, count in found.items()} == site_and_three
        places = {(line.task.name, line.where) for month in months for line in month.lines}
        assert len(places) == 4
        page = client.get(f"/systems/{system.pk}/clocks/").content.decode()
        assert page.count("At a unit") == 1


def test_weeks_of_the_firm_hold_what_its_systems_hold_day_by_day(filter_):
    other = make.filter_position()
    for clock, every, unit in ((Clock.OP, 120, "d"), (Clock.CAL, 45, "d"), (Clock.RUN, 500, "h")):
        filter_change(filter_, clock=clock, every=every, unit=unit)
    refresh_all(now=NOW)
    today = date(2026, 6, 1)

    year = year_of_the_firm(today=today)

    counted = Counter()
    for system in (filter_.system, other.system):
        for month in months_of(system, now=NOW, today=today):
            for line in month.lines:
                counted[line.task] += len(line.days)
    of_firm = Counter()
    for week in year.weeks:
        of_firm.update(dict(week.tasks))
    assert of_firm == counted
    assert year.systems == 2


def test_job_for_two_counts_the_time_of_both(filter_):
    make.task(minutes=60, crew=2, every=3650, clock=Clock.CAL)
    refresh_all(now=NOW)
    DueItem.objects.update(opens_on=NOW, due_on=NOW, closes_on=NOW)

    week = year_of_the_firm(today=date(2026, 6, 1)).weeks[0]

    assert (week.name, week.jobs, week.minutes) == ("2026-W23", 1, 120)


@pytest.mark.parametrize("role", list(Role))
def test_all_staff_read_clocks_and_calendars(client, filter_, role):
    client.force_login(make.user(role))
    pond = filter_.system.positions.get(kind="diffuser").pond_id
    addresses = [
        f"/systems/{filter_.system_id}/clocks/",
        "/calendar/",
        f"/calendar/?system={filter_.system_id}",
        f"/calendar/?pond={pond}",
    ]

    assert [client.get(address).status_code for address in addresses] == [200] * 4


@pytest.mark.parametrize("asked", ["system=999", "pond=x", "system=-1", "pond=" + "9" * 30])
def test_calendar_of_what_is_not_there_is_not_found(client, filter_, asked):
    client.force_login(make.user())

    assert client.get(f"/calendar/?{asked}").status_code == 404


@pytest.mark.parametrize("systems", [1, 50])
def test_pages_read_the_database_as_often_for_one_system_as_for_fifty(
    client, filter_, systems, django_assert_max_num_queries
):
    filter_change(filter_)
    for kind in (PlaceKind.SYSTEM, PlaceKind.UNIT, PlaceKind.POND, PlaceKind.SITE):
        make.task(place_kind=kind, position_kind="")
    for _number in range(systems - 1):
        other = make.filter_position(make.system(site=filter_.system.site))
        pond = filter_.system.positions.get(kind="diffuser").pond
        make.position("diffuser", system=other.system, pond=pond)
    refresh_all(now=NOW)
    client.force_login(make.user())
    pond = filter_.system.positions.get(kind="diffuser").pond_id

    counts = []
    for address in (
        f"/systems/{filter_.system_id}/clocks/",
        "/calendar/",
        f"/calendar/?pond={pond}",
    ):
        with django_assert_max_num_queries(16) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts == QUERIES
