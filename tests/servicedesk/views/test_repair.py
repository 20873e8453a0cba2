"""The pages on which a day that went wrong is set right."""

from datetime import time, timedelta

import pytest
from django.utils import timezone

from customers.models import Site
from servicedesk.actions.routes import hands
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.models import Absence, Repair
from servicedesk.planning.calendar import week_name
from tests import make

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())
WEDNESDAY = MONDAY + timedelta(days=2)
WEEK = week_name(MONDAY)


@pytest.fixture
def people(client):
    make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)
    users = [make.user(first_name=name, last_name="Lund") for name in ("Dario", "Wen")]
    client.force_login(make.manager())
    return [make.technician(user=user) for user in users]


def published(person, count=1):
    for number in range(count):
        site = make.site(name=f"Reed Lane {number}", lat=44.95, lon=-93 + number / 40)
        ticket = make.ticket(
            at=make.filter_position(make.system(site=site)), due_when_opened_on=MONDAY
        )
        hands.place_by_hand(ticket, technicians=[person], day=WEDNESDAY, start=None, today=TODAY)
    publish_week(MONDAY, by=None, today=TODAY, now=timezone.now())


def tell(client, **data):
    return client.post(f"/week/{WEEK}/repair/", data, follow=True)


def away(client, person):
    fields = {"away-technician": person.pk, "away-day": WEDNESDAY.isoformat()}
    return tell(client, what="away", **fields)


def test_absence_is_proposed_accepted_and_taken_back(client, people):
    published(people[0])
    page = away(client, people[0])
    repair = Repair.objects.get()
    assert "Dario Lund is away" in page.content.decode()
    assert not Absence.objects.exists()

    page = client.post(f"/week/repair/{repair.pk}/accept/", follow=True)
    shown = page.content.decode()
    assert "The days are changed. Nobody is mailed" in shown  # he goes there on the same day
    assert Absence.objects.count() == 1

    page = client.post(f"/week/repair/{repair.pk}/undo/", follow=True)
    assert "as they were before" in page.content.decode()
    assert not Absence.objects.exists()


def test_what_is_missing_is_asked_for_and_what_was_typed_stays(client, people):
    published(people[0])
    page = tell(client, what="late", **{"late-minutes": "40"})

    assert page.status_code == 422
    assert 'value="40"' in page.content.decode()


def test_refusal_is_shown_with_the_form(client, people):
    published(people[0])
    fields = {"late-technician": people[0].pk, "late-minutes": 40}
    page = tell(client, what="late", **fields)

    assert page.status_code == 422
    assert "Only of today" in page.content.decode()


def test_day_page_asks_with_one_press_for_another_way(client, people):
    published(people[0])
    name = people[0].user.username
    page = client.get(f"/week/{WEEK}/{name}/{WEDNESDAY}/").content.decode()

    assert "Dario is away this day" in page
    assert "Cannot be done" in page


def test_looking_changes_nothing(client, people):
    published(people[0])
    client.get(f"/week/{WEEK}/repair/")

    assert not Repair.objects.exists()


@pytest.mark.parametrize("count", [1, 4])
def test_proposal_is_read_with_the_same_queries_whatever_its_size(
    client, people, count, django_assert_num_queries
):
    published(people[0], count)
    away(client, people[0])
    address = f"/week/repair/{Repair.objects.get().pk}/"
    client.get(address)
    with django_assert_num_queries(5):
        client.get(address)


@pytest.mark.parametrize("count", [1, 4])
def test_forms_are_read_with_the_same_queries_whatever_the_week(
    client, people, count, django_assert_num_queries
):
    published(people[0], count)
    with django_assert_num_queries(9):
        client.get(f"/week/{WEEK}/repair/")


def test_hour_at_which_somebody_is_back_is_kept_with_the_absence(client, people):
    published(people[0])
    fields = {"away-technician": people[0].pk, "away-day": WEDNESDAY.isoformat()}
    tell(client, what="away", **fields, **{"away-back": "13:00"})
    client.post(f"/week/repair/{Repair.objects.get().pk}/accept/")

    assert Absence.objects.get().to_at == time(13)


def test_tickets_that_cannot_wait_are_told_apart_by_their_systems(client, people):
    site = make.site(name="Mill Lane")
    systems = [make.system(site=site) for _ in range(2)]
    for system in systems:
        make.ticket(at=make.filter_position(system))
    page = client.get(f"/week/{WEEK}/repair/").content.decode()

    assert all(f"{system}, Mill Lane</option>" in page for system in systems)


@pytest.mark.parametrize(
    ("reader", "typed", "said", "km"),
    [
        ("us", "1", "within 1 mi of Reed Lane 0", 1.609344),  # the international mile of 1959
        ("metric", "2,5", "within 2.5 km of Reed Lane 0", 2.5),
    ],
)
def test_closed_road_is_told_in_the_readers_unit_and_kept_in_kilometres(
    client, people, reader, typed, said, km
):
    published(people[0])
    client.force_login(make.manager(units=reader))
    site = Site.objects.get()
    road = {"road-site": site.pk, "road-radius": typed, "road-until": WEDNESDAY.isoformat()}
    page = client.get(f"/week/{WEEK}/repair/").content.decode()
    tell(client, what="road", **road)

    repair = Repair.objects.get()
    assert repair.facts["round"][2] == pytest.approx(km)
    assert said in repair.says
    assert f"Closed so far round it, {'mi' if reader == 'us' else 'km'}" in page


@pytest.mark.parametrize("typed", ["far", "0", "500"])
def test_distance_round_a_closed_road_that_cannot_be_is_refused_and_stays_typed(
    client, people, typed
):
    published(people[0])
    road = {"road-site": Site.objects.get().pk, "road-until": WEDNESDAY.isoformat()}
    page = tell(client, what="road", **road, **{"road-radius": typed})

    assert page.status_code == 422
    assert f'value="{typed}"' in page.content.decode()
    assert not Repair.objects.exists()
