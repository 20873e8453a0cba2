"""Weather of regions: loaded whole or not at all, fetched without harm, told once."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from servicedesk.actions.weather import (
    WeatherRefused,
    fetch_weather,
    load_weather,
    regions_now,
    watch_weather,
)
from servicedesk.models import DayWeather, OfficeTask
from tests import make

pytestmark = pytest.mark.django_db
NOVEMBER = datetime(2026, 11, 5, 15, tzinfo=UTC)


@pytest.fixture
def region():
    found = make.region(name="Lake country")
    make.system(site=make.site(region=found, lat=44.0, lon=-93.0))
    make.system(site=make.site(region=found, lat=46.0, lon=-94.0))
    return found


def load(text, **fields):
    return load_weather(text, source="file a.csv", now=NOVEMBER, **fields)


def means():
    return dict(DayWeather.objects.values_list("on", "mean_c"))


def test_file_is_written_whole_and_a_later_one_replaces_its_days(region):
    assert load("date,mean_c\n2026-11-04,-3\n2026-11-05,-4\n", region=region) == 2
    assert load("date,region,mean_c\n2026-11-05,Lake country,-6\n") == 1

    assert means() == {date(2026, 11, 4): -3, date(2026, 11, 5): -6}


def test_file_with_one_bad_line_writes_nothing_and_names_the_line(region):
    with pytest.raises(WeatherRefused) as refused:
        load("date,mean_c\n2026-11-04,-3\n2026-11-05,cold\n", region=region)

    assert [fault.line for fault in refused.value.faults] == [3]
    assert means() == {}


def test_service_is_asked_at_the_middle_of_a_region_and_leaves_days_of_a_file(
    region,
    weather_service,
    settings,
):
    settings.WEATHER_URL, weather_service.today = weather_service.url, NOVEMBER.date()
    load("date,mean_c\n2026-11-04,-30\n", region=region)

    assert fetch_weather(clock=lambda: NOVEMBER) == 20
    assert fetch_weather(clock=lambda: NOVEMBER) == 20

    assert weather_service.asked[0]["latitude"] == "45.0000"
    assert means()[date(2026, 11, 4)] == -30
    assert means()[date(2026, 11, 6)] == -4
    assert DayWeather.objects.filter(forecast=True).count() == 6


def test_without_an_address_nobody_is_asked_and_a_service_that_fails_changes_nothing(
    region,
    weather_service,
    settings,
):
    settings.WEATHER_URL = ""
    assert fetch_weather(clock=lambda: NOVEMBER) == 0
    settings.WEATHER_URL, weather_service.status = weather_service.url, 500
    assert fetch_weather(clock=lambda: NOVEMBER) == 0
    assert means() == {}


def test_frost_before_the_winter_window_closes_is_told_to_the_office_once(region):
    load("date,mean_c\n2026-11-03,-3\n2026-11-04,-4\n2026-11-05,-4\n", region=region)

    assert watch_weather(now=NOVEMBER) == 1
    assert watch_weather(now=NOVEMBER + timedelta(days=1)) == 0

    (task,) = OfficeTask.objects.all()
    assert task.text.startswith("Lake country: Frost from 3 November 2026 to 5 November 2026")
    assert task.due_on == date(2026, 11, 13)


@pytest.mark.parametrize("count", [1, 4])
def test_regions_are_watched_in_the_same_number_of_queries(count, django_assert_num_queries):
    for _ in range(count):
        make.system(site=make.site(region=make.region()))
    with django_assert_num_queries(4):
        watch_weather(now=NOVEMBER)
    assert len(regions_now()) == count


def test_command_loads_a_file_or_names_its_bad_lines(region, tmp_path, capsys):
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text("date,mean_c\n2026-11-04,-3\n")
    bad.write_text("date,mean_c\n2026-11-04,cold\n")

    call_command("load_weather", str(good), region="Lake country")
    assert "1 days were written" in capsys.readouterr().out
    with pytest.raises(CommandError) as refused:
        call_command("load_weather", str(bad), region="Lake country")
    assert refused.value.returncode == 2
    assert "line 2: 'cold' is no temperature" in capsys.readouterr().err
    with pytest.raises(CommandError, match="no region"):
        call_command("load_weather", str(good), region="Moon")
