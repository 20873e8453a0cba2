"""Calculations by name. Check rows: tests/reference/calendar.json; each names its own source."""

import contextlib
import io
import json
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.calculations import CALCULATIONS, CalculationRefused, calculated, slug

ROWS = [
    row
    for row in json.loads((Path(__file__).parents[1] / "reference" / "calendar.json").read_text())[
        "rows"
    ]
    if row["kind"] in {"published", "library"}
]
REJECTED = "reject or clamp, never crash"


@pytest.fixture
def answers(monkeypatch, capsys):
    def ask(*lines):
        text = "\n".join(part if isinstance(part, str) else json.dumps(part) for part in lines)
        monkeypatch.setattr(sys, "stdin", io.StringIO(text))
        call_command("calculate", lines=True)
        return [json.loads(line) for line in capsys.readouterr().out.splitlines()]

    return ask


def judged(row, answer):
    if row["expected"] == REJECTED:
        return "59" in answer["error"]
    return "error" not in answer and answer["result"] == row["expected"]


@pytest.mark.parametrize("named", [str, slug], ids=["quantity", "slug"])
def test_every_check_row_about_days_and_calendars_passes_through_the_door(answers, named):
    given_ = [{"name": named(row["quantity"]), "inputs": row["inputs"]} for row in ROWS]

    found = answers(*given_)

    wrong = [
        (row["id"], answer)
        for row, answer in zip(ROWS, found, strict=True)
        if not judged(row, answer)
    ]
    assert len(ROWS) > 60
    assert wrong == []


def test_line_that_cannot_be_calculated_answers_with_a_sentence_and_the_rest_goes_on(answers):
    found = answers(
        "not json",
        {"name": "no such thing", "inputs": {}},
        {"name": "add_months", "inputs": {"date": "31.1.2026", "months": 1}},
        {"name": "add_months", "inputs": {"date": "2026-01-31"}},
        {"name": "add_months", "inputs": {"date": "2026-01-31", "months": 1, "zone": "x"}},
        {"name": "offset_h", "inputs": {"local": "2026-01-31T09:00", "zone": "Nowhere/Else"}},
        {"name": "recurrence", "inputs": {"dtstart": "20260131", "rrule": "FREQ=DAILY"}},
        {"name": "add_months", "inputs": {"date": "2026-01-31", "months": 1}},
    )

    assert ["error" in answer for answer in found] == [True] * 7 + [False]
    assert "write a day such as 2026-11-25" in found[2]["error"]
    assert "needs 'months'" in found[3]["error"]
    assert "takes no 'zone'" in found[4]["error"]
    assert "Nowhere/Else" in found[5]["error"]
    assert found[7] == {"name": "add_months", "result": "2026-02-28"}


def test_refusal_calls_an_input_as_it_is_asked_and_names_what_may_have_been_meant(answers):
    found = answers(
        {"name": "add_months", "inputs": {"months": 1}},
        {"name": "add_months", "inputs": {"date": "31.1.2026", "months": 1}},
        {"name": "oxygen_saturation", "inputs": {"temperature_C": 20}},
        {"name": "ad_months", "inputs": {}},
    )

    assert "needs 'date'" in found[0]["error"]
    assert found[1]["error"].startswith("date: '31.1.2026' cannot be read")
    assert "Did you mean oxygen_saturation_mg_l?" in found[2]["error"]
    assert "Did you mean add_months" in found[3]["error"]


def test_one_calculation_is_printed_for_people(capsys):
    call_command("calculate", "add_months", "date=2026-11-30", "months=3")

    assert capsys.readouterr().out == "2027-02-28\n"


@pytest.mark.parametrize(
    "words",
    [
        ["sunshine"],
        ["add_months", "date=2026-11-30"],
        ["add_months", "date=2026-11-30", "months=three"],
        ["add_months", "2026-11-30"],
        ["add_months", "months=1", "months=2"],
    ],
)
def test_bad_name_or_value_ends_with_status_2_and_a_sentence(words):
    with pytest.raises(CommandError) as refused:
        call_command("calculate", *words)

    assert refused.value.returncode == 2
    assert len(str(refused.value)) > 20


def test_list_says_what_each_takes_gives_and_rests_on(capsys):
    call_command("calculate", json=True)

    rows = json.loads(capsys.readouterr().out)
    assert [row["name"] for row in rows] == [c.name for c in CALCULATIONS]
    assert all(row["does"] and row["result"] and row["source"] for row in rows)
    clocked = next(row for row in rows if row["name"] == "due_by_run_hours")
    assert "[h/d], 0 to 24" in clocked["inputs"]["hours_per_day"]


scalars = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20))


@given(
    st.sampled_from([c for c in CALCULATIONS if c.name != "recurrence"]),
    st.data(),
)
def test_odd_values_are_refused_and_never_crash(calculation, data):
    taken = calculation.described()["inputs"]
    inputs = {name: data.draw(scalars) for name in taken}

    with contextlib.suppress(CalculationRefused):  # nothing else may come out
        json.dumps(calculated(calculation.name, inputs))


def test_list_holds_units_ranges_and_marks_apart(capsys):
    call_command("calculate", json=True)

    rows = {row["name"]: row for row in json.loads(capsys.readouterr().out)}
    volume = rows["frustum_volume_m3"]
    assert volume["units"] == {"top_radius_m": "m", "bottom_radius_m": "m", "depth_m": "m"}
    assert volume["ranges"]["depth_m"] == [0, 100]
    assert volume["needs"] == ["top_radius_m", "bottom_radius_m", "depth_m"]
    assert rows["geodesic_m"]["ranges"]["lon1"] == [-180, 180]
    assert rows["usual_pressure_psi"]["mark"] == "common_practice"
    assert rows["depth_pressure"]["mark"] == "sourced"


def test_thickness_of_ice_is_printed_with_the_word_that_it_tells_nothing_about_strength(
    capsys, answers
):
    call_command("calculate", "ice_thickness_in", "afdd_F=200", "alpha_in=0.6")
    printed = capsys.readouterr()
    (line,) = answers({"name": "ice_thickness_in", "inputs": {"afdd_F": 200, "alpha_in": 0.6}})

    assert printed.out == "8.48528137\n"
    assert "nothing about strength" in printed.err
    assert "nothing about strength" in line["says"]
