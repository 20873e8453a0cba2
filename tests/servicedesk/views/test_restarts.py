"""The pages of a restart: readings, a yes by name, the days; and what owners press meanwhile."""

import re
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from customers.models import Contact
from customers.signed_links import make_link
from equipment.actions.profiles import Probe
from equipment.kinds import SystemState
from servicedesk import offline
from servicedesk.actions.alarms import send_alarms
from servicedesk.actions.answers import matter_of, report_problem
from servicedesk.actions.reminders import send_queued_messages
from servicedesk.actions.restarts.approve import Approval, approve_restart
from servicedesk.actions.restarts.course import course_of, today_of
from servicedesk.actions.restarts.known import known_of
from servicedesk.actions.restarts.propose import Told, propose_restart
from servicedesk.actions.restarts.run import StepSeen, record_step, start_restart
from servicedesk.actions.states import record_state
from servicedesk.emails import links
from servicedesk.emails.relay import Answer, Verdict
from servicedesk.kinds import AnswerKind
from servicedesk.models import Alarm, OwnerAnswer, Reminder, Restart
from servicedesk.planning.restart.ramps import StepEnd
from tests import make
from tests.servicedesk.views.phone_day import today

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
WEAK = (Probe("0", "15", "8"), Probe("4", "13.5", "3"))
FORBIDDEN = r"\bsafe(ly)?\b|ok to walk|thick enough|all clear|no danger|harmless|guaranteed"


class Server:
    """Takes every mail."""

    def __init__(self):
        self.taken = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return False

    def reach(self):
        pass

    def envelope(self, to):
        return Answer(Verdict.TAKEN)

    def data(self, content):
        self.taken.append(content)
        return Answer(Verdict.TAKEN)


@pytest.fixture
def ines():
    make.firm(emergency_phone="911")
    return make.contact(name="Ines Halvorsen", email="ines@example.com")


@pytest.fixture
def priya(ines):
    return make.manager(email="priya@example.com")


@pytest.fixture
def system(ines):
    site = make.site(owner=ines.customer)
    pond = make.pond(site=site, name="Mill Pond", depth_max_m=4.5)
    system = make.system(site=site, name="Cabinet at the mill")
    make.position(system=system, kind="diffuser", label="D1", pond=pond)
    at = timezone.now() - 60 * DAY
    record_state(system, at=at, state=SystemState.SHUT_OTHER, now=at, reason="moved")
    return system


def proposed(system, now):
    pond = known_of(system, now=now).pond
    told = Told(now, pond, WEAK, off_hours=1440.0, layered_season=False, confirmed=True)
    return propose_restart(system, told, by=make.user(), now=now)


def approved(system, priya, now):
    restart = proposed(system, now)
    given = Approval(today_of(restart, now), watcher="Dario", weekend_watcher="Wen")
    return approve_restart(restart, given, by=priya, now=now)


@pytest.fixture
def ramp(system, priya):
    now = timezone.now()
    return start_restart(approved(system, priya, now), by=priya, now=now, told_how="by phone")


def act(client, restart, name, **typed):
    data = {f"{name}-{key}": value for key, value in typed.items()}
    return client.post(reverse("restart_act", args=[restart.pk, name]), data, follow=True)


def typed_readings(system, client):
    page = client.get(reverse("read_restart", args=[system.pk]))
    form = page.context["form"]
    with timezone.override(system.site.time_zone):
        at = {name: form[name].value() for name in ("read_at", "off_since")}
    data = {name: f"{value:%Y-%m-%dT%H:%M}" for name, value in at.items()}
    data |= {name: form[name].value() for name in ("pond", "ran_full_time", "past_kill", "fish")}
    data |= {"depth_unit": "m", "temperature_unit": "C", "off_sure": "known", "ice": "no"}
    data |= {"layered_season": "yes", "depth_0": "0", "temperature_0": "24", "oxygen_0": "8"}
    return data | {"depth_1": "4", "temperature_1": "13", "oxygen_1": "0,4"}


def test_from_readings_to_a_day_of_the_ramp_by_pages(client, system, priya):
    client.force_login(priya)
    assert "No restart is on record" in client.get(reverse("restart", args=[system.pk])).text
    data = typed_readings(system, client)

    asked = client.post(reverse("read_restart", args=[system.pk]), data)
    assert (asked.status_code, "Low oxygen" in asked.text) == (400, True)
    assert 'value="0,4"' in asked.text  # nothing typed is lost
    page = client.post(
        reverse("read_restart", args=[system.pk]), data | {"confirmed": "on"}, follow=True
    )

    restart = Restart.objects.get()
    assert restart.path == "R3"
    assert "Slow ramp" in page.text
    assert "2.08 kg/m3 heavier" in page.text
    assert "If the pond turned over at once, it would hold 4.2 mg/L" in page.text
    first = today_of(restart, timezone.now())
    given = {"first_on": first, "starts": "08:00", "path": "R3", "watcher": "Dario"}
    page = act(client, restart, "approve", **given)
    assert (page.status_code, "Saturday and Sunday" in page.text) == (400, True)
    page = act(client, restart, "approve", **given, weekend_watcher="Wen")
    assert "timer 08:00 to 08:15" in page.text
    page = act(client, restart, "start", caution_read="on")
    assert "has not gone out yet" in page.text
    page = act(client, restart, "start", caution_read="on", told_how="Ines, by phone")
    assert "Started" in page.text
    page = act(client, restart, "step", on=first, end="done", minutes=15)
    assert [step.minutes for step in restart.steps.all()] == [15]
    assert "The days to come follow" in page.text
    assert not re.search(FORBIDDEN, page.text, re.IGNORECASE)


def test_technician_reads_at_his_own_stops_and_approves_nothing(client, system, priya):
    dario = make.technician()
    client.force_login(dario.user)
    assert client.get(reverse("read_restart", args=[system.pk])).status_code == 403
    route = make.route(day=today(), technician=dario, published_at=timezone.now())
    make.stop(route=route, site=system.site)
    assert client.get(reverse("read_restart", args=[system.pk])).status_code == 200
    restart = proposed(system, timezone.now())

    assert act(client, restart, "approve").status_code == 403
    restart.refresh_from_db()
    assert restart.state == Restart.State.PROPOSED


def test_anybody_of_the_firm_stops_a_ramp_and_the_page_says_so(client, ramp):
    client.force_login(make.user())

    page = act(client, ramp, "stop", seen=["gasping"])

    assert "On hold since" in page.text
    assert Alarm.objects.get().to_address == "priya@example.com"


def test_press_that_came_too_late_is_told(client, ramp, priya):
    client.force_login(priya)

    page = act(client, ramp, "approve")

    assert "changed meanwhile" in page.text


def test_phone_keeps_the_guarded_steps_of_its_own_stop(client, ramp):
    dario = make.technician()
    client.force_login(dario.user)
    address = reverse("day_restart", args=[ramp.system_id])
    assert offline.KEEP not in client.get(address)
    route = make.route(day=today(), technician=dario, published_at=timezone.now())
    stop = make.stop(route=route, site=ramp.system.site)

    page = client.get(address)

    assert page[offline.KEEP].startswith(f"{dario.user_id}/")
    assert "Let it run 30 min" in page.text
    assert "Timer 08:00 to 08:30" in page.text
    assert address in client.get(reverse("day_stop", args=[stop.uuid])).text
    assert address in client.get(reverse("my_day")).text


def test_phone_says_to_leave_off_what_nobody_approved(client, system):
    client.force_login(make.user())

    page = client.get(reverse("day_restart", args=[system.pk]))

    assert "Nothing is approved here" in page.text
    assert "Leave it off." in page.text


@pytest.mark.parametrize("steps", [1, 3])
def test_page_of_a_restart_asks_the_database_as_often_for_any_ramp(
    client, ramp, priya, steps, django_assert_max_num_queries
):
    for n in range(steps):
        said = StepSeen(StepEnd.DONE, ramp.minutes[n])
        now = ramp.started_at + n * DAY
        record_step(ramp, ramp.first_on + n * DAY, said, by=priya, now=now)
    client.force_login(priya)
    with django_assert_max_num_queries(32):
        client.get(reverse("restart", args=[ramp.system_id]))


def token_of(restart):
    now = timezone.now()
    until = now + 30 * DAY
    return make_link(Contact.objects.get(), links.RESTART, f"restart:{restart.pk}", until, now)


def test_owner_is_told_the_days_before_the_start_and_then_it_may_start(system, priya):
    noon = datetime(2026, 6, 9, 17, tzinfo=UTC)  # a Tuesday
    system.state_changes.filter(state=SystemState.SHUT_OTHER).update(at=noon - 30 * DAY)
    restart = approved(system, priya, noon)
    relay = Server()

    send_queued_messages(clock=lambda: noon + DAY, open_relay=lambda: relay)

    mail = relay.taken[0].decode()
    for words in ("30 min", "gasp at the surface", "Do not lengthen the runs", "I will watch"):
        assert words in " ".join(mail.replace("=\r\n", "").split())
    assert Reminder.objects.get(topic="restart").message.sent_at == noon + DAY
    start_restart(restart, by=priya, now=noon + DAY)
    restart.refresh_from_db()
    assert restart.told_at <= restart.started_at


def test_days_of_the_ramp_are_a_calendar_file_that_follows_it(client, ramp, priya):
    token = token_of(ramp)
    address = reverse("owner_ramp_calendar", args=[token])
    before = Calendar.from_ical(client.get(address).content)
    first = before.events[0]
    assert len(before.events) == len(ramp.minutes)
    assert (first.decoded("dtend") - first.decoded("dtstart")) == timedelta(minutes=30)

    record_step(ramp, ramp.first_on, StepSeen(StepEnd.MISSED), by=priya, now=timezone.now())

    after = Calendar.from_ical(client.get(address).content)
    tomorrow = next(e for e in after.events if e["uid"].endswith(str(ramp.first_on + DAY)))
    assert tomorrow.decoded("dtend") - tomorrow.decoded("dtstart") == timedelta(minutes=30)
    assert tomorrow["sequence"] > first["sequence"]


def test_owner_says_that_he_watches_or_cannot(client, ramp):
    token = token_of(ramp)
    page = client.get(reverse("owner_page", args=[token]))
    assert "30 min, from the morning on" in page.text
    assert "Do not lengthen the runs" in page.text

    for kind in (AnswerKind.WILL_WATCH, AnswerKind.CANNOT_WATCH):
        address = reverse("owner_answer", args=[token, kind])
        assert client.get(address).status_code == 200
        assert not OwnerAnswer.objects.filter(kind=kind).exists()
        client.post(address, {"uuid": uuid.uuid4()})

    urgent = dict(OwnerAnswer.objects.values_list("kind", "urgent"))
    assert urgent == {AnswerKind.WILL_WATCH: False, AnswerKind.CANNOT_WATCH: True}


def test_gasping_fish_hold_the_ramp_and_wake_the_manager_in_quiet_hours(client, system, priya):
    """At ten past six in the morning, by the owner's button."""
    six = datetime(2026, 6, 9, 11, 10, tzinfo=UTC)  # 06:10 in Chicago
    start = six - DAY + timedelta(hours=3)
    system.state_changes.filter(state=SystemState.SHUT_OTHER).update(at=six - 30 * DAY)
    ramp = start_restart(approved(system, priya, start), by=priya, now=start, told_how="phone")
    record_step(ramp, ramp.first_on, StepSeen(StepEnd.DONE, 30), by=priya, now=start)
    contact = Contact.objects.get()
    make_link(contact, links.RESTART, f"restart:{ramp.pk}", six + DAY, start)
    link = contact.links.get()

    matter = matter_of(link, now=six)
    for _ in range(2):
        report_problem(link, matter, sign="fish_gasping", text="", uuid=uuid.uuid4(), now=six)

    assert course_of(ramp, today=today_of(ramp, six)).held
    assert ramp.holds.get().contact == contact
    relay = Server()
    assert send_alarms(clock=lambda: six, open_relay=lambda: relay) == 1
    mail = " ".join(relay.taken[0].decode().replace("=\r\n", "").split())
    assert "priya@example.com" in mail
    assert "have somebody switch it off" in mail


def test_owner_who_sees_gasping_fish_is_told_to_change_nothing(client, ramp):
    token = token_of(ramp)
    address = reverse("owner_answer", args=[token, AnswerKind.PROBLEM])
    data = {"uuid": uuid.uuid4(), "sign": "fish_gasping", "words": ""}

    page = client.post(address, data, follow=True)

    assert "Change nothing on the system. Call us now." in page.text
    assert "The start is on hold" in page.text
    assert ramp.holds.count() == 1
    longer = r"(let it|keep it) run|run (it )?longer|switch (it )?on|turn (it )?on"
    assert not re.search(longer, page.text, re.IGNORECASE)
    assert not re.search(FORBIDDEN, page.text, re.IGNORECASE)
