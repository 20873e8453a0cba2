"""Changes of a firm: what they touch, what they leave, and what is refused with a sentence."""

import pytest

from servicedesk.kinds import Clock
from servicedesk.planning.whatif.settings import (
    Interval,
    Settings,
    changed,
    interval_from,
)
from tests.servicedesk.planning.whatif import worlds


@pytest.mark.parametrize(
    ("text", "interval"),
    [
        ("150d", Interval(150, "d")),
        ("2000h", Interval(2000, "h")),
        ("6month", Interval(6, "month")),
        ("6months", Interval(6, "month")),
        ("x1.5", Interval(1.5)),
    ],
)
def test_interval_is_read_as_people_type_it(text, interval):
    assert interval_from(text) == interval


@pytest.mark.parametrize("text", ["", "150", "0d", "x0", "-3d", "two weeks"])
def test_what_is_no_interval_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match="write 150d, 2000h"):
        interval_from(text)


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (Settings(absent=("9",)), "no technician 9"),
        (Settings(added=99), "0 to 50"),
        (Settings(ponds=-1), "0 to"),
        (Settings(factor=0), "between 0.1 and 10"),
        (Settings(full_percent=5), "between 10 and 100"),
        (Settings(shop=(95.0, 0.0)), "latitude"),
        (Settings(intervals={"no_task": Interval(2)}), "No task no_task"),
        (Settings(intervals={"filter_change": Interval(9, "h")}), "counted in d"),
    ],
)
def test_settings_that_do_not_suit_the_firm_are_refused(settings, said):
    with pytest.raises(ValueError, match=said):
        changed(worlds.world(), settings, seed=1)


def test_season_has_no_interval_to_change():
    duty = worlds.duty(clock=Clock.SEASON)
    with pytest.raises(ValueError, match="keeps a season"):
        changed(
            worlds.world(worlds.site(1, duty)),
            Settings(intervals={"filter_change": Interval(2)}),
            seed=1,
        )


def test_new_ponds_lie_among_the_old_ones_and_the_same_draw_gives_the_same():
    world = worlds.many(20)
    found = changed(world, Settings(ponds=30), seed=7)
    new = found.sites[20:]

    assert sum(site.ponds for site in new) == 30
    assert new == changed(world, Settings(ponds=30), seed=7).sites[20:]
    assert new != changed(world, Settings(ponds=30), seed=8).sites[20:]
    assert found.sites[:20] == world.sites
    for name in ("latitude", "longitude"):
        old = [getattr(site, name) for site in world.sites]
        assert all(min(old) <= getattr(site, name) <= max(old) for site in new)


def test_work_at_a_new_pond_counts_for_that_pond_alone():
    found = changed(worlds.many(3), Settings(ponds=40), seed=1)
    keys = [duty.place_key for site in found.sites for duty in site.duties]
    resets = [reset for site in found.sites for duty in site.duties for reset in duty.resets]

    assert len(set(keys)) == len(keys) == 43
    assert len(set(resets)) == len(resets)


def test_who_is_added_works_like_the_first_who_stays_and_begins_at_the_shop():
    home = worlds.person(1, home=(45.2, -93.1))
    world = worlds.world(people=[worlds.person(0), home])
    found = changed(world, Settings(absent=("0",), added=2), seed=1).people

    assert [person.key for person in found] == ["1", "new:1", "new:2"]
    assert found[1].days == home.days
    assert found[1].home is None


def test_settings_come_back_from_their_data_as_they_were():
    settings = Settings(("1",), 2, 1.5, {"filter_change": Interval(9, "d")}, (45.0, -93.0), 60, 90)

    assert Settings.from_data(settings.as_data()) == settings
    assert Settings.from_data({}) == Settings()
