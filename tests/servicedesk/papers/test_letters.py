"""Whatever people type can stand on paper: as words, never as commands of the typesetter."""

import unicodedata
from datetime import UTC, datetime
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from servicedesk.papers.letters import BREAK, SHOWN, printable
from servicedesk.papers.report import report_paper

AT = datetime(2026, 6, 1, 14, 3, 2, 123456, tzinfo=UTC)  # as a real clock tells it


def facts(name):
    reading = {
        "name": name,
        "found": "6.4 psi",
        "left": "",
        "last": "",
        "last_on": "",
        "says": name,
    }
    system = {
        "name": name,
        "ponds": [name],
        "found": "",
        "left": "",
        "stands_still": False,
        "readings": [reading],
        "chart": None,
    }
    return {
        "language": "en",
        "size": "a4",
        "firm": {"name": name, "phone": "555 0100", "emergency": "911", "address": name},
        "number": 1,
        "version": 1,
        "replaces": "",
        "changed": [],
        "customer": name,
        "ponds": [name],
        "site": name,
        "title": name,
        "day": "Monday",
        "from": "08:00",
        "until": "",
        "zone": "CDT",
        "who": name,
        "late": "",
        "systems": [system],
        "waters": [],
        "done": [{"job": name, "where": name, "found": name}],
        "not_done": [{"job": name, "where": "", "why": name, "then": name}],
        "parts": [{"name": name, "quantity": 2}],
        "defects": [{"words": name, "where": name, "urgent": True}],
        "photos": [],
        "next": [{"job": name, "where": name, "about": name}],
        "cautions": [name],
    }


def text_of(paper):
    pages = PdfReader(BytesIO(paper)).pages
    return " ".join("".join(page.extract_text() for page in pages).replace(BREAK, "").split())


@pytest.mark.parametrize(
    "typed",
    [
        '#import "@preview/x:1.0.0"',
        '#read("/etc/passwd")',
        "$ x^2 $ *bold* _it_ `raw`",
        "= heading @label <label>",
        "[bracket \\ back",
        "// comment /* more */",
        '"; evil',
    ],
)
def test_commands_of_the_typesetter_come_out_as_they_were_typed(typed):
    assert " ".join(typed.split()) in text_of(report_paper(facts(typed), {}, made_at=AT))


@pytest.mark.parametrize(
    "typed",
    [
        "\U0001f600 frog",
        "בריכה",
        "بركة ماء",
        "池",
        "w" * 600,
        "\x00\x07",
        "\ud800",
        "\uffff",
        "e\u0301 \u202e abc",
    ],
    ids=["emoji", "hebrew", "arabic", "chinese", "long", "controls", "half", "none", "marks"],
)
def test_odd_letters_never_stop_a_paper(typed):
    assert report_paper(facts(typed), {}, made_at=AT).startswith(b"%PDF")


def test_a_picture_becomes_its_name_and_unknown_script_a_question_mark():
    assert printable("ok \U0001f600") == "ok [grinning face]"
    assert printable("池 x") == "[?] x"
    assert printable("\x07") == "?"


def test_long_words_end_inside_the_page():
    paper = report_paper(facts("w" * 600), {}, made_at=AT)
    right = []

    def seen(text, _cm, tm, _font, size):
        right.append(tm[4] + 0.2 * size * len(text.strip()))

    for page in PdfReader(BytesIO(paper)).pages:
        page.extract_text(visitor_text=seen)
    assert max(right) < 595


def test_every_letter_that_is_let_through_has_a_look_on_paper():
    letters = " ".join(
        chr(code)
        for low, high in SHOWN
        for code in range(low, high + 1)
        if unicodedata.category(chr(code)) != "Cn"
    )
    assert report_paper(facts("Mill") | {"cautions": [letters]}, {}, made_at=AT)


@settings(max_examples=15, deadline=None)
@given(st.text(max_size=60))
def test_any_text_makes_a_paper(typed):
    assert report_paper(facts(typed or "x"), {}, made_at=AT).startswith(b"%PDF")


def test_the_same_facts_at_the_same_moment_give_the_same_file():
    assert report_paper(facts("Mill"), {}, made_at=AT) == report_paper(
        facts("Mill"), {}, made_at=AT
    )
