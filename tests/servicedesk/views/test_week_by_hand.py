"""Changing the week by hand from the manager's pages."""

from datetime import time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from servicedesk import kinds
from servicedesk.actions.routes import hands
from servicedesk.models import Route, Stop
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.views.test_week import (
    MONDAY,
    NAME,
    day_page,
    due_ticket,
    place,
    text,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def manager(client):
    user = make.manager()
    client.force_login(user)
    return user


@pytest.fixture
def dario():
    return make.technician(user=make.user(username="dario", first_name="Dario", last_name="Lund"))


def test_two_person_ticket_is_placed_on_two_days_from_the_page(client, manager, dario):
    wen = make.technician()
    ticket = weeks.for_two(due_when_opened_on=MONDAY)
    address = reverse("place_ticket", args=[NAME, ticket.pk])
    form = {"day": MONDAY.isoformat(), "technician_1": dario.pk, "technician_2": wen.pk}
    assert "Needs two people" in text(client.get(address))
    missing = client.post(address, form)
    assert missing.status_code == 422
    done = client.post(address, form | {"start": "10:00"})

    assert done.url == f"/week/{NAME}/"
    assert Stop.objects.filter(tickets=ticket).count() == 2


def test_placing_that_breaks_a_rule_is_refused_in_the_form(client, manager, dario):
    ticket = due_ticket(task=make.task(skill=kinds.Skill.ELECTRICIAN))
    address = reverse("place_ticket", args=[NAME, ticket.pk])
    refused = client.post(address, {"day": MONDAY.isoformat(), "technician_1": dario.pk})

    assert refused.status_code == 422
    assert "nobody on that stop has the skill electrician" in text(refused)
    assert Stop.objects.count() == 0


@pytest.mark.parametrize("day", ["", "2020-01-01", "soon"])
def test_day_that_is_not_in_the_week_is_refused_in_the_form(client, manager, dario, day):
    address = reverse("place_ticket", args=[NAME, due_ticket().pk])

    assert client.post(address, {"day": day, "technician_1": dario.pk}).status_code == 422


def test_closed_ticket_is_not_found_for_placing(client, manager):
    ticket = due_ticket(closed_at=timezone.now(), end=kinds.TicketEnd.DONE)

    assert client.get(reverse("place_ticket", args=[NAME, ticket.pk])).status_code == 404


def test_stop_is_moved_kept_and_taken_off_from_the_day(client, manager, dario):
    place(due_ticket(), dario)
    stop = Stop.objects.get()
    assert "Let go" in text(day_page(client))
    client.post(reverse("keep_stop", args=[stop.uuid]), {"keep": "no"})
    assert "Keep here" in text(day_page(client))
    tuesday = MONDAY + timedelta(days=1)
    assert "Move a stop" in text(client.get(reverse("move_stop", args=[stop.uuid])))
    client.post(
        reverse("move_stop", args=[stop.uuid]), {"technician": dario.pk, "day": tuesday.isoformat()}
    )
    assert Stop.objects.get().route.day == tuesday
    client.post(reverse("take_off_stop", args=[Stop.objects.get().uuid]))

    assert Stop.objects.count() == 0


def test_frozen_day_refuses_in_words(client, manager, dario):
    place(due_ticket(), dario)
    Route.objects.update(published_at=timezone.now())
    stop = Stop.objects.get()

    for name in ("take_off_stop", "keep_stop"):
        said = text(client.post(reverse(name, args=[stop.uuid]), follow=True))
        assert "published and frozen" in said
    moved = client.post(
        reverse("move_stop", args=[stop.uuid]), {"technician": dario.pk, "day": MONDAY.isoformat()}
    )
    assert moved.status_code == 422
    assert Stop.objects.count() == 1


def test_published_day_is_opened_again_from_its_page(client, manager, dario):
    place(due_ticket(), dario)
    client.post(reverse("publish_week", args=[NAME]))
    assert "Open this day again" in text(day_page(client))
    said = text(client.post(reverse("reopen_day", args=[Route.objects.get().pk]), follow=True))

    assert "The day is a draft again." in said
    assert Route.objects.get().published_at is None
    again = text(client.post(reverse("reopen_day", args=[Route.objects.get().pk]), follow=True))
    assert "draft already" in again


def test_pair_is_shown_on_both_days(client, manager, dario):
    wen = make.technician(user=make.user(username="wen"))
    place(weeks.for_two(due_when_opened_on=MONDAY), dario, wen, start=time(10))

    assert "10:00" in text(day_page(client, "dario"))
    assert "10:00" in text(day_page(client, "wen"))


def stop_with_tolerance(client, **fields):
    """The address at which a stop is dropped, its ticket, and where its tolerance ends."""
    make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)
    client.force_login(make.manager())
    today = timezone.localdate()
    monday = today + timedelta(days=7 - today.weekday())
    ticket = make.ticket(due_when_opened_on=monday, **fields)
    ends = monday + timedelta(days=14)
    make.due_item(ticket, closes_on=ends)
    person = make.technician()
    hands.place_by_hand(ticket, technicians=[person], day=monday, start=None, today=today)
    return f"/stops/{ticket.stops.get().uuid}/drop/", ticket, ends


def test_stop_is_dropped_until_a_day_and_the_page_says_when_its_tolerance_ends(client):
    address, ticket, ends = stop_with_tolerance(client)

    assert f'value="{ends.isoformat()}"' in client.get(address).content.decode()
    assert client.post(address, {"until": ends.isoformat()}).status_code == 422
    client.post(address, {"until": ends.isoformat(), "reason": "fence"})
    assert not ticket.stops.exists()


def test_stop_is_dropped_past_its_tolerance_only_with_a_tick_and_the_year_is_said(client):
    address, ticket, ends = stop_with_tolerance(client)
    until = ends.replace(year=ends.year + 3, month=1, day=2)
    asked = {"until": until.isoformat(), "reason": "fence"}
    page = client.post(address, asked)

    assert (page.status_code, ticket.stops.count()) == (422, 1)
    assert f"Leave it alone until 2 January {until.year} all the same" in text(page)
    done = client.post(address, asked | {"sure": "on"}, follow=True)
    assert not ticket.stops.exists()
    assert f"is not planned before 2 January {until.year}." in text(done)
