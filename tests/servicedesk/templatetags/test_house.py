"""How ponds, states, days and figures stand on a page."""

from datetime import UTC, date, datetime
from types import SimpleNamespace

import pytest
from django.template import Context, Template, TemplateSyntaxError
from django.utils import timezone

from equipment.kinds import SystemState
from servicedesk.templatetags import house


def printed(source, **context):
    return Template("{% load house %}" + source).render(Context(context))


def test_pond_is_always_the_italic_serif_and_its_name_cannot_be_markup():
    assert printed("{% water pond %}", pond="Mill Pond") == '<span class="water">Mill Pond</span>'
    assert "<b>" not in printed("{% water pond %}", pond="<b>")


def test_status_is_word_shape_and_colour_together():
    tag = printed('{% tag "late" "Overdue 9 days" %}')

    assert 'class="tag late"' in tag
    assert 'href="#s-late"' in tag
    assert "Overdue 9 days" in tag


def test_unknown_shape_is_a_mistake_in_the_template():
    with pytest.raises(TemplateSyntaxError):
        printed('{% tag "red" "Overdue" %}')


@pytest.mark.parametrize("state", list(SystemState))
def test_every_state_has_its_words(state):
    assert "State not known" not in printed("{% state_tag state %}", state=state.value)


def test_cabinet_named_as_its_pond_is_said_once():
    mill = SimpleNamespace(pk=1, name="Mill Pond")

    assert str(house.cabinet(SimpleNamespace(name="Mill Pond"), [mill, mill])).count("Mill") == 1
    assert str(house.cabinet(SimpleNamespace(name="Mill Pond B"), [mill])).endswith("</span> B")
    assert "Mill Ponds A" in house.cabinet(SimpleNamespace(name="Mill Ponds A"), [mill])
    assert "Cabinet A" in house.cabinet(SimpleNamespace(name="Cabinet A"), [mill])
    assert house.cabinet(SimpleNamespace(name="Cabinet A"), []) == "Cabinet A"


def test_reading_follows_the_units_of_the_page():
    assert printed('{% reading "pressure" 44816 %}', units="us") == "6.5\xa0psi"
    assert printed('{% reading "pressure" 44816 %}', units="metric") == "44.8\xa0kPa"
    assert printed('{% reading "pressure" none %}', units="us", none=None) == "\u2013"


def test_times_stand_in_the_zone_of_the_page():
    at = datetime(2026, 1, 5, 3, 30, tzinfo=UTC)
    with timezone.override("America/Chicago"):
        assert printed("{{ at|moment }}", at=at) == "Sun 4 Jan 2026, 21:30"
        assert printed("{{ at|local_day }}", at=at) == "Sun 4 Jan 2026"
        assert printed("{{ at|clock }}", at=at) == "21:30"
    assert printed("{{ on|day }}", on=date(2026, 11, 24)) == "Tue 24 Nov 2026"


@pytest.mark.parametrize(
    ("minutes", "words"), [(None, "0\xa0min"), (35, "35\xa0min"), (425, "7\xa0h\xa005")]
)
def test_minutes_as_people_say_them(minutes, words):
    assert house.duration(minutes) == words


def test_basis_of_a_figure_says_habit_once():
    assert house.mark_words("common_practice", "no source") == "common practice, no source"
    assert house.mark_words("sourced", "ESFI") == "from a source: ESFI"
