"""Signs to causes by name. Check rows: tests/reference/diagnosis.json (trade judgement)."""

import json
from pathlib import Path

import pytest

from equipment.kinds import Sign
from servicedesk.planning.calculations import CalculationRefused, calculated

ROWS = json.loads((Path(__file__).parents[2] / "reference" / "diagnosis.json").read_text())["rows"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_cause_of_every_check_row_is_named_first_or_second_in_codes_and_in_words(row):
    kind, wanted = row["compressor_kind"], row["expected_cause_in_first_two"]
    words = [Sign[code].value for code in row["signs"]]

    for signs in (row["signs"], words, ", ".join(row["signs"])):
        for name in ("causes", "signs to causes"):
            inputs = {"signs": signs, "compressor_kind": kind}
            assert wanted in calculated(name, inputs)[:2]
        whole = calculated("diagnosis", {"signs": signs, "compressor_kind": kind})
        assert wanted in [cause["slug"] for cause in whole["causes"][:2]]


@pytest.mark.parametrize("signs", [[], "", " , "])
def test_nothing_found_answers_that_no_fault_is_shown(signs):
    assert calculated("causes", {"signs": signs}) == "no fault shown by these readings"


def test_diagnosis_says_what_to_do_first_and_counts_what_the_firm_found():
    answer = calculated(
        "diagnosis",
        {"signs": ["GFCI_NOW"], "absent": ["GFCI_WARM"], "counts": {"gfci_device_failed": 12}},
    )

    assert "One reset at most" in answer["overrides"][0]
    assert "12 times in 12" in next(
        cause["counted"] for cause in answer["causes"] if cause["slug"] == "gfci_device_failed"
    )


@pytest.mark.parametrize(
    ("inputs", "says"),
    [
        ({"signs": ["P_SIDEWAYS"]}, "no sign"),
        ({"signs": [3]}, "list of signs"),
        ({"signs": ["P_UP"], "compressor_kind": "steam"}, "steam"),
        ({"signs": ["P_UP"], "counts": [9]}, "write counts"),
    ],
)
def test_word_that_is_not_known_is_refused_in_a_sentence(inputs, says):
    with pytest.raises(CalculationRefused, match=says):
        calculated("causes", inputs)
