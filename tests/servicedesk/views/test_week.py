"""The manager's week: what it shows, who may change it, and how it refuses."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from customers.models import SiteSecret
from equipment.kinds import PartRole, Quantity
from equipment.models import Reading, ReadingSet
from servicedesk import kinds
from servicedesk.actions.routes import hands
from servicedesk.models import (
    Absence,
    LeftOut,
    OwnerAnswer,
    PlanRun,
    Reminder,
    Route,
    Solve,
    Stop,
)
from servicedesk.planning.calendar import week_name
from tests import make
from tests.servicedesk.actions.routes import weeks

pytestmark = pytest.mark.django_db

TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())  # of the coming week
NAME = week_name(MONDAY)


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


def due_ticket(**fields):
    return weeks.ticket(**{"due_when_opened_on": MONDAY} | fields)


def place(ticket, *technicians, day=MONDAY, start=None):
    hands.place_by_hand(ticket, technicians=list(technicians), day=day, start=start, today=TODAY)


def page(client, *names, **fields):
    address = reverse(*names[:1], args=names[1:]) if names else reverse("week", args=[NAME])
    return client.get(address, **fields)


def text(response):
    return response.content.decode()


def day_page(client, technician="dario", day=MONDAY):
    return client.get(reverse("week_day", args=[NAME, technician, day.isoformat()]))


def test_week_shows_each_day_with_drive_work_and_slack(client, manager, dario):
    place(due_ticket(), dario)
    shown = text(page(client))

    assert "Dario Lund" in shown
    assert 'class="stop locked"' in shown
    assert "1 stops, leaves" in shown
    assert "18\u00a0min" in shown  # set-up and work
    assert "Publish the week" in shown


def test_week_without_anybody_says_what_to_enter(client, manager):
    assert "Enter technicians and their shifts" in text(page(client))


def test_address_without_a_week_leads_to_the_one_that_is_made(client, manager):
    response = client.get("/week/")

    assert response.status_code == 302
    assert response.url in {f"/week/{NAME}/", f"/week/{week_name(TODAY)}/"}


@pytest.mark.parametrize("name", ["2026-W60", "next", "2026-48", "9999-W52", "0001-W01"])
def test_week_that_does_not_exist_is_not_found(client, manager, name):
    assert client.get(f"/week/{name}/").status_code == 404


@pytest.mark.parametrize("day", ["2031-01-01", "yesterday"])
def test_day_outside_the_week_is_not_found(client, manager, dario, day):
    assert client.get(f"/week/{NAME}/dario/{day}/").status_code == 404


def test_technician_does_not_plan(client, dario):
    client.force_login(dario.user)
    ticket = due_ticket()

    assert page(client).status_code == 403
    assert day_page(client).status_code == 403
    assert client.post(reverse("plan_week", args=[NAME])).status_code == 403
    assert client.post(reverse("publish_week", args=[NAME])).status_code == 403
    assert client.get(reverse("place_ticket", args=[NAME, ticket.pk])).status_code == 403
    assert PlanRun.objects.count() == 0


def test_stranger_is_sent_to_the_login(client):
    assert page(client).status_code == 302


def test_ticket_without_a_place_says_why_and_what_to_do(client, manager, dario):
    pair = weeks.for_two(due_when_opened_on=MONDAY)
    full = due_ticket()
    run = PlanRun.objects.create(
        week=NAME,
        monday_on=MONDAY,
        problem={},
        iterations=4000,
        asked_at=timezone.now(),
        state=kinds.PlanState.DONE,
        says="Planned twice over; the better plan is kept.",
    )
    Solve.objects.create(plan_run=run, seed=1, done_iterations=4000, best_cost=812.0)
    Solve.objects.create(plan_run=run, seed=2, done_iterations=4000, best_cost=809.0)
    LeftOut.objects.create(plan_run=run, ticket=full, because="Does not fit: every day is full.")
    shown = text(page(client))

    assert "Does not fit: every day is full." in shown
    assert reverse("place_ticket", args=[NAME, pair.pk]) in shown
    assert "Planned twice over; the better plan is kept." in shown
    assert "Try 2: 4,000 of 4,000 rounds of the search, draw 2. The better plan." in shown
    assert shown.count("The better plan.") == 1


def test_graver_work_waits_above_milder_work(client, manager):
    due_ticket(task=make.task(name="Sign check", harm=kinds.Harm.COSMETIC))
    due_ticket(task=make.task(name="Dead compressor", harm=kinds.Harm.FISH))
    shown = text(page(client))

    assert shown.index("Dead compressor") < shown.index("Sign check")


def test_what_can_wait_stands_below_what_is_due(client, manager):
    due_ticket(task=make.task(name="Sign check", harm=kinds.Harm.COSMETIC))
    later = MONDAY + timedelta(days=40)
    due_ticket(
        task=make.task(name="Dead compressor", harm=kinds.Harm.FISH), due_when_opened_on=later
    )
    shown = text(page(client))

    assert "1 ticket waits for a place." in shown
    assert shown.index("Sign check") < shown.index("1 more ticket can wait") < shown.index("Dead")


def test_waiting_work_of_one_site_stands_together_at_its_gravest(client, manager):
    site = make.site(name="Mill Lane")
    due_ticket(site=site, task=make.task(name="Sign check", harm=kinds.Harm.COSMETIC))
    due_ticket(task=make.task(name="Loose vent", harm=kinds.Harm.ASSET))
    due_ticket(site=site, task=make.task(name="Dead compressor", harm=kinds.Harm.FISH))
    shown = text(page(client))

    assert shown.count("Mill Lane,") == 1
    assert shown.index("Dead") < shown.index("Sign check") < shown.index("Loose vent")


def test_technician_who_is_away_shows_it(client, manager, dario):
    place(due_ticket(), dario)
    Absence.objects.create(technician=dario, from_on=MONDAY, to_on=MONDAY, reason="ill")
    shown = text(page(client))

    assert "Away" in shown
    assert "Stops must move" in shown


def test_planning_is_asked_for_once_and_shows_how_far_it_is(client, manager, dario):
    due_ticket()
    client.post(reverse("plan_week", args=[NAME]))
    Solve.objects.filter(seed=1).update(done_iterations=PlanRun.objects.get().iterations // 2)
    again = client.post(reverse("plan_week", args=[NAME]), follow=True)

    assert PlanRun.objects.count() == 1
    assert PlanRun.objects.get().asked_by == manager
    assert "is being planned already" in text(again)
    assert 'value="25"' in text(again)
    assert 'value="25"' in text(client.get(reverse("plan_progress", args=[NAME])))


def test_page_is_loaded_anew_when_the_plan_is_there(client, manager):
    response = client.get(reverse("plan_progress", args=[NAME]), headers={"HX-Request": "true"})

    assert response.headers["HX-Refresh"] == "true"
    assert client.get(reverse("plan_progress", args=[NAME])).url == f"/week/{NAME}/"


def test_planning_is_stopped(client, manager, dario):
    client.post(reverse("plan_week", args=[NAME]))
    client.post(reverse("cancel_plan", args=[NAME]))

    assert PlanRun.objects.get().cancel_asked_at


def test_week_that_is_over_offers_no_planning(client, manager, dario):
    past = week_name(MONDAY - timedelta(days=21))
    shown = text(client.get(reverse("week", args=[past])))
    refused = client.post(reverse("plan_week", args=[past]), follow=True)

    assert "Plan the week" not in shown
    assert "is over" in text(refused)


def test_publishing_freezes_the_week_and_says_so(client, manager, dario):
    place(due_ticket(), dario)
    shown = text(client.post(reverse("publish_week", args=[NAME]), follow=True))

    assert Route.objects.get().published_by == manager
    assert "1 day is published and frozen." in shown
    assert "Publish the week" not in shown


def test_publishing_tells_the_owner_once(client, manager, dario):
    contact = make.contact()
    site = make.site(owner=contact.customer, lat=44.95, lon=-93.0)
    place(due_ticket(site=site), dario)
    client.post(reverse("publish_week", args=[NAME]))
    client.post(reverse("publish_week", args=[NAME]))

    assert Reminder.objects.filter(contact=contact).count() == 1


def test_publishing_what_breaks_a_rule_is_refused_in_sentences(client, manager, dario):
    place(due_ticket(), dario)
    Absence.objects.create(technician=dario, from_on=MONDAY, to_on=MONDAY)
    shown = text(client.post(reverse("publish_week", args=[NAME]), follow=True))

    assert "Dario Lund on Monday: there is no shift on that day." in shown
    assert not Route.objects.exclude(published_at=None).exists()


def test_looking_changes_nothing(client, manager, dario):
    place(due_ticket(), dario)
    before = weeks.places()
    stop, other = Stop.objects.get(), due_ticket()
    for address in (
        reverse("week", args=[NAME]),
        reverse("week_day", args=[NAME, "dario", MONDAY.isoformat()]),
        reverse("plan_progress", args=[NAME]),
        reverse("place_ticket", args=[NAME, other.pk]),
        reverse("move_stop", args=[stop.uuid]),
        reverse("split_stop", args=[stop.uuid]),
        reverse("add_to_stop", args=[stop.uuid]),
        reverse("publish_week", args=[NAME]),
        reverse("hand_changes", args=[NAME]),
    ):
        assert client.get(address).status_code in (200, 302)
    for name in ("take_off_stop", "keep_stop"):
        assert client.get(reverse(name, args=[stop.uuid])).status_code == 405
    for name in ("plan_week", "cancel_plan"):
        assert client.get(reverse(name, args=[NAME])).status_code == 405

    assert weeks.places() == before
    assert PlanRun.objects.count() == 0


def test_day_says_why_each_stop_is_there_and_what_to_take(client, manager, dario):
    """Filter due: in its window, with element, kit, last pressure and the reason."""
    task = make.task(kit=["torch"], part_roles=[PartRole.FILTER_ELEMENT])
    ticket = due_ticket(
        task=task, because="2900 h at 24 h a day.", due_when_opened_on=MONDAY + timedelta(days=5)
    )
    model = ticket.position.serves.fittings.get().component.type
    make.part_for(model, PartRole.FILTER_ELEMENT, part=make.part(number="F-120", name="Element"))
    readings = ReadingSet.objects.create(
        system=ticket.system, taken_at=make.MORNING, entered_at=make.MORNING
    )
    Reading.objects.create(set=readings, quantity=Quantity.PRESSURE, value=44_126)
    place(ticket, dario)
    shown = text(day_page(client))

    assert "2900 h at 24 h a day." in shown
    assert "due in 5 days" in shown
    assert f"1 F-120 Element ({model})" in shown
    assert "torch" in shown
    assert "6.4\u00a0psi" in shown.replace("6.4 psi", "6.4\u00a0psi")
    assert "Load before leaving" in shown


def test_model_without_a_part_in_the_register_is_named(client, manager, dario):
    place(due_ticket(task=make.task(part_roles=[PartRole.FILTER_ELEMENT])), dario)

    assert "part not in the register" in text(day_page(client))


def test_gate_code_is_not_shown_to_the_office_only_that_there_is_one(client, manager, dario):
    ticket = due_ticket()
    SiteSecret.objects.create(
        site=ticket.site, kind="gate_code", text="4711 hash", entered_at=make.MORNING
    )
    place(ticket, dario)
    shown = text(day_page(client))

    assert "gate code is shown on the technician" in shown
    assert "4711" not in shown


def test_owner_who_asks_for_another_day_is_shown(client, manager, dario):
    ticket = due_ticket()
    place(ticket, dario)
    OwnerAnswer.objects.create(
        uuid="0b7a6f0e-2f5e-4a0e-9c43-6a3d2f7f4b11",
        contact=make.contact(name="Tobias Renn"),
        kind=kinds.AnswerKind.ANOTHER_DAY,
        ticket=ticket,
        recorded_at=timezone.now(),
    )

    assert "Tobias Renn" in text(page(client))
    assert "Owner asks for another day" in text(day_page(client))


def test_week_and_day_say_who_meets_whom_and_when(client, manager, dario):
    wen = make.technician(user=make.user(first_name="Wen", last_name="Achterberg"))
    ticket = make.ticket(task=make.task(crew=2, needs_boat=True), due_when_opened_on=MONDAY)
    at = timezone.now().replace(hour=16)
    for technician in (dario, wen):
        route = Route.objects.create(
            technician=technician, day=MONDAY, starts_at=at, ends_at=at + timedelta(hours=2)
        )
        stop = Stop.objects.create(
            route=route, site=ticket.site, number=1, arrive_at=at, leave_at=at
        )
        stop.tickets.add(ticket)

    for shown in (page(client), day_page(client)):
        assert "stop 1: meets Wen Achterberg at " in text(shown)


@pytest.mark.parametrize("count", [1, 50])
def test_pages_are_read_with_the_same_few_queries(
    client, manager, dario, count, django_assert_max_num_queries
):
    route = Route.objects.create(
        technician=dario, day=MONDAY, starts_at=timezone.now(), ends_at=timezone.now()
    )
    at = timezone.now().replace(hour=16)
    for number in range(1, count + 1):
        ticket, _ = due_ticket(), due_ticket()
        whole = make.ticket(at=ticket.system, due_when_opened_on=MONDAY)
        stop = Stop.objects.create(
            route=route, site=ticket.site, number=number, arrive_at=at, leave_at=at
        )
        stop.tickets.add(ticket, whole)
    with django_assert_max_num_queries(17):
        page(client)
    with django_assert_max_num_queries(21):
        day_page(client)


def test_week_of_a_year_that_is_far_away_is_empty_not_an_error(client, manager):
    assert client.get("/week/1970-W01/").status_code == 200
    assert client.get(f"/week/{week_name(date(9000, 1, 1))}/").status_code == 200
