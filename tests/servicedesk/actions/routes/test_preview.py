"""Before a week is published: what changes, who would be told, and what was promised."""

from datetime import UTC, datetime, time, timedelta

import pytest
from django.utils import timezone

from customers.kinds import ContactState
from customers.models import MailStop
from servicedesk.actions.routes import by_hand, hands
from servicedesk.actions.routes.preview import preview_of
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.reopening import reopen_day
from servicedesk.actions.routes.week import read_week
from servicedesk.kinds import AnswerKind, MessageState
from servicedesk.models import OfficeTask, Reminder, Route, Stop, Ticket
from servicedesk.tables.publishing import preview_shown
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db
AFTER = BEFORE + timedelta(hours=1)


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def dario():
    return make.technician(user=make.user(first_name="Dario", last_name="Lund"))


@pytest.fixture
def wen():
    return make.technician(user=make.user(first_name="Wen", last_name="Achterberg"))


def owned(east=0.0, **fields):
    contact = make.contact(**fields)
    site = make.site(owner=contact.customer, lat=44.95, lon=-93.0 + east)
    return contact, weeks.ticket(site=site)


def place(ticket, technician, day=MONDAY):
    hands.place_by_hand(ticket, technicians=[technician], day=day, start=None, today=TODAY)


def publish(now=BEFORE):
    return publish_week(MONDAY, by=None, today=TODAY, now=now)


def mails_have_gone():
    for line in Reminder.objects.filter(message=None):
        line.message = make.message(
            contact=line.contact, state=MessageState.SENT, sent_at=timezone.now()
        )
        line.save()


def reopen(technician):
    route = Route.objects.get(technician=technician)
    reopen_day(route, by=make.manager(), today=TODAY, now=BEFORE)


def move(ticket, technician, day):
    stop = Stop.objects.select_related("route__technician__user", "site").get(tickets=ticket)
    start = {"by": None, "today": TODAY, "now": BEFORE}
    return by_hand.move(stop, technician=technician, day=day, **start)


def preview():
    return preview_of(read_week(MONDAY, today=TODAY), now=AFTER)


def told():
    return {(row.contact, row.word) for row in preview().tellings}


def test_first_publishing_lists_its_days_and_all_its_owners(dario):
    contact, ticket = owned()
    place(ticket, dario)
    seen = preview()

    assert seen.is_first
    assert seen.changes == []
    assert [(day.word, day.stops) for day in seen.days] == [("new", 1)]
    assert told() == {(contact, "mail")}


def test_looking_ahead_writes_nothing(dario):
    _, ticket = owned()
    place(ticket, dario)
    preview()

    assert not Reminder.objects.exists()


def test_only_the_owner_whose_day_changes_is_told_again(dario, wen):
    (stays, first), (moves, second) = owned(0.1), owned(0.2)
    place(first, dario)
    place(second, dario)
    publish()
    mails_have_gone()
    reopen(dario)
    move(second, wen, TUESDAY)

    assert told() == {(stays, "told"), (moves, "other_day")}
    assert [row.site for row in preview().changes if row.kind == "day"] == [second.site_id]
    publish(AFTER)
    assert list(Reminder.objects.filter(owed_at=AFTER).values_list("contact", flat=True)) == [
        moves.pk
    ]


def test_preview_says_of_everybody_what_publishing_then_does(dario, wen):
    tickets = [owned(n / 10)[1] for n in range(4)]
    for ticket in tickets:
        place(ticket, dario)
    publish()
    mails_have_gone()
    reopen(dario)
    move(tickets[1], wen, TUESDAY)
    move(tickets[2], wen, TUESDAY)
    expected = {row.contact.pk for row in preview().tellings if row.by_mail}
    publish(AFTER)

    mailed = Reminder.objects.filter(owed_at=AFTER).values_list("contact", flat=True)
    assert expected == set(mailed)


def test_days_are_new_changed_unchanged_or_empty(dario, wen):
    first, second, third = weeks.ticket(0.1), weeks.ticket(0.2), weeks.ticket(0.3)
    place(first, dario)
    place(second, wen)
    publish()
    reopen(dario)
    reopen(wen)
    move(first, dario, TUESDAY)
    place(third, dario, day=MONDAY + timedelta(days=2))
    words = {(day.technician, day.day): day.word for day in preview().days}

    assert words == {
        (dario.pk, MONDAY): "empty",
        (wen.pk, MONDAY): "unchanged",
        (dario.pk, TUESDAY): "changed" if (dario.pk, TUESDAY) in preview().told else "new",
        (dario.pk, MONDAY + timedelta(days=2)): "new",
    }


def test_change_of_person_alone_is_told_apart_from_a_change_of_day(dario, wen):
    _, ticket = owned()
    place(ticket, dario)
    publish()
    mails_have_gone()
    reopen(dario)
    move(ticket, wen, MONDAY)

    assert [change.kind for change in preview().changes] == ["person"]
    assert {word for _, word in told()} == {"told"}


def test_owner_who_had_confirmed_and_whose_day_changes_is_named(dario, wen):
    contact, ticket = owned()
    place(ticket, dario)
    publish()
    mails_have_gone()
    make.answer(contact, AnswerKind.CONFIRM, ticket=ticket)
    reopen(dario)
    move(ticket, dario, TUESDAY)
    (row,) = preview().tellings

    assert (row.contact, row.told_on, row.breaks_confirmed_day) == (contact, MONDAY, True)


def test_promised_time_that_no_stop_keeps_is_named(dario):
    _, ticket = owned()
    place(ticket, dario)
    publish()
    begins = datetime(2026, 11, 23, 12, tzinfo=UTC)
    Ticket.objects.update(promised_from=begins, promised_until=begins + timedelta(hours=9))
    assert preview().broken == []
    reopen(dario)
    hands.take_off(Stop.objects.get(), today=TODAY)
    (broken,) = preview().broken

    assert (broken.ticket, broken.stop) == (ticket, None)


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"state": ContactState.DO_NOT_CONTACT}, "asked for no mail"),
        ({"address_dead_at": BEFORE}, "mails come back"),
        ({"email": ""}, "no mail address"),
    ],
)
def test_owner_whom_no_mail_reaches_is_to_be_phoned_with_the_reason(dario, fields, why):
    contact, ticket = owned(**fields)
    place(ticket, dario)
    (row,) = preview().tellings

    assert (row.by_phone, row.names) == (True, [f"{contact} ({why})"])


def test_owner_who_asked_for_no_such_mail_is_to_be_phoned(dario):
    contact, ticket = owned()
    MailStop.objects.create(contact=contact, topic="visit_proposed", stopped_at=BEFORE)
    place(ticket, dario)

    assert told() == {(contact, "stopped")}


def test_owner_of_a_stop_that_is_gone_is_phoned_once(dario):
    _, ticket = owned()
    _, stays = owned(0.2)
    place(ticket, dario)
    place(stays, dario)
    publish()
    reopen(dario)
    hands.take_off(Stop.objects.get(tickets=ticket), today=TODAY)
    publish(AFTER)

    task = OfficeTask.objects.get(key__startswith="gone:")
    assert "We do not come to" in task.text
    assert task.site == ticket.site
    reopen(dario)
    publish(AFTER)
    assert OfficeTask.objects.filter(key__startswith="gone:").count() == 1


def test_day_that_was_told_and_is_empty_now_is_published_as_empty(dario):
    _, ticket = owned()
    place(ticket, dario)
    publish()
    reopen(dario)
    hands.take_off(Stop.objects.get(), today=TODAY)

    assert [day.word for day in preview().days] == ["empty"]
    assert publish(AFTER) == []
    assert OfficeTask.objects.filter(key__startswith="gone:").exists()
    assert preview().told == {}


def test_technician_has_news_of_what_came_and_went(dario):
    (_, goes), (_, stays), (_, comes) = owned(0.1), owned(0.2), owned(0.3)
    place(goes, dario)
    place(stays, dario)
    publish()
    assert Route.objects.get().news == {}
    reopen(dario)
    hands.take_off(Stop.objects.get(tickets=goes), today=TODAY)
    place(comes, dario)
    publish(AFTER)

    news = Route.objects.get().news
    assert (news["new"], news["gone"]) == ([comes.site_id], [goes.site_id])
    assert datetime.fromisoformat(news["since"]) == BEFORE


def test_owner_of_a_pond_where_two_meet_reads_of_it_once(dario, wen):
    contact = make.contact()
    ticket = weeks.for_two(site=make.site(owner=contact.customer, lat=44.95, lon=-93.0))
    meet = {"day": MONDAY, "start": time(11), "today": TODAY}
    hands.place_by_hand(ticket, technicians=[dario, wen], **meet)
    shown = preview_shown(preview(), read_week(MONDAY, today=TODAY))

    assert [(one["contact"], len(one["rows"])) for one in shown["mails"]] == [(contact, 1)]


@pytest.mark.parametrize("count", [1, 6])
def test_preview_asks_the_same_few_questions_of_many_stops(
    dario, count, django_assert_max_num_queries
):
    for number in range(count):
        place(owned(number / 20)[1], dario)
    publish()
    mails_have_gone()
    reopen(dario)
    week = read_week(MONDAY, today=TODAY)

    with django_assert_max_num_queries(17):
        preview_of(week, now=AFTER)
