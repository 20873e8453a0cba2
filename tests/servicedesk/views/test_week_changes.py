"""Taking changes by hand back, splitting, adding, the best alternative, and news of a day."""

from datetime import time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from servicedesk.models import (
    DueItem,
    HandChange,
    LeftOut,
    OfficeTask,
    PlanRun,
    Route,
    Stop,
    Ticket,
)
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.views.test_week import MONDAY, NAME, day_page, due_ticket, page, text

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)


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


@pytest.fixture
def wen():
    return make.technician(user=make.user(username="wen", first_name="Wen", last_name="Lund"))


def place(client, ticket, technician, day=MONDAY):
    form = {"day": day.isoformat(), "technician_1": technician.pk}
    return client.post(reverse("place_ticket", args=[NAME, ticket.pk]), form, follow=True)


def undo_address(response):
    """Where the button of the message leads."""
    html = response.content.decode()
    at = html.index("/week/changes/")
    return html[at : html.index('"', at)]


def test_message_of_a_change_offers_to_take_it_back(client, manager, dario):
    done = place(client, due_ticket(), dario)
    back = client.post(undo_address(done), follow=True)

    assert "Taken back:" in text(back)
    assert Stop.objects.count() == 0
    again = client.post(undo_address(back), follow=True)
    assert "Done again:" in text(again)
    assert Stop.objects.count() == 1


@pytest.mark.parametrize("press", ["take_off_stop", "keep_stop"])
def test_change_by_one_press_offers_to_take_it_back(client, manager, dario, press):
    place(client, due_ticket(), dario)
    address = reverse(press, args=[Stop.objects.get().uuid])
    client.post(undo_address(client.post(address, {"keep": "no"}, follow=True)))

    assert Stop.objects.get().by_hand


@pytest.mark.parametrize(
    ("in_days", "said"),
    [(0, "waits for a place."), (10, "Nothing there is due this week: it can wait.")],
)
def test_work_that_is_taken_off_waits_for_a_place_or_can_wait(
    client, manager, dario, in_days, said
):
    place(client, due_ticket(due_when_opened_on=MONDAY + timedelta(days=in_days)), dario)
    shown = client.post(reverse("take_off_stop", args=[Stop.objects.get().uuid]), follow=True)

    assert said in text(shown)
    assert ("1 more ticket can wait" in text(shown)) == (in_days == 10)


def test_changes_by_hand_are_listed_with_who_made_them_and_a_way_back(client, manager, dario):
    place(client, due_ticket(), dario)
    stop = Stop.objects.get()
    form = {"technician": dario.pk, "day": TUESDAY.isoformat()}
    client.post(reverse("move_stop", args=[stop.uuid]), form)
    address = reverse("hand_changes", args=[NAME])
    shown = client.get(address)

    assert "Changes by hand" in text(page(client))
    assert f"{stop.site} moved from Dario Lund" in text(shown)
    assert str(manager) in text(shown)
    since = f"Its days were changed since: {HandChange.objects.order_by('-pk')[0].says}"
    assert text(shown).count(since) == 1  # at the placing, before the move
    newest = HandChange.objects.order_by("-pk")[0]
    client.post(reverse("undo_change", args=[newest.pk]), {"from": "changes"})
    assert "Taken back" in text(client.get(address))
    assert Stop.objects.get().route.day == MONDAY


def test_change_that_cannot_be_taken_back_says_why(client, manager, dario):
    place(client, due_ticket(), dario)
    change = HandChange.objects.get()
    Route.objects.update(published_at=timezone.now())
    said = text(client.post(reverse("undo_change", args=[change.pk]), follow=True))

    assert "was published since" in said


@pytest.mark.parametrize("count", [1, 12])
def test_page_of_changes_asks_the_same_few_questions(
    client, manager, dario, count, django_assert_max_num_queries
):
    for _ in range(count):
        place(client, due_ticket(), dario)
    with django_assert_max_num_queries(16):
        client.get(reverse("hand_changes", args=[NAME]))


def two_at_one_site(client, dario):
    first = due_ticket()
    second = due_ticket(site=first.site)
    place(client, first, dario)
    return first, second, Stop.objects.get()


def test_stop_is_split_from_its_page_and_taken_back(client, manager, dario, wen):
    first, second, stop = two_at_one_site(client, dario)
    assert "Split" in text(day_page(client))
    address = reverse("split_stop", args=[stop.uuid])
    assert "Tick what somebody else does" in text(client.get(address))
    form = {"technician": wen.pk, "day": MONDAY.isoformat()}
    assert client.post(address, form).status_code == 422
    done = client.post(address, form | {"tickets": [second.pk]}, follow=True)

    assert second.stops.get().route.technician == wen
    assert first.stops.get().route.technician == dario
    client.post(undo_address(done))
    assert second.stops.get() == first.stops.get()


def test_work_due_soon_is_added_to_a_stop_from_its_page(client, manager, dario):
    ticket = due_ticket()
    place(client, ticket, dario)
    soon = make.ticket(at=ticket.system, due_when_opened_on=MONDAY)
    item = make.due_item(soon)
    soon.delete()
    address = reverse("add_to_stop", args=[Stop.objects.get().uuid])
    assert "Falls due soon" in text(client.get(address))
    assert client.post(address, {}).status_code == 422
    done = client.post(address, {"due_items": [item.pk]}, follow=True)

    assert Stop.objects.get().due_items.get() == item
    client.post(undo_address(done))
    assert not Stop.objects.get().due_items.exists()


def test_work_due_soon_is_pulled_forward_to_a_day_and_taken_back(client, manager, dario):
    seed = due_ticket()
    item = make.due_item(seed)
    seed.delete()
    address = reverse("pull_forward", args=[NAME, item.pk])
    assert "Pull forward" in text(client.get(address))
    form = {"day": MONDAY.isoformat(), "technician_1": dario.pk}
    done = client.post(address, form, follow=True)
    ticket = Ticket.objects.open().get()
    assert ticket.stops.get().route.technician == dario
    client.post(undo_address(done))

    assert not Ticket.objects.open().exists()
    assert DueItem.objects.get() == item


def test_page_of_a_system_leads_to_pulling_forward_what_opens_within_a_week(client, manager):
    day = timezone.localdate() + timedelta(days=5)
    seed = make.ticket(due_when_opened_on=day)
    item = make.due_item(seed)
    address = reverse("system", args=[seed.system_id])
    assert f"/pull/{item.pk}/" in text(client.get(address))
    client.force_login(make.technician().user)

    assert f"/pull/{item.pk}/" not in text(client.get(address))


def test_best_alternative_of_what_is_left_out_is_taken_by_one_press(client, manager, dario):
    ticket = due_ticket()
    run = PlanRun.objects.create(
        week=NAME, monday_on=MONDAY, problem={}, iterations=1, asked_at=timezone.now(), state="done"
    )
    LeftOut.objects.create(
        plan_run=run,
        ticket=ticket,
        because="Every day is full.",
        day=TUESDAY,
        technician=dario,
        detour_hm=60,
    )
    shown = text(page(client))
    assert "Every day is full." in shown
    assert f"{TUESDAY:%A} with Dario, +" in shown
    done = client.post(reverse("place_best", args=[NAME, ticket.pk]), follow=True)

    assert ticket.stops.get().route.day == TUESDAY
    client.post(undo_address(done))
    assert not ticket.stops.exists()


def test_best_alternative_for_two_names_both_and_their_time_and_is_taken_by_one_press(
    client, manager, dario, wen
):
    ticket = weeks.for_two(due_when_opened_on=MONDAY)
    run = PlanRun.objects.create(
        week=NAME, monday_on=MONDAY, problem={}, iterations=1, asked_at=timezone.now(), state="done"
    )
    LeftOut.objects.create(
        plan_run=run,
        ticket=ticket,
        because="Every day is full.",
        day=TUESDAY,
        technician=dario,
        detour_hm=60,
        people=[dario.pk, wen.pk],
        meet_at=time(10, 15),
    )
    assert f"{TUESDAY:%A} at 10:15 with Dario and Wen, +" in text(page(client))
    done = client.post(reverse("place_best", args=[NAME, ticket.pk]), follow=True)

    assert {stop.route.technician for stop in ticket.stops.all()} == {dario, wen}
    assert "is placed with Dario Lund and Wen Lund" in text(done)


def test_without_an_alternative_the_form_to_place_it_is_shown(client, manager, dario):
    ticket = due_ticket()
    sent = client.post(reverse("place_best", args=[NAME, ticket.pk]))

    assert sent.url == reverse("place_ticket", args=[NAME, ticket.pk])


def test_publishing_shows_first_what_it_does_and_one_press_does_it(client, manager, dario):
    contact = make.contact()
    site = make.site(owner=contact.customer, lat=44.95, lon=-93.0)
    place(client, due_ticket(site=site), dario)
    address = reverse("publish_week", args=[NAME])
    shown = client.get(address)

    assert str(contact) in text(shown)
    assert "None of these days was published before" in text(shown)
    assert b"autofocus" in shown.content
    assert Route.objects.get().published_at is None
    client.post(address)
    assert Route.objects.get().published_at


def test_owner_of_a_stop_that_is_gone_stands_among_those_to_be_phoned(client, manager, dario):
    place(client, due_ticket(site=make.site(lat=44.95, lon=-92.9)), dario)
    place(client, due_ticket(site=make.site(lat=44.95, lon=-92.8)), dario)
    client.post(reverse("publish_week", args=[NAME]))
    client.post(reverse("reopen_day", args=[Route.objects.get().pk]))
    stop = Stop.objects.first()
    client.post(reverse("take_off_stop", args=[stop.uuid]))
    shown = text(client.get(reverse("publish_week", args=[NAME])))

    assert "was told of this day, and there is no other yet" in shown
    assert "Gone" in shown
    client.post(reverse("publish_week", args=[NAME]))
    assert OfficeTask.objects.get(key__startswith="gone:").site == stop.site


def test_what_cannot_be_published_says_why_and_offers_no_button(client, manager, dario):
    place(client, due_ticket(), dario)
    dario.shifts.update(ends="08:30", starts="08:25")
    shown = client.get(reverse("publish_week", args=[NAME]))

    assert "after the shift ends" in text(shown)
    assert b"autofocus" not in shown.content


def test_technician_reads_what_changed_on_his_day_until_he_has_seen_it(client, dario):
    place_on = due_ticket()
    client.force_login(make.manager())
    place(client, place_on, dario)
    Route.objects.update(
        published_at=timezone.now(),
        news={"since": timezone.now().isoformat(), "new": [place_on.site_id], "gone": []},
    )
    client.force_login(dario.user)
    address = f"{reverse('my_day')}?on={MONDAY.isoformat()}"
    assert "1 stop is new" in text(client.get(address))
    assert "1 stop is new" in text(client.get(address))  # looking alone changes nothing
    client.post(reverse("see_news", args=[Route.objects.get().pk]))

    assert "1 stop is new" not in text(client.get(address))


def test_news_of_somebody_else_is_not_put_away(client, manager, dario, wen):
    place(client, due_ticket(), dario)
    client.force_login(wen.user)

    assert client.post(reverse("see_news", args=[Route.objects.get().pk])).status_code == 404
