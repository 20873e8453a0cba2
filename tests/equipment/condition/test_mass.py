"""Many sites alike on one day are the weather; a few, or some this way and some that, are not."""

from datetime import timedelta

from equipment.condition.mass import Move, mass_patterns
from equipment.condition.verdict import State, assessed
from tests.make_history import DAY, history, later, read


def moves(up=0, still=0, down=0, *, days=0, sites=None):
    shares = [1.1] * up + [0.1] * still + [-1.1] * down
    on = DAY + timedelta(days=days)
    return [Move(n, n if sites is None else n % sites, on, s) for n, s in enumerate(shares)]


def test_flood_over_forty_systems_is_one_message_about_the_weather():
    (pattern,) = mass_patterns(moves(up=40))

    assert (pattern.up, pattern.sites, pattern.read) == (True, 40, 40)
    assert "the weather or the water's level, not wear" in pattern.says


def test_flood_of_two_days_is_one_message():
    assert len(mass_patterns([*moves(up=20), *moves(up=20, days=1)])) == 1


def test_few_sites_are_no_pattern():
    assert mass_patterns(moves(up=4)) == ()
    assert mass_patterns(moves(up=40, sites=4)) == ()


def test_some_up_among_many_still_are_no_pattern():
    assert mass_patterns(moves(up=6, still=10)) == ()


def test_drought_is_told_as_below():
    (pattern,) = mass_patterns(moves(down=12, still=3))

    assert not pattern.up
    assert "below what is expected" in pattern.says


def test_pressure_against_the_pattern_still_speaks_for_itself():
    pattern = mass_patterns(moves(up=40, days=90))
    fallen = history(read(90, 4.8, level_ft=None, boils=(2, 2, 2)))

    assert assessed(fallen, on=later(90), mass=pattern).state == State.FINDING


def test_system_that_rose_with_the_others_is_no_finding():
    pattern = mass_patterns(moves(up=40, days=90))
    risen = history(read(90, 7.1, level_ft=None), swing_m=0.0)

    assert assessed(risen, on=later(90)).state == State.FINDING
    with_them = assessed(risen, on=later(90), mass=pattern)
    assert with_them.state == State.NO_FAULT
    assert with_them.pressure_share > 1
