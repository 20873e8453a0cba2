"""The firm as it is, read for a simulated year: complete, in few queries, and nothing written."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from customers.models import OpeningHours, OwnerHours
from equipment.kinds import SystemState, WinterMode
from servicedesk import kinds
from servicedesk.actions.due import refresh_all
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.whatif.reading import world_of
from servicedesk.models import Absence, DueItem, Hold, Rhythm
from servicedesk.planning.routing.barriers import Area, area_polygon
from servicedesk.planning.whatif.running import Clocks
from servicedesk.planning.whatif.settings import Settings
from servicedesk.planning.whatif.world import Opening
from servicedesk.planning.whatif.year import simulate
from tests import make

pytestmark = pytest.mark.django_db
NOW = make.MORNING
MONDAY = date(2026, 6, 1)


@pytest.fixture(autouse=True)
def firm():
    return make.firm(setup_min=12, day_full_percent=75)


def pond_with_a_filter(**fields):
    site = make.site(region=make.region(), **fields)
    system = make.system(site=site, winter_mode=WinterMode.SHUT_DOWN)
    place = make.filter_position(of=system)
    place.pond = make.pond(site=site)
    place.save()
    return place


def read(**fields):
    return world_of(**{"now": NOW, "weeks": 52} | fields)


def test_firm_its_people_and_its_work_are_read():
    person = make.technician(boat=True)
    Absence.objects.create(
        technician=person, from_on=MONDAY + timedelta(days=7), to_on=MONDAY + timedelta(days=11)
    )
    place = pond_with_a_filter(lat=45.1, lon=-93.1)
    task = make.task(part_roles=["filter_element"])

    world = read()
    (site,), (found,) = world.sites, world.people
    (duty,) = site.duties
    assert (world.begins_on, world.shop, world.setup_min) == (MONDAY, (44.9, -93.2), 12)
    assert world.full_percent == 75
    assert (found.key, found.boat, len(found.days)) == (str(person.pk), True, 5)
    assert found.paid_day(MONDAY).from_min == 450
    assert found.paid_day(MONDAY + timedelta(days=7)) is None
    assert (site.latitude, site.longitude, site.ponds) == (45.1, -93.1, 1)
    assert (duty.work.slug, duty.work.parts) == (task.slug, ("filter_element",))
    assert duty.place_key == f"position:{place.pk}"


def test_days_without_visits_and_closed_ways_are_read():
    place = pond_with_a_filter(lat=45.1, lon=-93.1)
    make.task()
    site = place.system.site
    wall = {"type": "LineString", "coordinates": [[-93.2, 45.0], [-93.0, 45.0]]}
    round_it = area_polygon(Area(45.1, -93.1, 2))
    july, august = (date(2026, 7, 1), date(2026, 7, 20)), (date(2026, 8, 1), date(2026, 8, 3))
    for kind, days, fields in [
        ("blackout", july, {"site": site}),
        ("treatment", august, {"region": site.region}),
        ("no_go_area", july, {"area": wall}),
        ("no_go_area", (date(2026, 9, 1), date(2026, 9, 9)), {"area": round_it}),
        ("heat", july, {"site": make.site()}),
        ("blackout", (date(2026, 5, 1), date(2026, 5, 2)), {"site": site}),
        ("blackout", august, {"site": site, "lifted_at": NOW}),
    ]:
        Hold.objects.create(kind=kind, from_on=days[0], to_on=days[1], reason="x", **fields)

    world = read()
    assert world.sites[0].held == (july, august, (date(2026, 9, 1), date(2026, 9, 9)))
    assert [(way.from_on, way.barrier.is_line) for way in world.ways] == [
        (july[0], True),
        (date(2026, 9, 1), False),
    ]


def test_first_due_days_are_those_of_the_real_engine():
    pond_with_a_filter()
    pond_with_a_filter()
    make.task(every=120)
    make.task(every=700, clock=kinds.Clock.CAL)
    refresh_all(now=NOW)

    clocks = Clocks(read().sites, MONDAY)
    found = sorted(row.due_on(MONDAY).on for row in clocks.by_key.values())
    assert found == sorted(DueItem.objects.values_list("due_on", flat=True))


def test_nothing_is_written_by_reading_and_playing():
    make.technician()
    pond_with_a_filter()
    make.task()
    with CaptureQueriesContext(
        connection,
    ) as seen:
        months = simulate(read(), Settings(ponds=2), weeks=20, iterations=10)

    assert months.total.tasks > 0
    written = [
        q["sql"] for q in seen if not q["sql"].startswith(("SELECT", "SAVEPOINT", "RELEASE"))
    ]
    assert written == []


@pytest.mark.parametrize("sites", [1, 4])
def test_queries_do_not_grow_with_the_sites(sites, django_assert_max_num_queries):
    make.technician()
    for _ in range(sites):
        pond_with_a_filter()
    make.task()

    with django_assert_max_num_queries(40):
        assert len(read().sites) == sites


def test_coming_winter_is_read_and_its_own_work_with_it():
    pond_with_a_filter()
    task = make.task(place_kind=kinds.PlaceKind.SYSTEM, every=14, slug="winter-watch")
    Rhythm.objects.filter(task=task).update(condition={"states": ["shut_winter"]})

    (duty,) = read().sites[0].duties
    assert [row.state for row in duty.states] == [SystemState.SHUT_WINTER, SystemState.RUNNING]
    assert list(duty.rules) == [SystemState.SHUT_WINTER]


def test_work_of_owners_and_paperwork_stay_out():
    pond_with_a_filter()
    own, paper = make.task(), make.task(crew=0)
    Rhythm.objects.filter(task=own).update(who=kinds.Who.OWNER)

    assert read().sites == ()
    assert paper.crew == 0


def test_hours_of_the_site_and_of_its_owner_are_kept_by_the_firms_clock():
    site = pond_with_a_filter(time_zone="America/New_York", owner_present=True).system.site
    make.task()
    for weekday in (1, 3):
        OpeningHours.objects.create(site=site, weekday=weekday, opens="08:00", closes="17:00")
    OwnerHours.objects.create(site=site, weekday=3, comes="15:00", leaves="20:00")

    # Wednesday 15:00 to 17:00 in New York is an hour less in Chicago.
    assert read().sites[0].opening == (Opening(3, 14 * 60, 16 * 60),)


def test_year_begins_on_the_next_monday():
    assert read(now=datetime(2026, 6, 3, 15, tzinfo=UTC)).begins_on == date(2026, 6, 8)


def test_firm_without_a_shop_is_refused_with_what_to_do():
    make.firm(shop_lat=None, shop_lon=None)
    with pytest.raises(RouteRefused, match="Enter the shop's latitude"):
        read()
