"""The check-in of somebody alone, on his phone and on the first page of the office."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from servicedesk.actions import check_ins
from servicedesk.models import CheckIn
from tests import make
from tests.servicedesk.views.phone_day import ZONE, today

pytestmark = pytest.mark.django_db


@pytest.fixture
def stop():
    make.firm(phone="+1 202 555 0100")
    technician = make.technician(shifts=False, user=make.user(phone="+1 202 555 0102"))
    at = datetime.combine(today(), datetime.min.time(), ZoneInfo(ZONE)) + timedelta(hours=1)
    return make.stop(
        route=make.route(technician=technician, day=today()), arrive_at=at, leave_at=at
    )


@pytest.fixture
def dario(client, stop):
    client.force_login(stop.route.technician.user)
    return client


def clock(minutes):
    """What a clock at the pond shows then."""
    return f"{timezone.now().astimezone(ZoneInfo(ZONE)) + timedelta(minutes=minutes):%H:%M}"


def begin(client, stop, back_by=None):
    said = {"back_by": clock(60) if back_by is None else back_by}
    return client.post(reverse("begin_check_in", args=[stop.uuid]), said, follow=True)


def under_way(stop, *, late_min):
    """A check-in whose time was over so many minutes ago."""
    back_by = timezone.now() - timedelta(minutes=late_min)
    user, begun = stop.route.technician.user, back_by - timedelta(minutes=60)
    return check_ins.begin(user, stop, back_by=back_by, now=begun)


def page(client, stop):
    return client.get(reverse("day_stop", args=[stop.uuid])).content.decode()


def test_the_stop_offers_a_check_in_and_says_what_it_cannot_do_without_signal(dario, stop):
    shown = page(dario, stop)
    assert "Check in: alone here" in shown
    assert "agree on a time by voice first" in shown
    assert "15 minutes late" in shown


def test_one_tap_checks_in_and_the_next_says_all_is_well(dario, stop):
    assert "You are alone" in begin(dario, stop).content.decode()
    one = CheckIn.objects.get()
    assert timedelta(minutes=58) < one.back_by - one.begun_at <= timedelta(minutes=60)
    shown = dario.post(reverse("end_check_in", args=[one.uuid]), follow=True).content.decode()
    assert "Your check-in has ended" in shown
    assert "Check in: alone here" in shown


@pytest.mark.parametrize("typed", ["", "soon", "25:00"])
def test_what_is_no_time_is_refused_in_words(dario, stop, typed):
    assert "Write the time like 14:30" in begin(dario, stop, typed).content.decode()
    assert not CheckIn.objects.exists()


@pytest.mark.parametrize("minutes", [-2, 13 * 60])
def test_a_time_that_is_over_or_far_away_is_refused_in_words(dario, stop, minutes):
    assert "within the next twelve hours" in begin(dario, stop, clock(minutes)).content.decode()
    assert not CheckIn.objects.exists()


def test_the_office_reads_who_is_alone(client, dario, stop):
    begin(dario, stop)
    client.force_login(make.manager())
    assert f"is alone at {stop.site}" in client.get("/").content.decode()


def test_a_late_check_in_reminds_on_every_page_of_the_day(dario, stop):
    under_way(stop, late_min=5)
    for shown in [page(dario, stop), dario.get("/day/").content.decode()]:
        assert "You are late. Press now" in shown


def test_whoever_is_in_time_is_not_called_late(dario, stop):
    under_way(stop, late_min=-5)
    assert "You are late" not in page(dario, stop)


def test_the_first_page_is_loud_until_somebody_says_how_he_is(client, stop):
    one = under_way(stop, late_min=20)
    check_ins.watch_check_ins(now=timezone.now())
    manager = make.manager()
    client.force_login(manager)
    first = client.get("/").content.decode()
    assert f"is not back from {stop.site}" in first
    assert 'href="tel:+12025550102"' in first
    resolve = reverse("resolve_check_in", args=[one.uuid])
    assert "Write how he is" in client.post(resolve, {"note": " "}, follow=True).content.decode()
    client.post(resolve, {"note": "Spoke with him, phone was in the van."})
    one.refresh_from_db()
    assert one.ended_by == manager
    assert one.office_task.handled_by == manager
    assert "is not back" not in client.get("/").content.decode()


def test_the_alarm_cannot_be_ticked_off_like_another_task(client, stop):
    under_way(stop, late_min=20)
    check_ins.watch_check_ins(now=timezone.now())
    task = CheckIn.objects.get().office_task
    client.force_login(make.manager())
    assert client.post(reverse("handle_office_task", args=[task.pk])).status_code == 404
    assert CheckIn.objects.get().ended_at is None


def test_nobody_checks_in_or_ends_for_somebody_else(client, stop):
    one = under_way(stop, late_min=-30)
    client.force_login(make.user())
    assert begin(client, stop).status_code == 403
    for name in ["end_check_in", "longer_check_in"]:
        assert client.post(reverse(name, args=[one.uuid])).status_code == 404
    assert "I am all right" not in client.get("/day/").content.decode()
    assert CheckIn.objects.get().ended_at is None


def test_half_an_hour_more_is_one_press(dario, stop):
    one = under_way(stop, late_min=-5)
    dario.post(reverse("longer_check_in", args=[one.uuid]))
    before = one.back_by
    one.refresh_from_db()
    assert one.back_by == before + timedelta(minutes=30)


def test_work_for_two_is_not_begun_alone(dario, stop):
    ticket = make.ticket(task=make.task(needs_boat=True, crew=2))
    alone = make.stop(ticket, route=stop.route, arrive_at=stop.arrive_at, leave_at=stop.leave_at)
    assert "wait for the second" in page(dario, alone)
    assert "wait for the second" not in page(dario, stop)
