"""What season windows rest on is asked for, once, and until it is known."""

from datetime import UTC, date, datetime

import pytest

from equipment.kinds import WinterMode
from servicedesk.actions.due import refresh_all
from servicedesk.actions.seasons import ask_about_seasons
from servicedesk.models import OfficeTask
from tests import make

pytestmark = pytest.mark.django_db
SEPTEMBER = datetime(2026, 9, 2, 15, tzinfo=UTC)
JUNE = datetime(2026, 6, 2, 15, tzinfo=UTC)


def served(region, **fields):
    filter_ = make.filter_position(make.system(site=make.site(region=region), **fields))
    make.task()
    refresh_all(now=JUNE)
    return filter_.system


def open_texts():
    return list(OfficeTask.objects.filter(handled_at=None).values_list("text", flat=True))


def test_region_without_its_usual_days_is_a_question_until_they_are_entered():
    region = make.region(ice_on_typical="", ice_on_earliest="")
    served(region, winter_mode=WinterMode.RUN_DEEP)

    ask_about_seasons(now=JUNE)
    ask_about_seasons(now=JUNE)

    assert open_texts() == [
        f"{region}: Nobody has entered when ponds of this region usually freeze. Ask, and enter it."
    ]

    region.ice_on_typical = "12-05"
    region.save()
    ask_about_seasons(now=JUNE)

    assert open_texts() == []


def test_winter_modes_are_asked_for_in_september():
    system = served(make.region())
    ask_about_seasons(now=JUNE)
    assert open_texts() == []

    ask_about_seasons(now=SEPTEMBER)

    (asked,) = OfficeTask.objects.all()
    assert "systems without a winter mode: 1." in asked.text
    assert asked.due_on == date(2026, 10, 31)

    system.winter_mode = WinterMode.SHUT_DOWN
    system.save()
    ask_about_seasons(now=SEPTEMBER)

    assert open_texts() == []


def test_region_without_winter_asks_nothing():
    served(make.region(has_winter=False, ice_on_typical="", ice_out_typical=""))

    ask_about_seasons(now=SEPTEMBER)

    assert not OfficeTask.objects.exists()
