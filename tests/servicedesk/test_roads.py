"""Asking a routing service: what it says is believed only when it fits what was asked."""

import json
import time
from pathlib import Path

import pytest

from servicedesk import roads

EXAMPLE = json.loads((Path(__file__).parents[1] / "reference" / "roads.json").read_text())
SPOTS = [(52.517037, 13.388860), (52.529407, 13.397634), (52.523219, 13.428555)]


def ask(service, within_s=5.0, spots=SPOTS):
    numbers = list(range(len(spots)))
    return roads.drives(service.url, spots, numbers, numbers, within_s=within_s)


def test_example_of_the_services_own_documentation_is_read(road_service):
    road_service.change = lambda _: EXAMPLE["answer"]

    drives = ask(road_service)

    assert drives[0][1] == (192.6, 1886.89)
    assert drives[2][0] == (344.7, 3275.36)


def test_service_is_asked_as_its_documentation_says(road_service):
    roads.drives(road_service.url + "/", SPOTS, [0, 2], [1], within_s=5)

    ((places, sources, ends),) = road_service.asked
    # longitude first, and the places of the example to five decimals
    assert places == [(13.38886, 52.51704), (13.39763, 52.52941), (13.42855, 52.52322)]
    assert (sources, ends) == ([0, 2], [1])


def test_drive_without_a_road_has_neither_minutes_nor_metres(road_service):
    road_service.change = lambda said: said | {"durations": [[0, None, 1], [1, 0, 1], [1, 1, 0]]}

    assert ask(road_service)[0][1] == (None, None)


def with_cell(name, cell):
    return lambda said: said | {name: [[cell, 1, 1], *said[name][1:]]}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda said: said | {"durations": said["durations"][:2]}, "durations of another size"),
        (lambda said: said | {"distances": [row[:2] for row in said["distances"]]}, "another size"),
        (lambda said: {k: v for k, v in said.items() if k != "distances"}, "distances of another"),
        (with_cell("durations", "soon"), "no figures"),
        (with_cell("durations", True), "no figures"),
        (with_cell("distances", -1), "no figures"),
        (with_cell("distances", float("nan")), "no figures"),
        (with_cell("durations", 1e12), "no figures"),
        (lambda said: said | {"code": "NoTable"}, "something else than drives"),
        (lambda said: [said], "something else than drives"),
    ],
)
def test_answer_that_does_not_fit_the_question_is_not_believed(road_service, change, says):
    road_service.change = change

    with pytest.raises(roads.NoAnswer, match=says):
        ask(road_service)


@pytest.mark.parametrize("status", [429, 500, 302, 204])
def test_every_status_but_200_is_no_answer(road_service, status):
    road_service.status = status
    road_service.body = b"" if status == 204 else None

    with pytest.raises(roads.NoAnswer, match=f"answered with status {status}"):
        ask(road_service)


def test_reason_that_the_service_gives_is_told(road_service):
    road_service.status = 400
    road_service.change = lambda _: {"code": "TooBig", "message": "Too many table coordinates"}

    with pytest.raises(roads.NoAnswer, match="status 400, TooBig"):
        ask(road_service)


@pytest.mark.parametrize("body", [b"", b"<html>", b"[" * 100_000, b"\xff\xfe"])
def test_body_that_is_no_json_is_no_answer(road_service, body):
    road_service.body = body

    with pytest.raises(roads.NoAnswer, match="something else than drives"):
        ask(road_service)


def test_endless_answer_is_cut_off(road_service, monkeypatch):
    monkeypatch.setattr(roads, "MOST_BYTES", 100)

    with pytest.raises(roads.NoAnswer, match="too long"):
        ask(road_service)


@pytest.mark.parametrize("late", [{"after_s": 1.0}, {"drip_s": 0.15}], ids=["late", "dripping"])
def test_late_service_is_waited_for_no_longer_than_was_said(road_service, late):
    vars(road_service).update(late)
    began = time.monotonic()

    with pytest.raises(roads.NoAnswer, match="did not answer in time"):
        ask(road_service, within_s=0.4)
    assert time.monotonic() - began < 0.8


def test_service_that_is_not_there_is_told_apart(road_service):
    road_service.stop()

    with pytest.raises(roads.NoAnswer, match="did not answer"):
        ask(road_service)


def test_more_places_than_a_call_takes_are_a_fault_of_our_own():
    spots = [(45 + n / 1000, -93) for n in range(roads.MOST_PLACES + 1)]

    with pytest.raises(ValueError, match="the service takes 100"):
        roads.drives("http://127.0.0.1:9", spots, [0], [1], within_s=1)


def test_places_a_metre_apart_are_one_and_ten_metres_apart_are_two():
    here = roads.spot_key((44.9, -93.2))

    assert roads.spot_key((44.900004, -93.200004)) == here
    assert len({here, roads.spot_key((44.9001, -93.2)), roads.spot_key((44.9, -93.2001))}) == 3
    corners = {roads.spot_key(spot) for spot in [(90, 180), (-90, -180), (90, -180), (-90, 180)]}
    assert len(corners) == 4
    assert max(corners) < 2**63
