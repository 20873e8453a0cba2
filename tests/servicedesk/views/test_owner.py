"""The pages behind the buttons: looking changes nothing, pressing acts once, and may be undone."""

import re
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse

from customers import signed_links
from customers.kinds import MailTopic
from customers.models import MailStop, Ownership, SignedLink
from servicedesk.emails import links
from servicedesk.forms.owner import SIGNS
from servicedesk.kinds import AnswerKind, DoneBy, WorkState
from servicedesk.models import Defect, DueItem, OwnerAnswer, PartUsed, Ticket, Work
from servicedesk.planning.calendar import week_name
from tests import make
from tests.servicedesk.actions.outbox import published
from tests.servicedesk.emails import scenes
from tests.servicedesk.views.phone_day import today

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines():
    return make.contact(name="Ines Halvorsen")


def now():
    return datetime.now(UTC)


def link(contact, purpose, about, **fields):
    at = now()
    token = signed_links.make_link(contact, purpose, about, at + timedelta(days=5), at)
    SignedLink.objects.filter(pk=SignedLink.objects.latest("pk").pk).update(**fields)
    return token


@pytest.fixture
def planned(ines):
    """An open ticket that the owner may close himself, on a published stop the day after next."""
    _site, _system, at = scenes.place(ines)
    ticket = scenes.ticket_at(at, part_roles=["filter_element"])
    make.part_for(at.serves.fittings.get().component.type, "filter_element")
    when = (now() + timedelta(days=2)).replace(hour=15, minute=0)
    published(ticket, day=when.date(), arrive_at=when)
    return ticket


@pytest.fixture
def token(ines, planned):
    return link(ines, links.VISIT, f"ticket:{planned.pk}")


def page(client, token):
    return client.get(reverse("owner_page", args=[token]))


def press(client, token, kind, *, key=None, **given):
    address = reverse("owner_answer", args=[token, kind])
    return client.post(address, {"uuid": str(key or uuid.uuid4()), **given}, follow=True)


def rows():
    """How many rows each table of ours has, and the states that answers change."""
    counted = {
        model.__name__: model.objects.count()
        for app in ("customers", "equipment", "servicedesk")
        for model in apps.get_app_config(app).get_models()
    }
    return counted | {
        "open": Ticket.objects.open().count(),
        "promised": Ticket.objects.filter(promised_from__isnull=False).count(),
        "used": SignedLink.objects.filter(used_at__isnull=False).count(),
    }


@pytest.mark.parametrize("method", ["get", "head"])
def test_mail_scanner_that_opens_every_address_changes_nothing(client, ines, planned, method):
    tokens = [
        (link(ines, links.VISIT, f"ticket:{planned.pk}"), links.VISIT),
        (link(ines, links.VISITS, "week:2026-W23"), links.VISITS),
        (link(ines, links.TASK, f"ticket:{planned.pk}"), links.TASK),
        (link(ines, links.SITE, f"site:{planned.site_id}"), links.SITE),
        (link(ines, links.SITE, f"system:{planned.system_id}"), links.SITE),
        (link(ines, links.STOP, "topic:visit_reminder"), links.STOP),
    ]
    before = rows()
    for token, purpose in tokens:
        pages = [reverse("owner_page", args=[token])]
        pages += [reverse("owner_answer", args=[token, kind]) for kind in links.OFFERED[purpose]]
        pages += [reverse("owner_stop_at_one_click", args=[token])]
        for address in pages:
            answer = getattr(client, method)(address)
            assert answer.status_code in {200, 302, 404}, address
    undo = reverse("owner_undo", args=[tokens[0][0], uuid.uuid4()])

    assert getattr(client, method)(undo).status_code == 405
    assert rows() == before


def test_page_names_the_person_acted_for_the_water_the_day_and_the_phone(client, token):
    shown = page(client, token).content.decode()

    for words in ["Ines H.", "Mill Pond", "Dario Lund", "A new air filter", "202 555 0100"]:
        assert words in shown


def test_page_needs_no_login_and_is_kept_by_nobody(client, token):
    answer = page(client, token)

    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]


def test_confirming_records_once_however_often_it_is_pressed(client, token, planned):
    key = uuid.uuid4()
    shown = press(client, token, AnswerKind.CONFIRM, key=key)
    press(client, token, AnswerKind.CONFIRM, key=key)
    press(client, token, AnswerKind.CONFIRM)

    answer = OwnerAnswer.objects.get()
    assert (answer.kind, answer.ticket, answer.handled_at) == (AnswerKind.CONFIRM, planned, None)
    assert "You confirmed the visit." in shown.content.decode()
    assert "Take this back" in shown.content.decode()


def test_confirmed_half_day_is_promised_until_it_is_taken_back(client, token, planned):
    press(client, token, AnswerKind.CONFIRM)
    planned.refresh_from_db()
    assert planned.promised_from < planned.stops.get().arrive_at < planned.promised_until

    undo = reverse("owner_undo", args=[token, OwnerAnswer.objects.get().uuid])
    shown = client.post(undo, follow=True).content.decode()

    planned.refresh_from_db()
    assert planned.promised_from is None
    assert OwnerAnswer.objects.get().undone_at
    assert OwnerAnswer.objects.unhandled().count() == 0
    assert "Taken back" in shown


def test_answer_cannot_be_taken_back_after_a_day(client, token):
    press(client, token, AnswerKind.CONFIRM)
    OwnerAnswer.objects.update(recorded_at=now() - timedelta(hours=25))
    undo = reverse("owner_undo", args=[token, OwnerAnswer.objects.get().uuid])

    assert "Take this back" not in page(client, token).content.decode()
    assert client.post(undo).status_code == 409
    assert OwnerAnswer.objects.get().undone_at is None


def test_pressing_needs_the_token_of_the_form(token):
    strict = Client(enforce_csrf_checks=True)
    address = reverse("owner_answer", args=[token, AnswerKind.CONFIRM])

    assert strict.post(address, {"uuid": str(uuid.uuid4())}).status_code == 403
    form = strict.get(address).content.decode()
    fields = dict(re.findall(r'name="(csrfmiddlewaretoken|uuid)" value="([^"]+)"', form))
    assert strict.post(address, fields).status_code == 302
    assert OwnerAnswer.objects.count() == 1


def test_did_it_myself_is_unverified_work_and_the_ticket_leaves(client, token, planned):
    part = planned.position.serves.fittings.get().component.type.parts.get()
    today = now().date() - timedelta(days=1)
    given = {"ticket": planned.pk, "done_on": today, "part": part.pk, "note": "easy"}
    shown = press(client, token, AnswerKind.DID_IT_MYSELF, **given)
    again = press(client, token, AnswerKind.DID_IT_MYSELF, **given)

    work = Work.objects.get()
    assert (work.verified, work.done_by, work.ticket) == (False, DoneBy.OWNER, planned)
    assert PartUsed.objects.get().part == part
    assert not Ticket.objects.open().filter(pk=planned.pk).exists()
    assert OwnerAnswer.objects.get().said["done_on"] == f"{today:%Y-%m-%d}"
    page = shown.content.decode()
    assert "You did it yourself." in page
    assert planned.task.owner_name in page[page.index("Recorded") :]
    assert again.status_code == 200


def test_due_day_of_work_by_the_owner_is_marked_to_be_verified(client, token, planned):
    press(
        client,
        token,
        AnswerKind.DID_IT_MYSELF,
        ticket=planned.pk,
        done_on=now().date() - timedelta(days=1),
    )

    item = DueItem.objects.get(place_key=planned.place_key, task=planned.task)
    assert item.verify
    assert item.due_on > now().date() + timedelta(days=100)


def test_did_it_myself_taken_back_opens_the_ticket_again(client, token, planned):
    make.due_item(planned)
    given = {"ticket": planned.pk, "done_on": now().date() - timedelta(days=1)}
    press(client, token, AnswerKind.DID_IT_MYSELF, **given)
    client.post(reverse("owner_undo", args=[token, OwnerAnswer.objects.get().uuid]))

    assert Work.objects.get().state == WorkState.REFUSED
    assert Ticket.objects.open().filter(task=planned.task).exists()


@pytest.mark.parametrize(
    ("done_on", "says"),
    [
        (lambda: now().date() + timedelta(days=3), "still to come"),
        (lambda: now().date() - timedelta(days=500), "more than a year ago"),
        (lambda: "31 February", "Enter a valid date"),
    ],
)
def test_impossible_day_is_refused_with_a_sentence_and_nothing_is_written(
    client, token, planned, done_on, says
):
    answer = press(
        client, token, AnswerKind.DID_IT_MYSELF, ticket=planned.pk, done_on=done_on(), note="kept"
    )

    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "kept" in answer.content.decode()
    assert (Work.objects.count(), OwnerAnswer.objects.count()) == (0, 0)


def test_another_customers_ticket_cannot_be_slipped_in(client, token):
    other = make.ticket(task=make.task(by_owner=True))
    given = {"ticket": other.pk, "done_on": now().date()}

    assert press(client, token, AnswerKind.DID_IT_MYSELF, **given).status_code == 422
    assert Work.objects.count() == 0


def test_another_day_moves_nothing_and_reaches_the_office(client, token, planned):
    day = now().date() + timedelta(days=9)
    press(client, token, AnswerKind.ANOTHER_DAY, first_day=day, words="after noon")

    answer = OwnerAnswer.objects.unhandled().get()
    assert answer.said == {"first_day": f"{day:%Y-%m-%d}", "words": "after noon"}
    assert planned.stops.count() == 1


def test_another_day_wants_a_day_to_come_or_words(client, token):
    empty = press(client, token, AnswerKind.ANOTHER_DAY)
    past = press(client, token, AnswerKind.ANOTHER_DAY, first_day="2020-01-01")

    assert (empty.status_code, past.status_code) == (422, 422)
    assert "Give a day that suits" in empty.content.decode()
    assert "That day is over" in past.content.decode()


def test_report_page_begins_with_the_person_in_the_water(client, token):
    address = reverse("owner_answer", args=[token, AnswerKind.PROBLEM])
    main = client.get(address).content.decode().partition("<main")[2]
    words = re.sub(r"<[^>]+>", " ", main)

    first = words.index("Is a person in the water or through the ice?")
    assert first < words.index("Mill Pond")
    assert "Do not go in after them: reach or throw." in words
    assert "911" in words


@pytest.mark.parametrize(
    ("sign", "advice"),
    [
        ("second_opening", "Stay off the ice, keep others off, and call us now."),
        ("tripping_outlet", "Do not reset it. Nobody in the water. Call us now."),
        ("fish_gasping", "Change nothing on the system. Call us now."),
    ],
)
def test_problem_is_an_urgent_defect_and_the_advice_is_fixed(client, token, planned, sign, advice):
    key = uuid.uuid4()
    shown = press(client, token, AnswerKind.PROBLEM, key=key, sign=sign, words="since six")
    press(client, token, AnswerKind.PROBLEM, key=key, sign=sign, words="since six")

    defect = Defect.objects.get()
    assert (defect.sign, defect.urgent, defect.text) == (sign, True, "since six")
    assert OwnerAnswer.objects.unhandled().get().urgent
    page = shown.content.decode()
    assert advice in page
    assert str(dict(SIGNS)[sign]) in page[page.index("Recorded") :]


def test_stopping_reminders_stops_this_kind_and_says_what_still_comes(client, ines):
    make.firm()
    token = link(ines, links.STOP, "topic:visit_reminder")
    address = reverse("owner_answer", args=[token, AnswerKind.STOP_REMINDERS])
    assert "You still get reports of our visits" in client.get(address).content.decode()
    press(client, token, AnswerKind.STOP_REMINDERS)
    assert MailStop.objects.get().topic == MailTopic.VISIT_REMINDER

    client.post(reverse("owner_undo", args=[token, OwnerAnswer.objects.get().uuid]))
    assert MailStop.objects.get().resumed_at


def test_one_click_of_a_mail_program_works_without_cookie_and_twice(ines):
    make.firm()
    token = link(ines, links.STOP, "topic:visit_proposed")
    address = reverse("owner_stop_at_one_click", args=[token])
    strict = Client(enforce_csrf_checks=True)
    answers = [strict.post(address, {"List-Unsubscribe": "One-Click"}) for _twice in range(2)]

    assert [answer.status_code for answer in answers] == [200, 200]
    assert MailStop.objects.count() == 1
    assert OwnerAnswer.objects.count() == 1
    assert strict.post(address[:-20] + "xx" + address[-18:]).status_code == 404
    assert strict.head(address).status_code == 302


def test_link_for_a_visit_stops_no_mail(client, token):
    assert client.post(reverse("owner_stop_at_one_click", args=[token])).status_code == 404
    assert MailStop.objects.count() == 0


@pytest.mark.parametrize(
    ("fields", "status", "says"),
    [
        (
            {
                "made_at": datetime(2025, 1, 1, tzinfo=UTC),
                "expires_at": datetime(2025, 2, 1, tzinfo=UTC),
            },
            410,
            "no longer valid",
        ),
        ({"revoked_at": datetime(2025, 2, 1, tzinfo=UTC)}, 410, "no longer valid"),
        ({"token_hash": "0" * 64}, 404, "not a link that we sent"),
    ],
    ids=["expired", "revoked", "unknown"],
)
def test_dead_link_gets_a_clear_page_with_the_phone(client, ines, planned, fields, status, says):
    token = link(ines, links.VISIT, f"ticket:{planned.pk}", **fields)
    for answer in [page(client, token), press(client, token, AnswerKind.CONFIRM)]:
        assert answer.status_code == status
        assert says in answer.content.decode()
        assert "202 555 0100" in answer.content.decode()
    assert OwnerAnswer.objects.count() == 0


def test_altered_link_gets_a_clear_page(client, token):
    altered = ("A" if token[0] != "A" else "B") + token[1:]
    answer = page(client, altered)

    assert answer.status_code == 404
    assert "part of it is missing" in answer.content.decode()


def test_after_a_sale_the_old_owners_link_opens_nothing(client, token, planned):
    Ownership.objects.filter(site=planned.site).update(to_on=today())
    Ownership.objects.create(site=planned.site, customer=make.customer(), from_on=today())

    assert page(client, token).status_code == 410
    assert press(client, token, AnswerKind.CONFIRM).status_code == 410
    assert OwnerAnswer.objects.count() == 0


def test_closed_ticket_has_nothing_left_to_confirm(client, token):
    Ticket.objects.update(closed_at=now(), end="done")
    answer = press(client, token, AnswerKind.CONFIRM)

    assert answer.status_code == 200
    assert "nothing to confirm" in answer.content.decode()
    assert OwnerAnswer.objects.count() == 0


def test_kind_that_the_link_is_not_for_is_not_found(client, token):
    address = reverse("owner_answer", args=[token, AnswerKind.STOP_REMINDERS])

    assert client.get(address).status_code == 404


def week_of_visits(contact, count):
    """The link to answer for all visits of a week, at sites of one owner."""
    make.firm()
    when = (now() + timedelta(days=3)).replace(hour=15, minute=0)
    route = make.route(day=when.date())
    for _site in range(count):
        at = make.filter_position(make.system(site=make.site(owner=contact.customer)))
        published(make.ticket(at=at), route=route, arrive_at=when)
    return link(contact, links.VISITS, f"week:{week_name(when.date())}")


def test_all_visits_of_a_week_are_confirmed_at_once(client, ines):
    press(client, week_of_visits(ines, 3), AnswerKind.CONFIRM)

    assert OwnerAnswer.objects.filter(kind=AnswerKind.CONFIRM).count() == 3


@pytest.mark.parametrize("count", [1, 12])
def test_page_asks_the_database_equally_often(client, ines, count, django_assert_max_num_queries):
    token = week_of_visits(ines, count)

    with django_assert_max_num_queries(11):
        assert page(client, token).content.decode().count("Who comes:") == count


def opened_by(client, address, token, times=1):
    where = reverse("owner_page", args=[token])
    return [client.get(where, REMOTE_ADDR=address).status_code for _ in range(times)][-1]


def test_program_that_opens_one_link_without_end_is_held_up_there_and_nobody_else(
    client, ines, planned, token, monkeypatch
):
    monkeypatch.setattr("servicedesk.views.owner.OPENED", 5)
    other = link(ines, links.VISIT, f"ticket:{planned.pk}")

    assert opened_by(client, "198.51.100.7", token, times=5) == 200
    held_up = client.get(reverse("owner_page", args=[token]), REMOTE_ADDR="198.51.100.7")

    assert (held_up.status_code, held_up.headers["Retry-After"]) == (429, "3600")
    assert "Call the emergency number first" in held_up.content.decode()
    assert opened_by(client, "203.0.113.9", token) == 200  # its owner
    assert opened_by(client, "198.51.100.7", other) == 200  # the next mail it looks through


def test_whoever_tries_addresses_that_are_no_links_is_held_up_at_those_alone(
    client, token, monkeypatch
):
    monkeypatch.setattr("servicedesk.views.owner.REFUSED", 3)
    tried = [opened_by(client, "198.51.100.7", f"{n:022d}") for n in range(4)]

    assert tried == [404, 404, 404, 429]
    assert opened_by(client, "198.51.100.7", token) == 200


def test_link_takes_so_many_answers_an_hour_and_says_to_call(client, token, monkeypatch):
    monkeypatch.setattr("servicedesk.views.owner.ANSWERED", 2)
    where = reverse("owner_answer", args=[token, AnswerKind.PROBLEM])
    sent = [
        client.post(where, {"uuid": uuid.uuid4(), "sign": "fish_gasping", "words": "At dawn."})
        for _ in range(3)
    ]

    assert [answer.status_code for answer in sent] == [302, 302, 429]
    assert OwnerAnswer.objects.count() == 2
    assert "Nothing was changed" in sent[-1].content.decode()
