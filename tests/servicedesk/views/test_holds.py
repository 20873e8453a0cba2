"""Closed roads and areas on their page; the units are those of whoever types."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from customers.models import Firm, Site
from servicedesk.models import Hold, Repair
from tests import make

pytestmark = pytest.mark.django_db
ADDRESS = reverse("holds")
# one mile and twenty-four, in kilometres: 1.609344, NIST SP 811, appendix B.8
MILE_KM = 1.609344


@pytest.fixture
def office(client):
    make.firm()
    client.force_login(make.manager(units="us"))
    return client


def typed(**fields):
    start = {"kind": "no_go_area", "from_on": "2099-06-01", "to_on": "2099-06-30"}
    return start | {"reason": "Bridge works."} | fields


def test_closed_bridge_is_entered_by_a_point_and_miles_round_it(office):
    answer = office.post(ADDRESS, typed(point="44.95, -93.10", radius="2", way_round="24"))

    hold = Hold.objects.get()
    assert answer.url == reverse("hold", args=[hold.pk])
    assert hold.way_round_km == pytest.approx(24 * MILE_KM)
    north = max(y for _, y in hold.area["coordinates"][0])
    assert (north - 44.95) * 111.32 == pytest.approx(2 * MILE_KM, rel=1e-3)
    assert "24" in office.get(ADDRESS).content.decode()


def test_river_is_pasted_as_a_line(office):
    line = {"type": "LineString", "coordinates": [[-93.0, 44.5], [-93.0, 45.5]]}
    feature = {"type": "Feature", "properties": {}, "geometry": line}
    page = office.post(ADDRESS, typed(shape=json.dumps(feature)), follow=True)

    assert Hold.objects.get().area == line
    assert "a line near 45.000, -93.000" in page.content.decode()


def test_treatment_is_entered_for_a_site_by_its_number_or_name(office):
    site = make.site(name="Oxlip Green")
    office.post(ADDRESS, typed(kind="treatment", site="oxlip green"))
    office.post(ADDRESS, typed(kind="blackout", site=site.key.lower()))

    assert set(Hold.objects.values_list("site", "kind")) == {
        (site.pk, "treatment"),
        (site.pk, "blackout"),
    }


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"kind": "heat"}, "Name one site or one region."),
        ({"kind": "heat", "site": "S", "radius": "3"}, "No site is called that"),
        ({"point": "45, -93"}, "how far round it"),
        ({"point": "45 N, 93 W", "radius": "2"}, "two numbers"),
        ({"point": "-93, 145", "radius": "2"}, "Latitude first"),
        ({"point": "45, -93", "radius": "0"}, "a figure from 0.062 to 62"),
        ({"point": "45, -93", "radius": "far"}, "not a number"),
        ({"shape": "{"}, "no GeoJSON"),
        ({"shape": '{"type": "Point", "coordinates": [1, 2]}'}, "one GeoJSON Polygon"),
        ({"shape": "[" * 19_000}, "no GeoJSON"),
        ({"shape": "{}", "radius": "2"}, "its own edge"),
        ({}, "one site, one point or one shape"),
        ({"to_on": "2099-05-31", "point": "45, -93", "radius": "2"}, "before the first one"),
    ],
)
def test_hold_that_cannot_be_kept_comes_back_with_a_sentence_and_what_was_typed(
    office, fields, says
):
    page = office.post(ADDRESS, typed(**fields))

    assert page.status_code == 400
    assert says in page.content.decode()
    assert "Bridge works." in page.content.decode()
    assert not Hold.objects.exists()


def test_name_of_two_sites_asks_for_the_number(office):
    first, second = make.site(name="Mill"), make.site(name="Mill")
    page = office.post(ADDRESS, typed(kind="blackout", site="Mill")).content.decode()

    assert "Several sites are called that" in page
    assert first.key in page
    assert second.key in page


def test_page_of_a_hold_offers_each_stop_it_meets_another_day(office):
    ticket = make.ticket()
    route = make.route(day="2099-06-02")
    stop = make.stop(ticket, route=route)
    office.post(ADDRESS, typed(kind="treatment", site=ticket.site.key))
    hold = Hold.objects.get()

    page = office.get(reverse("hold", args=[hold.pk])).content.decode()
    assert f"/week/2099-W23/repair/?what=failed&amp;stop={stop.uuid}" in page

    office.post(reverse("lift_hold", args=[hold.pk]))
    assert "This is over." in office.get(reverse("hold", args=[hold.pk])).content.decode()
    assert "All roads and sites are open." in office.get(ADDRESS).content.decode()


def test_months_without_a_van_are_entered_and_taken_out_again(office):
    site = make.site()
    address = reverse("days_without_van")
    wanted = {"van-site": site.key, "van-first": "11-15", "van-last": "04-30"}
    page = office.post(address, wanted | {"van-note": "Mud."}, follow=True).content.decode()
    assert "Each year 15 November to 30 April" in page
    assert "Mud." in page

    wrong = office.post(address, wanted | {"van-first": "11-31"})
    assert wrong.status_code == 400
    assert "there is no day 11-31" in wrong.content.decode()

    office.post(address, wanted | {"van-first": "", "van-last": ""})
    assert Site.objects.get(pk=site.pk).no_van_from == ""


@pytest.mark.parametrize("rows", [1, 9])
def test_page_asks_the_database_the_same_for_one_hold_and_for_many(
    office, rows, django_assert_max_num_queries
):
    for _ in range(rows):
        office.post(ADDRESS, typed(kind="treatment", site=make.site().key))
        make.site(no_van_from="11-01", no_van_to="04-01")

    with django_assert_max_num_queries(9):
        office.get(ADDRESS)


def test_stop_in_a_treated_pond_finds_a_day_after_it_by_the_repair_that_is_offered(office):
    """A published visit, a treatment from Monday to Wednesday: the repair proposes a later day."""
    Firm.objects.update(shop_lat=44.9, shop_lon=-93.2)
    ticket = make.ticket(at=make.filter_position(make.system(site=make.site(lat=44.95))))
    monday = datetime(2099, 6, 1, 15, tzinfo=UTC)
    route = make.route(day=monday.date(), technician=make.technician(), starts_at=monday)
    stop = make.stop(ticket, route=route, arrive_at=monday, leave_at=monday + timedelta(hours=1))
    office.post(ADDRESS, typed(kind="treatment", site=ticket.site.key, to_on="2099-06-03"))

    address = reverse("repair_week", args=["2099-W23"])
    offered = office.get(address, {"what": "failed", "stop": stop.uuid}).content.decode()
    assert f'<option value="{stop.uuid}" selected>' in offered
    answer = office.post(address, {"what": "failed", "failed-stop": stop.uuid})

    repair = Repair.objects.get()
    assert answer.url == reverse("repair", args=[repair.pk])
    days = {row["day"] for row in repair.proposal["after"] if row["stops"]}
    assert len(days) == 1
    assert min(days) >= "2099-06-04"
