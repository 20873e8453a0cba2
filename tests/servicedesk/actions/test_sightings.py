"""What is seen of ponds re-dates their season, asks a manager where it must, and neighbours."""

from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.kinds import PositionKind, SystemState, WinterMode
from servicedesk.actions import due
from servicedesk.actions.climates import climate_of
from servicedesk.actions.sightings import (
    SightingRefused,
    neighbours,
    record_sighting,
    settle_sighting,
    strike_sighting,
    take_for_neighbours,
)
from servicedesk.kinds import Clock, ObservationKind
from servicedesk.models import DueItem, Observation, OfficeTask
from servicedesk.planning.ice import ice_possible
from tests import make

pytestmark = pytest.mark.django_db
ON, OUT = ObservationKind.ICE_ON, ObservationKind.ICE_OUT
APRIL = datetime(2026, 4, 10, 15, tzinfo=UTC)


@pytest.fixture
def restart():
    condition = {"winter_modes": [WinterMode.SHUT_DOWN]}
    task = make.task(
        clock=Clock.SEASON,
        every=None,
        unit="",
        place_kind="system",
        season="spring",
        early_days=0,
        late_days=0,
    )
    task.rhythms.update(condition=condition)
    return task


@pytest.fixture
def region():
    return make.region()


def shut_pond(region, **site):
    pond = make.pond(site=make.site(region=region, **site))
    system = make.system(
        site=pond.site, state=SystemState.SHUT_WINTER, winter_mode=WinterMode.SHUT_DOWN
    )
    make.position(PositionKind.DIFFUSER, system=system, pond=pond)
    due.refresh_sites([pond.site_id], now=APRIL)
    return pond


def opens(pond):
    return DueItem.objects.get(site=pond.site_id, task__season="spring").opens_on


def see(pond, kind, on, *, now=APRIL, **fields):
    fields.setdefault("by", None if "by_contact" in fields else make.user())
    return record_sighting(pond, kind, on, now=now, **fields)


def open_texts():
    return list(OfficeTask.objects.filter(handled_at=None).values_list("text", flat=True))


def test_ice_out_seen_by_an_owner_moves_the_restart_of_his_pond_at_once(restart, region):
    pond = shut_pond(region)
    assert opens(pond) == date(2026, 4, 5)

    see(pond, OUT, date(2026, 4, 10), by_contact=make.contact())

    assert opens(pond) == date(2026, 4, 10)
    assert "ice-out was seen here on 10 April 2026" in DueItem.objects.get().because


def test_edge_case_x52_ice_out_then_refreeze_closes_the_restart_until_a_manager_looked(
    restart, region
):
    pond = shut_pond(region)
    see(pond, OUT, date(2026, 4, 1))
    back = see(pond, ON, date(2026, 4, 9))

    assert back.waits
    assert opens(pond) == date(2026, 4, 16)
    (asked,) = open_texts()
    assert "ice was seen again on 9 April 2026" in asked
    pond.site.refresh_from_db()
    assert ice_possible(climate_of(pond.site), date(2026, 5, 15))

    assert settle_sighting(back, holds=True, by=make.manager(), now=APRIL)
    assert not settle_sighting(back, holds=False, by=make.manager(), now=APRIL)
    assert open_texts() == []
    assert opens(pond) == date(2026, 4, 16)

    see(pond, OUT, date(2026, 4, 10), now=APRIL + timedelta(days=1))
    assert opens(pond) == date(2026, 4, 10)
    pond.site.refresh_from_db()
    assert pond.site.ice_seen_on is None


def test_refreeze_that_a_manager_strikes_out_gives_the_first_ice_out_back(restart, region):
    pond = shut_pond(region)
    see(pond, OUT, date(2026, 4, 1))
    back = see(pond, ON, date(2026, 4, 9))

    settle_sighting(back, holds=False, by=make.manager(), now=APRIL)

    assert opens(pond) == date(2026, 4, 1)


def test_edge_case_x35_seasons_go_by_the_place_and_not_by_the_month(restart):
    south = make.region(
        ice_on_typical="06-20", ice_on_earliest="", ice_out_typical="09-05", layering_typical=""
    )
    pond = shut_pond(south, lat=-44.0)
    tropic = shut_pond(make.region(ice_on_typical="", ice_out_typical=""), lat=5.0)

    assert opens(pond).month == 9
    assert not DueItem.objects.filter(site=tropic.site_id).exists()


def test_high_site_with_days_of_its_own_does_not_follow_its_region(restart, region):
    high = shut_pond(region, ice_out_typical="05-10", layering_typical="06-20")
    mild = shut_pond(region, has_winter=False)

    assert opens(high) == date(2026, 5, 10)
    assert not DueItem.objects.filter(site=mild.site_id).exists()


def test_ice_out_in_a_january_thaw_moves_nothing_until_a_manager_confirms_it(restart, region):
    pond = shut_pond(region)
    january = datetime(2026, 1, 16, 15, tzinfo=UTC)
    seen = see(pond, OUT, date(2026, 1, 15), now=january)

    assert opens(pond) == date(2026, 4, 5)
    assert "far from the usual day" in open_texts()[0]

    settle_sighting(seen, holds=True, by=make.manager(), now=january)
    assert opens(pond) == date(2026, 1, 15)


def test_sighting_is_suggested_for_neighbours_once_and_taken_when_the_office_says_so(
    restart, region
):
    pond, near, other = shut_pond(region), shut_pond(region), shut_pond(region)
    elsewhere = shut_pond(make.region())
    seen = see(pond, OUT, date(2026, 4, 9))
    see(other, OUT, date(2026, 4, 10))

    (asked,) = open_texts()
    assert "Ponds nearby without a day of their own: 2." in asked
    assert opens(near) == date(2026, 4, 5)

    assert list(neighbours(seen)) == [near]
    took = take_for_neighbours(
        seen, [near.pk, other.pk, elsewhere.pk], by=make.manager(), now=APRIL
    )

    assert took == 1
    assert [opens(p).day for p in (pond, near, other, elsewhere)] == [9, 9, 10, 5]
    assert open_texts() == []
    see(near, OUT, date(2026, 4, 3))
    assert opens(near) == date(2026, 4, 3)


def test_mistake_that_is_struck_out_goes_from_the_neighbours_too(restart, region):
    pond, near = shut_pond(region), shut_pond(region)
    seen = see(pond, OUT, date(2026, 4, 9))
    take_for_neighbours(seen, [near.pk], by=make.manager(), now=APRIL)

    assert strike_sighting(seen, by=make.manager(), now=APRIL)

    assert [opens(pond), opens(near)] == [date(2026, 4, 5)] * 2
    assert Observation.objects.count() == 2
    assert not strike_sighting(seen, by=make.manager(), now=APRIL)
    seen.refresh_from_db()
    with pytest.raises(SightingRefused):
        take_for_neighbours(seen, [near.pk], by=make.manager(), now=APRIL)


def test_sighting_that_arrives_twice_is_kept_once(restart, region):
    pond, key = shut_pond(region), "7a3d2f16-50a5-4a04-8a22-6ff7d6d3a001"

    first = see(pond, OUT, date(2026, 4, 9), uuid=key)
    again = see(pond, OUT, date(2026, 4, 9), uuid=key)

    assert first.pk == again.pk


@pytest.mark.parametrize("on", [date(2026, 4, 11), date(2024, 4, 9)])
def test_day_to_come_or_long_ago_is_refused(region, on):
    with pytest.raises(SightingRefused, match="at most a year back"):
        see(shut_pond(region), OUT, on)


def test_restart_done_before_ice_came_back_is_not_asked_for_again(restart, region):
    pond = shut_pond(region)
    see(pond, OUT, date(2026, 3, 28))
    item = DueItem.objects.get(site=pond.site_id)
    make.work(item.system, restart, done_at=datetime(2026, 3, 30, 15, tzinfo=UTC))
    see(pond, ON, date(2026, 4, 2))

    due.refresh_sites([pond.site_id], now=APRIL)

    assert opens(pond).year == 2027
