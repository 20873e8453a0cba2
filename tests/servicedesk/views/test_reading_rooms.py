"""The reading rooms: constant questions to the database, and everything known on the page."""

import re
import uuid
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from customers.kinds import Role
from equipment.kinds import PositionKind, SystemState
from equipment.models import (
    Configuration,
    ConfigurationLine,
    ProfilePoint,
    Reading,
    ReadingSet,
    StateChange,
)
from servicedesk.actions.due import refresh_sites
from servicedesk.kinds import DoneBy, Harm, WorkState
from servicedesk.models import (
    Decision,
    Defect,
    DueItem,
    OfficeTask,
    OwnerAnswer,
    SystemCheck,
    place_of,
)
from tests import make
from tests.servicedesk.views.phone_day import today as site_today

pytestmark = pytest.mark.django_db
MOST_QUERIES = 17  # the first page also asks for odd readings, and for who is late from a pond
MOST_OF_A_STORY = 18


@pytest.fixture
def office(client):
    make.firm()
    client.force_login(make.manager())
    return client


def queries(client, address):
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(address)
    assert answer.status_code == 200
    return len(asked), answer


def furnished(number=1, task=None):
    """A system with something in every part of its page."""
    now, today = timezone.now(), site_today()
    customer = make.customer(name=f"Hallam {number}")
    site = make.site(owner=customer)
    system = make.system(site=site, name=f"North cabinet {number}")
    pond = make.pond(site=site, name=f"Quill Mere {number}")
    plate = make.position(PositionKind.DIFFUSER, system=system, pond=pond)
    place = make.filter_position(of=system)
    summer = Configuration.objects.create(
        system=system, from_on="2025-05-01", name="summer", entered_at=now
    )
    ConfigurationLine.objects.create(configuration=summer, position=plate, depth_m=3.4)
    task = task or make.task()
    DueItem.objects.create(
        task=task,
        **place_of(place),
        opens_on=today - timedelta(days=40),
        due_on=today - timedelta(days=20),
        closes_on=today - timedelta(days=6),
        because="120 days in operation.",
    )
    ticket = make.ticket(at=place, task=task, due_when_opened_on=today - timedelta(days=20))
    for pascals in (44_000, 46_000):
        taken = ReadingSet.objects.create(
            system=system, taken_at=now - timedelta(days=pascals // 1000), entered_at=now
        )
        Reading.objects.create(set=taken, quantity="pressure", value=pascals)
    visit = make.visit(site=site, arrived_at=now - timedelta(days=9), received_at=now)
    SystemCheck.objects.create(visit=visit, system=system, found_running=True, left_running=True)
    make.work(place, task, visit=visit, done_at=now - timedelta(days=9), note="Element grey.")
    Defect.objects.create(system=system, site=site, sign="weak_boil", seen_at=now, entered_at=now)
    contact = make.contact(customer=customer)
    OwnerAnswer.objects.create(
        uuid=uuid.uuid4(), contact=contact, kind="another_day", ticket=ticket, recorded_at=now
    )
    OfficeTask.objects.create(kind="phone_owner", text="Ask.", site=site, opened_at=now)
    return system, pond, ticket


@pytest.mark.parametrize("address", ["/systems/", "/tickets/", "/tasks/", "/"])
def test_list_asks_as_much_for_one_row_as_for_fifty(office, address):
    furnished()
    one, _ = queries(office, address)
    for number in range(49):
        furnished(number + 2)
    fifty, _ = queries(office, address)

    assert one == fifty <= MOST_QUERIES


@pytest.mark.parametrize("sort", ["place", "next_due_on", "-owner_name"])
def test_pages_of_the_systems_show_each_system_once_in_one_order(office, sort):
    site = make.site()
    systems = [make.system(site=site, name="Cabinet") for _ in range(60)]

    pages = [
        office.get(f"/systems/?per_page=25&sort={sort}&page={page}").content.decode()
        for page in (1, 2, 3)
    ]

    shown = [[int(pk) for pk in re.findall(r'<a href="/systems/(\d+)/"', page)] for page in pages]
    assert [len(rows) for rows in shown] == [25, 25, 10]
    assert sorted(pk for rows in shown for pk in rows) == [system.pk for system in systems]


def test_later_page_of_the_systems_works_out_the_columns_of_its_own_rows_alone(office):
    for _ in range(30):
        make.system()

    with CaptureQueriesContext(
        connection,
    ) as asked:
        office.get("/systems/?per_page=25&page=2")

    skipping = [query["sql"] for query in asked if "OFFSET 25" in query["sql"]]
    assert len(skipping) == 1
    assert "due_on" not in skipping[0]


def test_story_of_a_system_asks_no_more_with_a_longer_history(office):
    system, pond, ticket = furnished()
    pages = [f"/systems/{system.pk}/", f"/ponds/{pond.pk}/", f"/tickets/{ticket.pk}/"]
    before = [queries(office, page)[0] for page in pages]
    place = ticket.position
    for days in range(20, 60):
        make.work(place, ticket.task, done_at=timezone.now() - timedelta(days=days))
        visit = make.visit(site=system.site)
        SystemCheck.objects.create(visit=visit, system=system, left_running=True)

    assert [queries(office, page)[0] for page in pages] == before
    assert max(before) <= MOST_OF_A_STORY


def test_system_tells_its_whole_story(office):
    system, pond, _ = furnished()
    page = office.get(f"/systems/{system.pk}/").content.decode()

    for word in (
        f'<span class="water">{pond.name}</span>',
        "Hallam 1",
        "Brookmade",
        "summer",
        "Running",
        "120 days in operation.",
        "Overdue 20 days",
        "common practice, no source",
        f'href="/systems/{system.pk}/readings/"',
        "Element grey.",
        "weak boil",
        "entered late",
    ):
        assert word in page, word
    assert "<svg viewBox" in office.get(f"/systems/{system.pk}/readings/").content.decode()


def test_pond_tells_its_newest_profile_by_depth(office):
    _, pond, _ = furnished()
    now = timezone.now()
    for days, surface in ((40, 21.0), (2, 9.5)):
        taken = ReadingSet.objects.create(
            pond=pond, taken_at=now - timedelta(days=days), entered_at=now
        )
        ProfilePoint.objects.create(set=taken, depth_m=0.5, temperature_c=surface, oxygen_mg_l=8)
        ProfilePoint.objects.create(set=taken, depth_m=3, temperature_c=7, oxygen_mg_l=4.2)
    page = office.get(f"/ponds/{pond.pk}/").content.decode()

    for word in ("1.6\xa0ft", "49\xa0°F", "4.2\xa0mg/L", "North cabinet 1", "Hallam 1"):
        assert word in page, word
    assert "70\xa0°F" not in page


def test_reader_sees_pressure_in_his_own_units(client):
    system, _, _ = furnished()
    for units, printed in (("us", "6.4\xa0psi"), ("metric", "44.0\xa0kPa")):
        client.force_login(make.user(Role.OFFICE, units=units))
        assert printed in client.get(f"/systems/{system.pk}/").content.decode()


def test_tickets_stand_by_harm_and_then_by_lateness_for_their_tolerance(office):
    today = timezone.localdate()
    order = []
    for harm, late, tolerance in (
        (Harm.SAFETY, -3, 14),
        (Harm.FISH, 4, 2),
        (Harm.FISH, 10, 14),
        (Harm.COSMETIC, 300, 14),
    ):
        place, task = make.filter_position(), make.task(harm=harm)
        due = today - timedelta(days=late)
        DueItem.objects.create(
            task=task,
            **place_of(place),
            opens_on=due - timedelta(days=21),
            due_on=due,
            closes_on=due + timedelta(days=tolerance),
            because="",
        )
        order.append(make.ticket(at=place, task=task, due_when_opened_on=due).pk)
    page = office.get("/tickets/").content.decode()
    places = [page.index(f"/tickets/{pk}/") for pk in order]

    assert places == sorted(places)


@pytest.mark.parametrize(
    "query", ["per_page=-1", "per_page=100000", "page=99", "page=x", "sort=no"]
)
def test_impossible_page_of_a_list_shows_the_first(office, query):
    furnished()
    answer = office.get(f"/systems/?{query}")

    assert answer.status_code == 200
    assert "Quill Mere" in answer.content.decode()


def test_systems_are_found_by_customer_pond_state_and_due(office):
    furnished()
    other = make.system(state=SystemState.FAILED, name="South cabinet")
    for query, found in (
        ("text=Hallam", "North"),
        ("text=quill+mere", "North"),
        ("state=off", "South"),
        ("state=running", "North"),
        ("due=overdue", "North"),
        (f"text={other.key}", "South"),
    ):
        page = office.get(f"/systems/?{query}").content.decode()
        assert [name for name in ("North", "South") if f"{name} cabinet" in page] == [found], query


def test_first_page_keeps_every_answer_until_somebody_handled_it(office):
    furnished()
    answer = OwnerAnswer.objects.get()
    assert "asks for another day" in office.get("/").content.decode()

    office.post(f"/answers/{answer.pk}/handled/", {"note": "Thursday instead"})

    answer.refresh_from_db()
    assert (answer.handled_note, answer.handled_by.role) == ("Thursday instead", "manager")
    assert "asks for another day" not in office.get("/").content.decode()


def test_answer_that_somebody_handled_stays_his(office):
    furnished()
    answer = OwnerAnswer.objects.get()
    office.post(f"/answers/{answer.pk}/handled/", {"note": "first"})
    office.post(f"/answers/{answer.pk}/handled/", {"note": "second"})

    answer.refresh_from_db()
    assert answer.handled_note == "first"


def test_postponed_ticket_says_until_when_by_whom_and_why(office):
    ticket = make.ticket()
    until = timezone.localdate() + timedelta(days=30)
    typed = {"until_on": until.isoformat(), "reason": "Wedding at the pond"}

    assert office.post(f"/tickets/{ticket.pk}/postpone/", typed).status_code == 302
    page = office.get(f"/tickets/{ticket.pk}/").content.decode()
    assert "Wedding at the pond" in page
    assert "Priya Nand" in page


def test_refused_decision_keeps_what_was_typed_and_decides_nothing(office):
    ticket = make.ticket()
    past = {"until_on": "2020-01-01", "reason": "Wedding at the pond"}
    answer = office.post(f"/tickets/{ticket.pk}/postpone/", past)

    assert answer.status_code == 400
    page = answer.content.decode()
    assert "Choose a day after today" in page
    assert 'value="Wedding at the pond"' in page
    assert office.post(f"/tickets/{ticket.pk}/waive/", {"reason": ""}).status_code == 400
    assert not Decision.objects.exists()


def test_ticket_ends_by_a_decision_that_can_be_taken_back(office):
    _, _, ticket = furnished()
    office.post(f"/tickets/{ticket.pk}/waive/", {"reason": "Pond is being drained"})
    ticket.refresh_from_db()
    assert ticket.end == "not_needed"

    office.post(f"/decisions/{Decision.objects.get().pk}/withdraw/")

    assert Decision.objects.get().withdrawn_at is not None


def test_ticket_without_a_place_leads_to_where_it_is_placed_by_hand(office):
    waits = make.ticket()
    page = office.get(f"/tickets/{waits.pk}/")
    ways = re.findall(rf'href="(/week/[^"]+/place/{waits.pk}/)"', page.content.decode())

    assert len(ways) == 2
    assert [office.get(way).status_code for way in ways] == [200, 200]

    make.stop(waits)
    assert f"/place/{waits.pk}/" not in office.get(f"/tickets/{waits.pk}/").content.decode()


def test_technician_reads_a_ticket_and_decides_nothing(client):
    client.force_login(make.user())
    ticket = make.ticket()

    assert "Postpone" not in client.get(f"/tickets/{ticket.pk}/").content.decode()
    for deed in ("postpone", "waive", "cancel"):
        answer = client.post(f"/tickets/{ticket.pk}/{deed}/", {"reason": "no"})
        assert answer.status_code == 403
    assert not Decision.objects.exists()


def typed_state(state, at, **more):
    return {"state": state, "at": at, "certainty": "observed", "reason": "The owner said so"} | more


def test_news_that_came_late_is_entered_at_its_own_day(office):
    system, _, _ = furnished()
    zone = ZoneInfo(system.site.time_zone)
    answer = office.post(f"/systems/{system.pk}/state/", typed_state("failed", "2026-06-03T09:30"))

    assert answer.status_code == 302
    change = StateChange.objects.filter(system=system).latest("at")
    assert change.at == datetime(2026, 6, 3, 9, 30, tzinfo=zone)
    page = office.get(f"/systems/{system.pk}/").content.decode()
    assert "Failed" in page
    assert "entered late" in page


def test_start_after_a_stop_needs_a_name_and_the_caution(office):
    system, _, _ = furnished()
    address = f"/systems/{system.pk}/state/"
    office.post(address, typed_state("failed", "2026-06-03T09:30"))
    refused = office.post(address, typed_state("running", "2026-06-05T09:30"))
    assert refused.status_code == 400
    page = refused.content.decode()
    assert "name the manager who approved the start" in page
    assert "The owner said so" in page

    named = {"approved_by": make.manager().pk, "caution_read": "on"}
    answer = office.post(address, typed_state("running", "2026-06-05T09:30", **named))
    assert answer.status_code == 302


def test_state_entered_by_mistake_is_struck_out_with_a_reason(office):
    system, _, _ = furnished()
    office.post(f"/systems/{system.pk}/state/", typed_state("failed", "2026-06-03T09:30"))
    wrong = StateChange.objects.filter(system=system).latest("at")
    assert office.post(f"/states/{wrong.pk}/strike/", {"reason": ""}).status_code == 400
    office.post(f"/states/{wrong.pk}/strike/", {"reason": "It was the other cabinet"})

    assert "Failed" not in office.get(f"/systems/{system.pk}/").content.decode()
    assert StateChange.objects.filter(pk=wrong.pk).exists()


def test_closing_under_review_counts_when_the_office_says_so(office):
    ticket = make.ticket()
    waiting = make.work(ticket.position, ticket.task, ticket=ticket, state=WorkState.REVIEW)
    assert "To be reviewed" in office.get(f"/tickets/{ticket.pk}/").content.decode()

    office.post(f"/works/{waiting.pk}/accept/")

    waiting.refresh_from_db()
    assert (waiting.state, waiting.reviewed_by.role) == (WorkState.ACCEPTED, "manager")


def test_what_an_owner_reported_is_marked_as_seen_or_not_counted(office):
    ticket = make.ticket()
    said = make.work(ticket.position, ticket.task, done_by=DoneBy.OWNER, verified=False)
    office.post(f"/works/{said.pk}/verify/")
    said.refresh_from_db()
    assert said.verified

    office.post(f"/works/{said.pk}/refuse/")
    said.refresh_from_db()
    assert said.state == WorkState.REFUSED


def test_technician_changes_neither_states_nor_what_counts(client):
    client.force_login(make.user())
    ticket = make.ticket()
    work = make.work(ticket.position, ticket.task, state=WorkState.REVIEW)
    change = StateChange.objects.first()

    assert client.get(f"/systems/{ticket.system_id}/state/").status_code == 403
    assert client.post(f"/states/{change.pk}/strike/", {"reason": "x"}).status_code == 403
    assert client.post(f"/works/{work.pk}/accept/").status_code == 403
    work.refresh_from_db()
    assert work.state == WorkState.REVIEW


def test_manager_sees_what_a_figure_moves_before_he_keeps_it(office):
    task = make.task(every=120)
    place = make.filter_position()
    make.work(place, task, done_at=timezone.now() - timedelta(days=10))
    refresh_sites([place.system.site_id], now=timezone.now())
    typed = {"figure": task.rhythms.get().pk, "value": "60", "scope": "everywhere"}
    typed |= {"from_on": timezone.localdate().isoformat(), "reason": "Dusty road"}
    looked = office.post(f"/tasks/{task.pk}/", typed | {"look": "yes"}).content.decode()

    assert "1 would move earlier" in looked
    assert not task.overrides.exists()
    assert office.post(f"/tasks/{task.pk}/", typed | {"keep": "yes"}).status_code == 302
    assert "Dusty road" in office.get(f"/tasks/{task.pk}/").content.decode()


def test_figure_far_from_that_of_the_trade_is_shown_and_kept_only_with_a_tick(office):
    task = make.task(every=2900)
    typed = {"figure": task.rhythms.get().pk, "value": "90", "scope": "everywhere"}
    typed |= {"from_on": timezone.localdate().isoformat(), "reason": "Dusty road"}
    looked = office.post(f"/tasks/{task.pk}/", typed | {"look": "yes"}).content.decode()

    assert "would move earlier" in looked
    assert "I mean 90" in looked
    assert office.post(f"/tasks/{task.pk}/", typed | {"keep": "yes"}).status_code == 400
    assert not task.overrides.exists()
    sure = typed | {"keep": "yes", "sure": "on"}
    assert office.post(f"/tasks/{task.pk}/", sure).status_code == 302


def test_figure_for_a_system_that_is_not_there_is_refused(office):
    task = make.task()
    typed = {"figure": "late_days", "value": "3", "scope": "system", "number": "A-0"}
    typed |= {"from_on": timezone.localdate().isoformat(), "reason": "x", "keep": "yes"}
    answer = office.post(f"/tasks/{task.pk}/", typed)

    assert answer.status_code == 400
    assert "There is none with this number" in answer.content.decode()


def test_only_the_manager_changes_figures(client):
    client.force_login(make.user(Role.OFFICE))
    task = make.task()

    assert "A figure of our own" not in client.get(f"/tasks/{task.pk}/").content.decode()
    assert client.post(f"/tasks/{task.pk}/", {"keep": "yes"}).status_code == 403
