"""A reader finds his own units in what readings say, and none of the other system's."""

import re
from dataclasses import asdict
from itertools import chain

import pytest

from equipment.condition.verdict import assessed
from equipment.kinds import Sign
from tests.make_history import history, later, read

US = re.compile(r"\b(psi|ft|in|inHg|gal|cfm)\b|°F")
METRIC = re.compile(r"\b(k?Pa|mbar|bar|m|cm|mm|L/min|m³/h)\b|°C")
NUMBER = re.compile(r"\d[\d.,]*[\s\u00a0]?([A-Za-z°³/]+)")
SAID = {
    "risen": [read(90, 8.5, lines=(8.5, 8.3, 8.1))],
    "fallen": [read(90, 3.4, boils=(1, 1, 1), va=250.0)],
    "one line": [read(90, 6.0, lines=(6.0, 8.9, 5.8), boils=(3, 0, 3))],
    "flooded": [read(90, 7.2, level_ft=3.0)],
    "in drought": [read(90, 5.1, level_ft=-2.0)],
    "level not read": [read(90, 6.9, level_ft=None)],
    "hot": [read(90, 6.1, rise_c=31.0, va=400.0, seen={Sign.FILTER_LOADED: True})],
    "creeping": [read(60 * n, 6.0 + 0.22 * n) for n in range(1, 8)],
    "another gauge": [read(90, 7.4, gauge="new")],
    "pinned": [read(90, 12.0, lines=(12.0, 12.0, 12.0))],
    "less air": [read(90, 6.0, flow=60.0)],
}


def words(value):
    """Every text in a verdict as it is kept."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from chain.from_iterable(words(one) for one in value.values())
    elif isinstance(value, list | tuple):
        yield from chain.from_iterable(words(one) for one in value)


def said(sets, units, **more):
    verdict = assessed(history(*sets, units=units, **more), on=later(500))
    shown = (verdict.sentences, verdict.data_needed, verdict.opens, verdict.proposals)
    ranking = [asdict(cause) for cause in verdict.ranking.causes] if verdict.ranking else []
    basis = [one.band.basis for one in (*verdict.departures.values(), *verdict.left.values())]
    seen = [one.says for one in (*verdict.signs, *verdict.absent)]
    plain = [asdict(one) if hasattr(one, "__dataclass_fields__") else one for one in chain(*shown)]
    return list(words([plain, ranking, basis, seen]))


@pytest.mark.parametrize("case", SAID)
@pytest.mark.parametrize(
    ("units", "foreign"), [("us", METRIC), ("metric", US)], ids=["us", "metric"]
)
@pytest.mark.parametrize("base", [{}, {"baselines": ()}], ids=["by baseline", "by physics"])
def test_no_sentence_of_a_verdict_speaks_the_other_systems_units(case, units, foreign, base):
    texts = said(SAID[case], units, **base)
    found = [text for text in texts for unit in NUMBER.findall(text) if foreign.fullmatch(unit)]

    assert texts
    assert found == []


def test_own_units_are_spoken():
    assert any(" psi" in text.replace("\u00a0", " ") for text in said(SAID["risen"], "us"))
    assert any(" kPa" in text.replace("\u00a0", " ") for text in said(SAID["risen"], "metric"))
