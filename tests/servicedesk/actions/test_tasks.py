"""The defaults of the trade: complete, marked, and never written over."""

import re
import tomllib

import pytest
from django.core.exceptions import ValidationError

from equipment.kinds import CompressorKind, PartRole, PositionKind, Quantity, SystemState
from servicedesk.actions.tasks import DEFAULTS, load_task_defaults
from servicedesk.kinds import Clock, Mark
from servicedesk.models import Caution, Rhythm, Task
from servicedesk.planning.seasons import Season

ROWS = tomllib.loads(DEFAULTS.read_text())


@pytest.mark.django_db
def test_loading_twice_adds_nothing_and_keeps_the_firms_figures():
    first = load_task_defaults()
    Task.objects.filter(slug="filter_change").update(minutes=12)
    Rhythm.objects.filter(task__slug="filter_change", clock=Clock.OP).update(every=90)

    second = load_task_defaults()

    assert first == {"tasks": len(ROWS["task"]), "cautions": len(ROWS["caution"])}
    assert second == {"tasks": 0, "cautions": 0}
    assert Task.objects.get(slug="filter_change").minutes == 12
    assert Rhythm.objects.get(task__slug="filter_change", clock=Clock.OP).every == 90


@pytest.mark.django_db
def test_every_default_is_one_that_the_records_take():
    load_task_defaults()

    for row in [*Task.objects.all(), *Rhythm.objects.all(), *Caution.objects.all()]:
        try:
            row.full_clean()
        except ValidationError as error:
            pytest.fail(f"{row}: {error}")


@pytest.mark.parametrize("row", ROWS["task"], ids=lambda row: row["slug"])
def test_every_task_speaks_the_words_of_the_trade(row):
    assert set(row.get("readings", [])) <= set(Quantity)
    assert set(row.get("part_roles", [])) <= set(PartRole)
    assert set(row.get("compressor_kinds", [])) <= set(CompressorKind)
    assert row.get("position_kind", "filter") in set(PositionKind)
    assert set(row.get("cautions", [])) <= {caution["slug"] for caution in ROWS["caution"]}
    assert (row.get("season") in set(Season)) == any(
        rhythm["clock"] == "season" for rhythm in row["rhythms"]
    )
    for rhythm in row["rhythms"]:
        assert rhythm["mark"] in set(Mark)
        assert rhythm["mark_note"]
        assert set(rhythm.get("condition", {}).get("states", [])) <= set(SystemState)


def test_work_from_a_boat_takes_two_and_shows_its_cautions():
    boats = [row for row in ROWS["task"] if row.get("needs_boat")]

    assert boats
    assert all(row["crew"] == 2 and {"boat", "cold_water"} <= {*row["cautions"]} for row in boats)


def test_no_text_promises_safety():
    assert not re.findall(
        r"\bsafe(?:ly|ty)?\b", re.sub(r'harm = "safety"', "", DEFAULTS.read_text())
    )
