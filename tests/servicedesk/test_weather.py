"""Asking a forecast service on a real socket: what it says is believed only when it is weather."""

import socket

import pytest

from servicedesk.roads import NoAnswer
from servicedesk.weather import days_at


def ask(service, within_s=5.0):
    return days_at(service.url, 44.9, -93.2, within_s=within_s)


def with_days(**fields):
    return lambda said: said | {"daily": said["daily"] | fields}


def test_days_before_and_after_today_are_read(weather_service):
    found = ask(weather_service)

    assert len(found) == 21
    assert (found[0].on.isoformat(), found[0].low_c, found[0].high_c) == ("2026-11-11", -6, -2)
    assert weather_service.asked[0]["latitude"] == "44.9000"
    assert weather_service.asked[0]["timezone"] == "auto"


def test_day_that_the_service_does_not_know_is_left_out(weather_service):
    weather_service.change = with_days(temperature_2m_min=[None] + [-6.0] * 20)

    assert len(ask(weather_service)) == 20


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"temperature_2m_min": [-6.0]}, "something else"),
        ({"temperature_2m_min": ["cold"] * 21}, "something else"),
        ({"temperature_2m_min": [float("nan")] * 21}, "no day has"),
        ({"temperature_2m_max": [99.0] * 21}, "no day has"),
        ({"temperature_2m_min": [5.0] * 21}, "no day has"),
        ({"time": ["soon"] * 21}, "something else"),
    ],
)
def test_answer_that_is_no_weather_is_not_believed(weather_service, fields, says):
    weather_service.change = with_days(**fields)

    with pytest.raises(NoAnswer, match=says):
        ask(weather_service)


@pytest.mark.parametrize("body", [b"", b"<html>", b"[]", b'{"daily": 3}', b"[" * 5000])
def test_body_that_is_no_table_is_not_believed(weather_service, body):
    weather_service.body = body

    with pytest.raises(NoAnswer, match="something else"):
        ask(weather_service)


def test_service_that_fails_or_is_late_or_away_is_no_answer(weather_service):
    weather_service.status = 503
    with pytest.raises(NoAnswer, match="503"):
        ask(weather_service)
    weather_service.after_s = 2
    with pytest.raises(NoAnswer, match="in time"):
        ask(weather_service, within_s=0.3)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        with pytest.raises(NoAnswer, match="did not answer"):
            days_at(f"http://127.0.0.1:{free.getsockname()[1]}", 44.9, -93.2, within_s=1)
