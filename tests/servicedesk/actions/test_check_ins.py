"""Somebody alone at a pond who does not come back is looked for, at once and once."""

import email
import email.policy
from datetime import timedelta
from uuid import uuid4

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from servicedesk.actions import check_ins
from servicedesk.actions.alarms import GIVE_UP_AFTER, LEASE, send_alarms
from servicedesk.actions.check_ins import CheckInRefused
from servicedesk.emails.relay import FileRelay
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import Alarm, CheckIn, OfficeTask
from tests import make

pytestmark = pytest.mark.django_db
NOW = make.MORNING
BACK_BY = NOW + timedelta(minutes=60)


def after(minutes):
    return NOW + timedelta(minutes=minutes)


@pytest.fixture
def dario():
    make.firm(emergency_phone="911", check_in_late_min=15)
    make.manager(email="priya@example.com", phone="+1 202 555 0101")
    return make.user(last_name="Lund", phone="+1 202 555 0102")


@pytest.fixture
def stop(dario):
    technician = make.technician(user=dario, shifts=False)
    place = make.site(name="Quill Mere", street="4 Mill Lane")
    return make.stop(site=place, route=make.route(technician=technician))


@pytest.fixture
def alone(dario, stop):
    return check_ins.begin(dario, stop, back_by=BACK_BY, now=NOW)


def tasks():
    return OfficeTask.objects.filter(kind=OfficeTaskKind.CHECK_IN)


def read(folder):
    policy = email.policy.default
    return [email.message_from_bytes(p.read_bytes(), policy=policy) for p in folder.glob("*.eml")]


def test_nobody_is_alarmed_before_he_is_late_by_as_much_as_the_firm_says(alone):
    assert check_ins.watch_check_ins(now=after(74)) == 0
    assert check_ins.watch_check_ins(now=after(75)) == 1


def test_the_firm_may_be_alarmed_earlier(alone):
    make.firm(check_in_late_min=5)
    assert check_ins.watch_check_ins(now=after(65)) == 1


def test_the_office_is_told_once_who_where_his_number_and_what_to_do(alone):
    for minutes in [75, 76, 600]:
        check_ins.watch_check_ins(now=after(minutes))
    (task,) = tasks()
    assert task.urgent
    for words in [
        "Dario Lund",
        "Quill Mere",
        "11:00",
        "+1 202 555 0102",
        "911",
        "not go on the ice",
    ]:
        assert words in task.text
    assert Alarm.objects.count() == 1


def test_managers_get_a_mail_at_once_at_night_too(alone, tmp_path):
    make.firm(quiet_from="00:00", quiet_until="23:59")
    make.manager(email="second@example.com")
    make.manager(email="gone@example.com", is_active=False)
    check_ins.watch_check_ins(now=after(75))
    assert send_alarms(clock=lambda: after(75), open_relay=lambda: FileRelay(tmp_path)) == 2
    mails = read(tmp_path)
    assert {mail["To"].addresses[0].addr_spec for mail in mails} == {
        "priya@example.com",
        "second@example.com",
    }
    text = mails[0].get_content()
    assert "Quill Mere, 4 Mill Lane" in text
    assert f"/sites/{alone.site_id}/way-in/" in text
    assert send_alarms(clock=lambda: after(80), open_relay=lambda: FileRelay(tmp_path)) == 0


def test_a_firm_whose_managers_have_no_address_is_told_at_its_own_mailbox(stop, dario):
    type(dario).objects.exclude(pk=dario.pk).update(email="")
    check_ins.begin(dario, stop, back_by=BACK_BY, now=NOW)
    check_ins.watch_check_ins(now=after(75))
    assert Alarm.objects.get().to_address == "office@example.com"


def test_an_alarm_that_the_mail_server_did_not_take_is_sent_again_soon(alone, tmp_path):
    (tmp_path / "file").write_text("no folder")
    check_ins.watch_check_ins(now=after(75))
    broken = FileRelay(tmp_path / "file" / "outbox")
    assert send_alarms(clock=lambda: after(75), open_relay=lambda: broken) == 0
    assert "cannot be used" in Alarm.objects.get().last_error
    assert send_alarms(clock=lambda: after(76), open_relay=lambda: FileRelay(tmp_path)) == 1


def test_an_alarm_whose_sender_died_is_sent_after_its_lease_and_not_for_ever(alone, tmp_path):
    check_ins.watch_check_ins(now=after(75))
    Alarm.objects.update(try_at=after(75) + LEASE)  # claimed, and never booked
    relay = FileRelay(tmp_path)
    assert send_alarms(clock=lambda: after(75), open_relay=lambda: relay) == 0
    late = after(75) + GIVE_UP_AFTER
    assert send_alarms(clock=lambda: late, open_relay=lambda: relay) == 0
    assert send_alarms(clock=lambda: after(75) + LEASE, open_relay=lambda: relay) == 1


def test_whoever_says_that_he_is_all_right_is_not_looked_for(alone, dario):
    assert check_ins.end(alone, by=dario, note="all right", now=after(70))
    assert check_ins.watch_check_ins(now=after(200)) == 0


def test_an_alarm_ends_with_who_ended_it_and_when(alone, dario):
    check_ins.watch_check_ins(now=after(75))
    office = make.manager()
    assert check_ins.end(alone, by=office, note="Spoke with him.", now=after(80))
    assert not check_ins.end(alone, by=dario, note="later", now=after(90))
    alone.refresh_from_db()
    task = tasks().get()
    assert (alone.ended_by, alone.ended_at, alone.end_note) == (
        office,
        after(80),
        "Spoke with him.",
    )
    assert (task.handled_by, task.handled_at) == (office, after(80))


def test_whoever_stays_longer_is_looked_for_later(alone):
    check_ins.stay_longer(alone, now=after(58))
    assert check_ins.watch_check_ins(now=after(104)) == 0
    assert check_ins.watch_check_ins(now=after(105)) == 1


def test_staying_longer_after_an_alarm_ends_it_and_is_watched_anew(alone):
    check_ins.watch_check_ins(now=after(75))
    check_ins.stay_longer(alone, now=after(80))
    assert tasks().get().handled_at == after(80)
    assert check_ins.watch_check_ins(now=after(124)) == 0
    assert check_ins.watch_check_ins(now=after(125)) == 1
    assert tasks().count() == 2


def test_pressing_twice_is_one_check_in_with_the_newer_time(alone, dario, stop):
    again = check_ins.begin(dario, stop, back_by=after(90), now=after(1))
    assert (again.pk, again.back_by) == (alone.pk, after(90))


def test_nobody_is_alone_at_two_places(alone, dario):
    with pytest.raises(CheckInRefused, match="still under way"):
        check_ins.begin(dario, make.stop(), back_by=after(90), now=after(1))


@pytest.mark.parametrize("minutes", [-5, 0, 12 * 60 + 1])
def test_a_time_that_is_over_or_far_away_is_refused(dario, stop, minutes):
    with pytest.raises(CheckInRefused, match="twelve hours"):
        check_ins.begin(dario, stop, back_by=after(minutes), now=NOW)


def test_leaving_with_nothing_left_to_do_ends_it(alone, dario, stop):
    visit = make.visit(
        site=stop.site, technician=dario, stop=stop, arrived_at=NOW, left_at=after(40)
    )
    check_ins.end_after_visit(visit, now=after(45))
    alone.refresh_from_db()
    assert (alone.ended_at, alone.ended_by) == (after(45), dario)


def test_a_visit_sent_while_a_ticket_is_left_does_not_end_it(dario):
    ticket = make.ticket()
    stop = make.stop(ticket)
    alone = check_ins.begin(dario, stop, back_by=BACK_BY, now=NOW)
    visit = make.visit(
        site=stop.site, technician=dario, stop=stop, arrived_at=NOW, left_at=after(40)
    )
    check_ins.end_after_visit(visit, now=after(45))
    alone.refresh_from_db()
    assert alone.ended_at is None


def test_a_visit_of_before_that_comes_late_does_not_end_it(alone, dario, stop):
    early = NOW - timedelta(hours=3)
    visit = make.visit(site=stop.site, technician=dario, stop=stop, arrived_at=early, left_at=early)
    check_ins.end_after_visit(visit, now=after(10))
    alone.refresh_from_db()
    assert alone.ended_at is None


class Watched(TestCase):
    """However often the watch looks, and whatever he presses: one alarm a check-in at most."""

    @settings(max_examples=15, deadline=None)
    @given(st.lists(st.tuples(st.sampled_from("wwle"), st.integers(1, 60)), max_size=8))
    def test_one_alarm_for_each_check_in_and_none_open_when_nobody_is_alone(self, steps):
        make.firm()
        user, at = make.user(), NOW
        check_ins.begin(user, make.stop(), back_by=BACK_BY, now=NOW)
        for what, minutes in steps:
            at += timedelta(minutes=minutes)
            under_way = CheckIn.objects.under_way().first()
            if what == "w":
                check_ins.watch_check_ins(now=at)
            elif under_way and what == "l":
                check_ins.stay_longer(under_way, now=at)
            elif under_way:
                check_ins.end(under_way, by=user, note="all right", now=at)
        alarmed = CheckIn.objects.filter(alarmed_at__isnull=False)
        assert tasks().count() == alarmed.count() == Alarm.objects.count()
        assert tasks().filter(handled_at=None).count() == alarmed.filter(ended_at=None).count()


def begin_kept(user, stop, *, began_min, back_min, now=None):
    """A check-in that comes from a phone so many minutes after it began."""
    now = now or NOW
    return check_ins.begin_kept(
        user,
        stop,
        key=uuid4(),
        begun_at=now - timedelta(minutes=began_min),
        back_by=now - timedelta(minutes=began_min) + timedelta(minutes=back_min),
        now=now,
    )


def test_one_that_waited_on_a_phone_until_its_time_was_over_alarms_the_office(dario, stop):
    kept = begin_kept(dario, stop, began_min=120, back_min=60)
    assert check_ins.watch_check_ins(now=NOW) == 1
    kept.refresh_from_db()
    assert kept.alarmed_at == NOW


def test_one_that_waited_ends_the_one_at_another_pond_and_never_a_later_one(dario, stop, alone):
    begin_kept(dario, stop, began_min=0, back_min=60, now=NOW + timedelta(minutes=1))
    alone.refresh_from_db()
    assert alone.ended_at is not None

    old = begin_kept(dario, stop, began_min=600, back_min=60)
    assert old.ended_at == NOW
    assert CheckIn.objects.under_way().count() == 1
