"""No page or mail of winters promises anything about ice, in English or in Spanish."""

import re
from html import unescape

import pytest
from django.urls import reverse
from django.utils.formats import date_format

from customers.kinds import MailTopic
from servicedesk.actions import reminders
from servicedesk.actions.winter.asking import ask_about_winters
from servicedesk.kinds import AnswerKind
from servicedesk.models import Message, WinterDecision
from servicedesk.planning.winter.notice_words import FIRST_WORDS, promise_in
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay
from tests.servicedesk.emails import scenes
from tests.servicedesk.emails.test_mails import MOVES, both, sent

pytestmark = pytest.mark.django_db
PROMISES = [  # as the rule for all words about ice lists them
    r"\bsafe(ly)?\b",
    r"\bok to walk\b",
    r"\bthick enough\b",
    r"\bholds\b",
    r"\bsound\b",
    r"\ball clear\b",
    r"\bno danger\b",
    r"\bguaranteed\b",
    r"\bharmless\b",
    r"\bsegur[oa]s?\b",
    r"\ba salvo\b",
    r"\bsin peligro\b",
    r"\bgarantizad[oa]\b",
]


@pytest.fixture
def that_morning(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: make.MORNING)


def promises(text):
    return [word for word in PROMISES if re.search(word, text, re.IGNORECASE)]


def read(html):
    return unescape(re.sub(r"<[^>]+>", " ", html))


def winter_plan(contact):
    _site, system, _at = scenes.place(contact)
    make.due_item(make.ticket(at=system))
    ask_about_winters(now=scenes.SEPTEMBER)
    return sent(scenes.SEPTEMBER)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", ["winter_plan", "thin_ice", "restart", "heat_advisory"])
def test_mail_promises_nothing_and_moves_nobody(name, language):
    contact = make.contact(name="Ines Halvorsen", language=language)
    if name == "winter_plan":
        mail = winter_plan(contact)
    elif name == "heat_advisory":
        scenes.heat_advisory(contact)
        mail = sent()
    else:
        scenes.thin_ice(contact, occasion="restart:7" if name == "restart" else "season")
        mail = sent()

    for body in both(mail):
        assert promises(body) == []
        assert [move for move in MOVES if re.search(move, body, re.IGNORECASE)] == []


def test_winter_mail_gives_three_ways_the_risk_of_each_and_what_silence_means():
    mail = winter_plan(make.contact(name="Ines Halvorsen"))

    for body in both(mail):
        assert body.count("Risk:") == 3
        assert date_format(scenes.SEPTEMBER.replace(day=15), "j F Y") in body
        assert "Do we hear nothing" in body
        assert "none of them is without risk" in body


def test_second_winter_mail_is_the_last_one():
    contact = make.contact(name="Ines Halvorsen")
    winter_plan(contact)
    for day in range(3, 30):
        now = scenes.SEPTEMBER.replace(day=day)
        ask_about_winters(now=now)
        reminders.send_queued_messages(clock=Clock(now), open_relay=Relay())

    asked = Message.objects.filter(topic=MailTopic.WINTER_PLAN, sent_at__isnull=False)
    assert asked.count() == 2


def test_words_of_the_notice_promise_nothing():
    for text in FIRST_WORDS.values():
        assert promises(text) == []
        assert promise_in(text) == ""


@pytest.mark.parametrize("language", ["en", "es"])
def test_owners_pages_promise_nothing_and_looking_records_nothing(client, that_morning, language):
    contact = make.contact(name="Ines Halvorsen", language=language)
    scenes.thin_ice(contact)
    mail = sent()
    pages = re.findall(r"https?://[^/\s]+(/o/\S+)", both(mail)[0])

    assert len(pages) >= 4
    for page in pages:
        shown = client.get(page)
        assert shown.status_code == 200
        assert promises(read(shown.content.decode())) == []
    assert not contact.answers.exists()


def test_pages_of_the_office_promise_nothing(client):
    contact = make.contact(name="Ines Halvorsen")
    scenes.thin_ice(contact)
    client.force_login(make.manager())
    system = WinterDecision.objects.get().system
    row = contact.notices.get()
    make.region()
    for name, args in [
        ("winters", []),
        ("customer_winter", [contact.customer_id]),
        ("system_winter", [system.pk]),
        ("notices", []),
        ("notice_call", [row.pk]),
        ("notice_texts", ["en"]),
        ("notice_texts", ["es"]),
    ]:
        shown = client.get(reverse(name, args=args))
        assert shown.status_code == 200
        assert promises(read(shown.content.decode())) == [], name


def test_owner_acknowledges_by_typing_a_name(client, that_morning):
    contact = make.contact(name="Ines Halvorsen")
    scenes.thin_ice(contact)
    mail = sent()
    (page,) = re.findall(rf"https?://[^/\s]+(/o/\S+/{AnswerKind.NOTICE_READ}/)", both(mail)[0])

    empty = client.post(page, {"uuid": "7a3d2f16-50a5-4a04-8a22-6ff7d6d3a001", "name": ""})
    client.post(page, {"uuid": "7a3d2f16-50a5-4a04-8a22-6ff7d6d3a001", "name": "Ines H."})

    assert empty.status_code == 422
    row = contact.notices.get()
    assert row.acknowledged_name == "Ines H."
