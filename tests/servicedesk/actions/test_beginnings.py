"""From which day on the records of systems, units and sites are complete."""

from datetime import UTC, date, datetime, timedelta

import pytest

from servicedesk.actions.due import refresh_all
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.models import DueItem
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 1, 18, tzinfo=UTC)
RECORDS = date(2026, 5, 3)


@pytest.fixture(autouse=True)
def tasks(db):
    load_task_defaults()


def because(slug, **where):
    refresh_all(now=NOW)
    return DueItem.objects.get(task__slug=slug, **where).because


def test_system_counts_from_where_its_records_begin():
    system = make.system(records_from_on=RECORDS)

    assert because("health_readings", system=system).startswith(
        "120 running days since the records begin on 3 May 2026"
    )
    item = DueItem.objects.get(task__slug="health_readings")
    assert (item.due_on, item.estimated) == (RECORDS + timedelta(days=120), True)


def test_unit_fitted_later_counts_from_its_fitting_and_one_that_came_before_from_the_records():
    unit = make.fit(make.component(), make.position(system=make.system()))
    system = unit.position.system
    system.records_from_on = RECORDS
    system.save()
    assert "since the records begin on 3 May 2026" in because("piston_service", system=system)

    unit.from_on = date(2026, 5, 20)
    unit.save()

    assert "fitting unit" in because("piston_service", system=system)


def test_unit_that_moved_brings_the_gap_in_its_records_along():
    old = make.position(system=make.system(records_from_on=RECORDS))
    new = make.position(system=make.system())
    unit = make.component()
    make.fit(unit, old, from_on=date(2025, 1, 1), to_on=date(2026, 5, 20))
    make.fit(unit, new, from_on=date(2026, 5, 20))

    assert "since the records begin on 3 May 2026" in because("piston_service", system=new.system)


def test_site_is_known_as_long_as_the_system_that_is_known_longest():
    site = make.site(public_access=True)
    make.system(site=site, records_from_on=RECORDS)
    assert "the records begin on 3 May 2026" in because("paper_renewal", site=site)

    make.system(site=site)

    assert because("paper_renewal", site=site).endswith("never recorded so far.")


def test_season_window_that_closed_before_the_system_was_registered_is_over():
    make.system(records_from_on=date(2026, 1, 10))
    later = make.system(records_from_on=date(2026, 1, 10), registered_on=date(2026, 9, 30))
    refresh_all(now=datetime(2026, 9, 30, 18, tzinfo=UTC))

    first, second = DueItem.objects.filter(task__slug="midsummer_check").order_by("due_on")
    assert (first.due_on.year, second.due_on.year) == (2026, 2027)
    assert second.system == later
