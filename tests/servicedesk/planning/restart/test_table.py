"""Every combination of readings has one way to start, and worse readings never a milder one."""

from dataclasses import replace
from itertools import product

import numpy
import pytest

from servicedesk.planning.calculations import CalculationRefused, calculated
from servicedesk.planning.restart import readings as known
from servicedesk.planning.restart.proposal import proposal
from servicedesk.planning.restart.readings import Fish, Readings, density_difference_kg_m3
from servicedesk.planning.restart.table import TABLE, row_of

RAMPS = {"none": (False, None), "recent": (True, 2), "lapsed": (True, 4)}
WORSE = {  # each from good to bad, one value for each class that the table tells apart
    "off_hours": [12, 36, 100, None],
    "ran_full_time": [True, False],
    "difference": [0.05, 0.3, 1.0, 2.0, None],
    "surface_c": [5, 20, 30, None],
    "bottom_mg_l": [9, 3, 1, None],
    "surface_mg_l": [8, 1],
    "fish": [Fish.WARM_WATER, Fish.COLD_WATER],
    "past_kill": [False, True],
    "smell": [False, True],
    "stop_sign": [False, True],
    "ice": [False, True],
    "layered_season": [False, True],
}
# outside the warm season what nobody knows counts as middling, as the table says
OFF_SEASON = {"difference": [0, 1, 4, 2, 3], "surface_c": [0, 1, 3, 2], "bottom_mg_l": [0, 3, 1, 2]}


def seen(values, ramp):
    opened, days = RAMPS[ramp]
    return Readings(**dict(zip(WORSE, values, strict=True)), ramp=opened, ramp_days=days)


@pytest.fixture(scope="module")
def ranks():
    """The rank of the row for every combination, one array for each state of a ramp."""
    shape = [len(values) for values in WORSE.values()]
    return {
        ramp: numpy.array(
            [row_of(seen(values, ramp)).rank for values in product(*WORSE.values())],
            dtype=numpy.int8,
        ).reshape(shape)
        for ramp in RAMPS
    }


def test_ranks_tell_rows_apart():
    assert sorted(row.rank for row in TABLE) == list(range(len(TABLE)))


def test_every_combination_has_a_row_and_every_row_is_reached(ranks):
    reached = numpy.concatenate([numpy.unique(array) for array in ranks.values()])

    assert set(reached.tolist()) == set(range(len(TABLE)))


@pytest.mark.parametrize("name", WORSE)
@pytest.mark.parametrize("ramp", RAMPS)
def test_one_worse_reading_never_gives_a_milder_way(ranks, ramp, name):
    axis = list(WORSE).index(name)
    season = list(WORSE).index("layered_season")
    for in_season in (0, 1):
        part = ranks[ramp].take([in_season], axis=season) if name != "layered_season" else None
        part = ranks[ramp] if part is None else part
        if not in_season and name in OFF_SEASON:
            part = part.take(OFF_SEASON[name], axis=axis)

        assert numpy.diff(part, axis=axis).min(initial=0) >= 0


def test_a_ramp_that_lapsed_never_leads_to_a_milder_way_than_none_or_a_recent_one(ranks):
    assert (ranks["lapsed"] >= ranks["none"]).all()
    assert (ranks["lapsed"] >= ranks["recent"]).all()


@pytest.mark.parametrize(
    ("name", "unknown", "as_bad_as"),
    [
        ("ran_full_time", None, False),
        ("past_kill", None, True),
        ("ice", None, True),
        ("layered_season", None, True),
        ("fish", Fish.UNKNOWN, Fish.COLD_WATER),
    ],
)
def test_what_nobody_knows_counts_as_the_worst(name, unknown, as_bad_as):
    for values in product(*(values[::2] for values in WORSE.values())):
        bad = replace(seen(values, "none"), **{name: as_bad_as})

        assert row_of(replace(bad, **{name: unknown})) is row_of(bad)


def test_a_spell_of_heat_or_a_treatment_only_adds_to_what_is_waited_for():
    for values in product(*(values[::2] for values in WORSE.values())):
        calm = seen(values, "none")
        hot, plain = proposal(replace(calm, bad_weather_coming=True)), proposal(calm)
        treated = proposal(calm, treated=True)

        assert (hot.path, treated.path) == (plain.path, plain.path)
        assert len(hot.waits) == len(treated.waits) == len(plain.waits) + 1


EVEN = Readings(
    off_hours=3000, difference=0.05, surface_c=8, bottom_mg_l=9, layered_season=False, ice=False
)
LIMITS = [  # each side of each limit of the table
    ({"difference": 0.0999}, "R6"),
    ({"difference": 0.1}, "R8"),
    ({"difference": 0.4999}, "R8"),
    ({"difference": 0.5}, "R5"),
    ({"difference": 1.5}, "R5"),
    ({"difference": 1.5001}, "R3"),
    ({"bottom_mg_l": 4}, "R6"),
    ({"bottom_mg_l": 3.99}, "R8"),
    ({"bottom_mg_l": 2}, "R8"),
    ({"bottom_mg_l": 1.99}, "R5"),
    ({"bottom_mg_l": None}, "R8"),
    ({"bottom_mg_l": None, "layered_season": True}, "R5"),
    ({"difference": None}, "R8"),
    ({"difference": None, "surface_c": 12}, "R8"),
    ({"difference": None, "surface_c": 12.1}, "R5"),
    ({"difference": None, "surface_c": 27.1}, "R3"),
    ({"difference": None, "layered_season": True}, "R3"),
    ({"difference": 0.1, "surface_c": 27}, "R8"),
    ({"difference": 0.1, "surface_c": 27.1}, "R3"),
    ({"difference": 0.05, "surface_c": 27.1}, "R6"),
    ({"difference": 0.1, "past_kill": True}, "R3"),
    ({"difference": 0.05, "past_kill": True}, "R6"),
    ({"smell": True}, "R3"),
    ({"off_hours": 23.9, "ran_full_time": True}, "R4"),
    ({"off_hours": 24, "ran_full_time": True, "bottom_mg_l": 3}, "R7"),
    ({"off_hours": 23.9, "ran_full_time": False, "bottom_mg_l": 3}, "R7"),
    ({"off_hours": 72, "bottom_mg_l": 3}, "R7"),
    ({"off_hours": 72.1, "bottom_mg_l": 3}, "R8"),
    ({"off_hours": None, "bottom_mg_l": 3}, "R8"),
    ({"off_hours": 12, "ran_full_time": True, "difference": 1.0}, "R4"),
    ({"off_hours": 12, "ran_full_time": True, "difference": 1.0, "layered_season": True}, "R5"),
    ({"ice": True}, "R1"),
    ({"ice": None}, "R1"),
    ({"ramp": True, "ramp_days": 3}, "R2"),
    ({"ramp": True, "ramp_days": 3.1}, "R6"),
    ({"ramp": True, "ramp_days": 3, "smell": True}, "R3"),
    ({"ramp": True, "ramp_days": 3, "surface_mg_l": 2.9}, "R8"),
    ({"fish": Fish.COLD_WATER, "difference": 0.1, "layered_season": True}, "R0"),
    ({"fish": Fish.COLD_WATER, "difference": 0.0999, "layered_season": True}, "R6"),
    ({"fish": Fish.COLD_WATER, "difference": 0.1, "layered_season": False}, "R8"),
    ({"fish": Fish.COLD_WATER, "difference": None, "layered_season": True}, "R0"),
]


@pytest.mark.parametrize(("changed", "code"), LIMITS)
def test_limits_of_the_table(changed, code):
    assert row_of(replace(EVEN, **changed)).code == code


def test_difference_of_density_is_that_of_published_figures():
    """2 degrees are 0.49 kg/m3 at 23 to 25 C and 0.15 at 8 to 10 C.

    Pure water of the 1990 temperature scale, CRC Handbook: 997.0480 and 997.5415; 999.7027 and
    999.8509.
    """
    assert density_difference_kg_m3([25, 23]) == pytest.approx(997.5415 - 997.0480, abs=0.01)
    assert density_difference_kg_m3([10, 8]) == pytest.approx(999.8509 - 999.7027, abs=0.01)


def test_a_heavy_layer_in_the_middle_does_not_hide():
    assert density_difference_kg_m3([20, 12, 16]) == density_difference_kg_m3([20, 12])


def test_one_temperature_is_no_profile():
    assert density_difference_kg_m3([20]) is None
    assert not known.reaches_down(1.0, 5.0)
    assert known.reaches_down(3.0, 5.0)


def asked(**inputs):
    return calculated("restart_path", inputs)


def test_spring_pond_that_is_mixed_runs_without_a_break_and_is_looked_at_on_day_two():
    """Top 8.0, bottom 7.4 with 9 mg/L, three days after the ice left."""
    said = asked(top_c=8.0, bottom_c=7.4, bottom_do=9, ice=False, stratified_season=False)

    assert (said["path"], said["minutes"], said["follow_up_days"]) == ("R6", [1440], [2])


def test_layered_pond_in_june_gets_the_slow_ramp_or_waits():
    """24 above 13, 0.4 mg/L at the bottom, off since November."""
    said = asked(off_hours=5000, top_c=24, bottom_c=13, bottom_do=0.4, stratified_season=True)

    assert (said["path"], said["mark"]) == ("R3", "judgement")
    assert said["minutes"] == [15, 30, 45, 60, 75, 90, 105, 120, 240, 480, 960, 1440]
    assert said["difference_kg_m3"] == pytest.approx(2.08, abs=0.02)
    assert any("autumn" in step for step in said["steps"])


def test_pond_that_turned_over_holds_the_mean_of_its_halves_at_best():
    said = asked(top_c=24, bottom_c=13, top_do=8, bottom_do=0.4, stratified_season=True)

    assert said["turned_over_mg_l"] == pytest.approx(4.2)


def test_what_nobody_knows_may_be_written_as_a_word():
    assert asked(off_hours="unknown", ice="unknown")["path"] == "R1"


@pytest.mark.parametrize(
    "inputs",
    [{"off_hours": -1}, {"bottom_do": 50}, {"fish": "whale"}, {"top_c": 99, "bottom_c": 4}],
)
def test_figures_that_no_pond_has_are_refused_with_a_sentence(inputs):
    with pytest.raises(CalculationRefused, match=r"restart_path: "):
        asked(**inputs)
