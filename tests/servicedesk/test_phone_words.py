"""What the phone's scripts say can be translated, all of it, and reaches a phone without signal."""

import json
import re

import pytest
from django.template import Context, Template
from django.test import Client
from django.utils import translation
from django.utils.translation import trans_real

from servicedesk import offline
from servicedesk.templatetags.phone_words import COUNTED, SAID
from tests.servicedesk.views.phone_day import Day

WORDS = r'"((?:[^"\\]|\\.)*)"'
ANY_WORDS = re.compile(r"""["`]([^"`\n]*)["`]""")
NOT_SAID = {  # told to nobody: names of faults inside
    "the server is away",
    "not kept",
    "no picture",
}


def scripts():
    return "\n".join(offline._content(name).decode() for name in offline.SCRIPTS)


def spoken():
    return {json.loads(f'"{words}"') for words in re.findall(rf"\bspeak\({WORDS}", scripts())}


def counted():
    return set(re.findall(rf"\bspeakMany\([^\"]*{WORDS}, {WORDS}", scripts()))


def test_everything_that_the_scripts_say_is_known_to_the_translation_and_nothing_else():
    assert spoken() == set(SAID)
    assert counted() == {(many(1), many(2)) for many in COUNTED}


def test_no_sentence_of_the_scripts_goes_past_the_translation():
    known = spoken() | {words for pair in counted() for words in pair} | NOT_SAID
    code = re.sub(r"^\s*//.*$|\s//\s.*$", "", scripts(), flags=re.MULTILINE)
    sentences = [
        words
        for words in ANY_WORDS.findall(code)
        if re.search(r"[A-Z][a-z]+ [a-z]+ [a-z]+|^[A-Z][a-z]+ [a-z]+", words) and words not in known
    ]

    assert sentences == []


@pytest.fixture
def turned_around(monkeypatch):
    """A language of which every word is the English one between brackets."""
    catalog = trans_real.translation("es")
    with translation.override("es"):
        monkeypatch.setattr(catalog, "gettext", lambda words: f"[{words}]")
        monkeypatch.setattr(
            catalog, "ngettext", lambda one, many, n: f"[{one if n == 1 else many}]"
        )
        yield


def drawn():
    return Template("{% load phone_words %}{% phone_words %}").render(Context())


def test_page_in_english_brings_no_words_along():
    with translation.override("en"):
        assert drawn() == ""


def test_page_brings_every_word_in_the_language_of_its_reader(turned_around):
    found = json.loads(
        re.fullmatch(r"<script id=.words. type=.application/json.>(.*)</script>", drawn())[1]
    )

    assert len(found) == len(SAID) + len(COUNTED)
    assert found["In the normal band"] == "[In the normal band]"
    assert found["{n} photo"]["one"] == "[{n} photo]"
    assert found["{n} photo"]["other"] == "[{n} photos]"
    for words, said in found.items():
        for form in said.values() if isinstance(said, dict) else [said]:
            assert set(re.findall(r"{\w+}", words)) == set(re.findall(r"{\w+}", form))


@pytest.mark.django_db(transaction=True)
def test_scripts_of_a_phone_speak_the_language_of_its_technician(
    turned_around, new_phone, relay, settings
):
    settings.LANGUAGE_CODE = "es"
    day = Day(Client())
    day.dario.language = "es"
    day.dario.save()
    phone = new_phone(relay.url)
    signed_in = Client()
    signed_in.force_login(day.dario)
    session = signed_in.cookies[settings.SESSION_COOKIE_NAME].value
    phone.context.add_cookies(
        [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": relay.url}]
    )

    phone.page.goto("/day/")
    phone.page.get_by_text("[All of today is on this phone.]").wait_for()
    relay.turn("away")
    phone.page.goto(day.address)
    phone.page.get_by_role("button", name="[Is this the right pond?]").wait_for()
    phone.page.goto("/day/stop/6f1d3c1e-0000-4000-8000-000000000000/")
    phone.page.get_by_role("heading", name="[No signal]").wait_for()
