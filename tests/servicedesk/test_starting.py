"""What stops a start says so in one sentence, names what to change, and ends with status 2."""

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError

from servicedesk import embedded


def refusal(program, *arguments):
    """What a start that must not come about prints."""
    refused = program.manage(*(arguments or ("serve", "--port", "0")))

    assert refused.popen.wait(60) == 2
    said = refused.log.read_text()
    assert "Traceback" not in said
    return said


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("HTTPS", "maybe", "SERVICEDESK_HTTPS must be yes or no, not 'maybe'"),
        ("DATABASE_URL", "mysql://host/name", "SERVICEDESK_DATABASE_URL must begin with"),
        ("DATABASE_URL", "postgresql://host:99999/name", "a number up to 65535"),
        ("ADDRESS", "https://", "SERVICEDESK_ADDRESS must begin with"),
        ("HOSTS", "ponds.example.com,https://b.example.com", "not 'https://b.example.com'"),
        ("MAIL_FROM", "nobody", "SERVICEDESK_MAIL_FROM must be an address alone"),
        ("MAIL_FROM", "Alder <desk@example.com>", "SERVICEDESK_MAIL_FROM must be an address"),
        ("ROADS_URL", "routes.example.com", "SERVICEDESK_ROADS_URL must begin with http://"),
        ("ROADS_URL", "http://routes.example.com/?x=1", "address of the routing service alone"),
        ("WEATHER_URL", "http://air.example.com/?x=1", "address of the forecast service alone"),
        ("PROXIES", "two", "SERVICEDESK_PROXIES must be a whole number from 0 to 9, not 'two'"),
        ("SECRET_KEY", "short", "SERVICEDESK_SECRET_KEY must have at least 32 characters"),
    ],
)
def test_setting_that_makes_no_sense_stops_the_start_and_is_named(
    program, tmp_path, name, value, says
):
    settings = {"DATA": tmp_path / "data", "DATABASE_URL": "", "REDIS_URL": ""} | {name: value}

    assert says in refusal(program(**settings))


def test_data_folder_that_is_none_is_named(program, tmp_path):
    (tmp_path / "lock").mkdir()
    blocked = program(DATA=tmp_path, DATABASE_URL="", REDIS_URL="")

    assert f"Nothing can be written to the data folder {tmp_path}" in refusal(blocked)


def test_database_that_cannot_be_reached_is_told_with_the_setting_to_look_at(monkeypatch):
    def missing(*arguments, **options):
        raise OperationalError('database "ponds" does not exist\n')

    monkeypatch.setattr("servicedesk.management.commands.prepare.call_command", missing)

    with pytest.raises(CommandError, match=r'"ponds" does not exist\. Look at') as refused:
        call_command("prepare")
    assert refused.value.returncode == 2


@pytest.mark.parametrize("given", ["", "https://ponds.example.com"])
def test_links_in_mails_lead_to_the_port_that_serves_unless_an_address_is_set(
    given, settings, monkeypatch, tmp_path
):
    settings.DATA = tmp_path
    settings.ADDRESS_IS_SET = bool(given)
    settings.PUBLIC_ADDRESS = given or "http://127.0.0.1:8000"
    monkeypatch.setattr(embedded.app.conf, "broker_url", "memory://localhost")
    served = []
    monkeypatch.setattr(embedded, "_serve_until_stopped", lambda _, announce: announce())

    embedded.run(port=0, announce=served.append)

    assert f"{settings.PUBLIC_ADDRESS}/" == (f"{given}/" if given else served[0])


def test_command_on_a_database_that_nothing_prepared_says_so(program, tmp_path):
    empty = program(DATA=tmp_path / "data", DATABASE_URL="", REDIS_URL="")

    assert "Run manage.py prepare first" in refusal(empty, "due")
