"""Regions learn their roads from what technicians logged; what the manager sets stands."""

from datetime import UTC, datetime, timedelta

import pytest

from customers.models import Trail
from servicedesk.actions import learning
from servicedesk.actions.routes.week import Places, site_place
from servicedesk.models import RoadTime
from servicedesk.roads import spot_key
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 30, 2, tzinfo=UTC)
MORNING = datetime(2026, 6, 1, 14, tzinfo=UTC)  # nine o'clock in Chicago


@pytest.fixture
def region():
    make.firm(road_factor=1.3, speed_km_h=55)
    return make.region()


def day_of_two(region, drive_min, after_days=0, person=None):
    """Two visits a tenth of a degree (11.12 km) apart, with so many minutes of driving between."""
    here = make.site(region=region, lat=45.0)
    there = make.site(region=region, lat=45.1)
    start = MORNING + timedelta(days=after_days)
    left = start + timedelta(hours=1)
    arrived = left + timedelta(minutes=drive_min)
    person = person or make.user()
    make.visit(site=here, technician=person, arrived_at=start, left_at=left)
    make.visit(
        site=there, technician=person, arrived_at=arrived, left_at=arrived + timedelta(hours=1)
    )


def test_region_where_drives_take_longer_is_learned_to_be_slow(region):
    for day in range(20):
        day_of_two(region, 30, day)
    assert learning.learn_roads(now=NOW) == 1

    region.refresh_from_db()
    # 11.1195 km * 1.3 in half an hour: 28.9 km/h; twenty drives meet the usual 55 in the middle
    assert region.learned_speed_km_h == pytest.approx((28.9 + 55) / 2, abs=0.1)
    assert region.speed_drives == 20
    assert (region.learned_road_factor, region.factor_drives) == (None, 0)


def test_road_factor_is_learned_where_a_routing_service_measured_the_way(region, settings):
    settings.ROADS_URL = "http://127.0.0.1:9"
    RoadTime.objects.create(
        from_key=spot_key((45.0, -93.0)),
        to_key=spot_key((45.1, -93.0)),
        seconds=1200,
        metres=20_000,
        asked_at=NOW,
    )
    day_of_two(region, 20)
    learning.learn_roads(now=NOW)

    region.refresh_from_db()
    # 20 km by road over 11.1195 km straight: 1.7986; one drive against the weight of twenty
    assert region.learned_road_factor == pytest.approx((1.7986 + 20 * 1.3) / 21, abs=1e-3)
    assert region.factor_drives == 1


def test_what_was_learned_is_what_weeks_are_planned_with(region):
    day_of_two(region, 30)
    learning.learn_roads(now=NOW)
    region.refresh_from_db()
    places = Places([], {})
    site_place(make.site(region=region), places)

    assert places.rows[0].speed_km_h == region.learned_speed_km_h
    assert places.rows[0].road_factor is None  # nothing is known: that of the firm


def test_figure_of_the_manager_stands_and_is_on_record(region):
    day_of_two(region, 30)
    learning.set_road_figures({region.pk: (1.6, 48.0)}, by=make.manager(), now=NOW)

    region.refresh_from_db()
    assert (region.factor_used, region.speed_used_km_h) == (1.6, 48.0)
    assert region.learned_speed_km_h is not None
    assert Trail.objects.get().about == f"region:{region.pk}"

    learning.set_road_figures({region.pk: (None, None)}, by=make.manager(), now=NOW)
    region.refresh_from_db()
    assert region.factor_used is None
    assert region.speed_used_km_h == region.learned_speed_km_h


def test_drives_of_more_than_a_year_ago_are_forgotten(region):
    day_of_two(region, 30)
    learning.learn_roads(now=NOW)
    learning.learn_roads(now=NOW + timedelta(days=366))

    region.refresh_from_db()
    assert (region.learned_speed_km_h, region.speed_drives) == (None, 0)


@pytest.mark.parametrize("days", [1, 8])
def test_learning_asks_the_database_the_same_for_few_drives_and_for_many(
    region, days, django_assert_num_queries
):
    for day in range(days):
        day_of_two(region, 30, day)

    with django_assert_num_queries(7):
        learning.learn_roads(now=NOW)


def test_firm_that_is_not_set_up_learns_nothing():
    assert learning.learn_roads(now=NOW) == 0
