"""Published days that leave the house as files: who gets them, and what is not in them."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone
from icalendar import Calendar

from servicedesk.actions.routes import hands
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.repairs import what
from servicedesk.actions.routes.repairs.accept import accept, undo
from servicedesk.actions.routes.repairs.propose import propose
from servicedesk.signed_links import calendar_token
from tests import make

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())
WEDNESDAY = MONDAY + timedelta(days=2)
SECRET = "4711-gate"


@pytest.fixture
def people():
    make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)
    users = [make.user(first_name=name, last_name="Lund") for name in ("Dario", "Wen")]
    return [make.technician(user=user) for user in users]


def published(person, count=1):
    for number in range(count):
        site = make.site(
            name=f"Reed Lane {number}", lat=44.95, lon=-93 + number / 40, way_in=SECRET
        )
        ticket = make.ticket(
            at=make.filter_position(make.system(site=site)), due_when_opened_on=MONDAY
        )
        hands.place_by_hand(ticket, technicians=[person], day=WEDNESDAY, start=None, today=TODAY)
    publish_week(MONDAY, by=None, today=TODAY, now=timezone.now())


def file(client, person, form):
    return client.get(f"/rounds/{person.user.username}/{WEDNESDAY}.{form}")


def events(client, person):
    page = client.get(f"/rounds/{calendar_token(person)}.ics")
    assert page.status_code == 200
    return {str(event["UID"]): event for event in Calendar.from_ical(page.content).walk("VEVENT")}


@pytest.mark.parametrize("form", ["gpx", "geojson"])
def test_round_is_a_file_without_the_way_in(client, people, form):
    published(people[0])
    client.force_login(make.manager())
    page = file(client, people[0], form)

    assert page.status_code == 200
    assert f"round-{WEDNESDAY}.{form}" in page["Content-Disposition"]
    assert "Reed Lane 0" in page.content.decode()
    assert SECRET not in page.content.decode()


def test_technician_gets_his_own_published_days_and_no_other(client, people):
    published(people[0])
    client.force_login(people[0].user)
    assert file(client, people[0], "gpx").status_code == 200
    client.force_login(people[1].user)
    assert file(client, people[0], "gpx").status_code == 404


def test_other_formats_and_days_that_are_none_are_not_found(client, people):
    published(people[0])
    client.force_login(make.manager())

    assert file(client, people[0], "kml").status_code == 404
    assert client.get(f"/rounds/{people[0].user.username}/soon.gpx").status_code == 404


def test_calendar_needs_no_login_and_holds_no_way_in(client, people):
    published(people[0])
    page = client.get(f"/rounds/{calendar_token(people[0])}.ics")

    assert page["Content-Type"].startswith("text/calendar")
    assert SECRET not in page.content.decode()
    assert len(events(client, people[0])) == 1


def test_altered_or_ended_link_opens_nothing(client, people):
    token = calendar_token(people[0])
    assert client.get(f"/rounds/{token[:-1]}.ics").status_code == 404
    client.force_login(people[0].user)
    client.post(f"/rounds/{people[0].user.username}/calendar/")

    assert client.get(f"/rounds/{token}.ics").status_code == 404


def test_everybody_sees_his_own_link_and_the_office_all(client, people):
    address = f"/rounds/{people[0].user.username}/calendar/"
    client.force_login(people[0].user)
    assert calendar_token(people[0]) in client.get(address).content.decode()
    client.force_login(make.manager())
    assert client.get(address).status_code == 200
    client.force_login(people[1].user)
    assert client.get(address).status_code == 403


def test_stop_given_to_somebody_else_is_cancelled_here_and_new_there(client, people):
    dario, wen = people
    published(dario)
    (uid, event), *_ = events(client, dario).items()
    assert event["SEQUENCE"] == 0
    look = {"by": None, "today": TODAY, "now": timezone.now()}
    repair = accept(propose(what.away(dario, WEDNESDAY, WEDNESDAY), **look), **look)

    assert events(client, dario)[uid]["STATUS"] == "CANCELLED"
    assert events(client, dario)[uid]["SEQUENCE"] == 1
    assert events(client, wen)[uid]["STATUS"] == "CONFIRMED"

    undo(repair, **look)
    assert events(client, dario)[uid]["STATUS"] == "CONFIRMED"
    assert events(client, dario)[uid]["SEQUENCE"] == 2
    assert events(client, wen)[uid]["STATUS"] == "CANCELLED"


@pytest.mark.parametrize("count", [1, 4])
def test_feed_and_files_are_read_with_the_same_queries_whatever_their_size(
    client, people, count, django_assert_num_queries
):
    published(people[0], count)
    with django_assert_num_queries(6):
        assert len(events(client, people[0])) == count
    client.force_login(make.manager())
    with django_assert_num_queries(6):
        assert len(json.loads(file(client, people[0], "geojson").content)["features"]) == count + 1
