"""Causes of faults. Check rows: tests/reference/diagnosis.json (trade judgement, no field data)."""

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.condition import causes
from equipment.condition.causes import KNOWN, ranked
from equipment.kinds import CIRCUMSTANCES, SIGN_WORDS, CompressorKind, Sign

ROWS = json.loads((Path(__file__).parents[2] / "reference" / "diagnosis.json").read_text())["rows"]
some_signs = st.sets(st.sampled_from(list(Sign)), max_size=8)
some_kind = st.sampled_from([None, *CompressorKind])


def first(signs, count=1, **more):
    return [cause.slug for cause in ranked(signs.split(), **more).causes[:count]]


def everything(ranking):
    return {cause.slug: cause for cause in ranking.causes + ranking.others}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_every_check_row_has_its_cause_in_the_first_two(row):
    found = ranked(row["signs"], compressor_kind=row["compressor_kind"])

    assert row["expected_cause_in_first_two"] in [cause.slug for cause in found.causes[:2]]


PATTERNS = {
    "pressure up over months and boils weaker is fouling": (
        "P_UP B_ONE_WEAK VA_UP",
        None,
        "membrane_fouled",
    ),
    "pressure up with coarse bubbles everywhere is old rubber": (
        "P_UP B_COARSE_ALL ALL_LINES_SAME",
        None,
        "membrane_aged_stiff",
    ),
    "pressure up at once and one boil gone is a valve": (
        "P_UP_STEP B_ONE_NONE",
        None,
        "valve_moved",
    ),
    "the same after mowing is a crushed line": (
        "P_UP_STEP B_ONE_NONE AFTER_MOWING_OR_DIG",
        None,
        "line_crushed_or_kinked",
    ),
    "the same in frost is ice": ("P_UP_STEP B_ONE_NONE FROST", None, "ice_plug"),
    "all boils gone with the relief valve blowing in frost is ice": (
        "P_UP_STEP B_ALL_NONE RELIEF_OPEN FROST",
        None,
        "ice_plug",
    ),
    "all boils gone with the relief valve blowing in summer is the main line": (
        "P_UP_STEP B_ALL_NONE RELIEF_OPEN MOTOR_RUNS",
        None,
        "main_line_or_all_valves_shut",
    ),
    "pressure, boils and power down over months is wear": (
        "P_DOWN B_ALL_WEAK VA_DOWN",
        None,
        "compressor_worn",
    ),
    "pressure down at once with bubbles beside the plate is a line under water": (
        "P_DOWN_STEP B_OFF_PLATE",
        None,
        "line_leak_in_water",
    ),
    "pressure down at once with a moved boil is a dragged plate": (
        "P_DOWN_STEP B_MOVED AFTER_STORM",
        None,
        "plate_moved_shallow",
    ),
    "pressure down at once, all boils weak and a hiss is a leak on the shore": (
        "P_DOWN_STEP B_ALL_WEAK N_HISS",
        None,
        "leak_on_shore",
    ),
    "the same with an open relief valve and pinned pressure is the relief valve": (
        "RELIEF_OPEN P_PINNED B_ALL_WEAK N_HISS",
        None,
        "relief_stuck_open",
    ),
    "one huge boil and weak others is a torn membrane": (
        "P_DOWN B_COARSE_ONE B_ALL_WEAK",
        None,
        "membrane_torn",
    ),
    "lower pressure in winter position is the position": (
        "P_DOWN WINTER_CONFIG",
        None,
        "winter_configuration",
    ),
    "all lines up alike with high water is the water": (
        "ALL_LINES_SAME P_UP LEVEL_UP",
        None,
        "water_level_changed",
    ),
    "all lines down alike with low water is the water": (
        "ALL_LINES_SAME P_DOWN LEVEL_DOWN",
        None,
        "water_level_changed",
    ),
    "no pressure and a running motor is the drive": (
        "P_ZERO B_ALL_NONE MOTOR_RUNS",
        "piston",
        "drive_or_all_cups_broken",
    ),
    "no pressure of a linear unit is its diaphragm": (
        "P_ZERO B_ALL_NONE MOTOR_RUNS",
        "linear",
        "diaphragm_torn",
    ),
    "no pressure, no power, motor silent is power or timer": (
        "P_ZERO VA_ZERO B_ALL_NONE",
        "piston",
        "power_or_timer_off",
    ),
    "a hum after a restart is trapped pressure": (
        "N_HUM B_ALL_NONE AFTER_RESTART",
        "piston",
        "restart_against_pressure",
    ),
    "a hum with the breaker out is the capacitor": ("N_HUM BREAKER", "piston", "start_capacitor"),
    "a hum after winter is rust": ("N_HUM AFTER_WINTER", "linear", "seized_after_winter"),
    "stopping and starting with a dead fan is the fan": (
        "CYCLING FAN_STOPPED RISE_HIGH",
        None,
        "fan_failed",
    ),
    "a hot cabinet with blocked vents is the vents": (
        "VENT_BLOCKED RISE_HIGH",
        None,
        "vents_blocked",
    ),
    "power up with pressure up is a restriction downstream": (
        "VA_UP P_UP",
        None,
        "membrane_fouled",
    ),
    "power up with low volts and heat is the supply": (
        "VA_UP VOLTS_LOW RISE_HIGH",
        None,
        "low_voltage",
    ),
    "power up with a knock and heat is a bearing": ("VA_UP N_KNOCK RISE_HIGH", None, "bearing"),
    "power down with pressure down is wear": ("VA_DOWN P_DOWN", None, "compressor_worn"),
    "an outlet that trips at once has a ground fault on it": (
        "GFCI_NOW",
        None,
        "ground_fault_motor_or_cord",
    ),
    "an outlet that trips when warm has a ground fault on it": (
        "GFCI_WARM",
        None,
        "ground_fault_motor_or_cord",
    ),
    "an outlet that trips in rain is wet": ("GFCI_WET", None, "moisture_in_electrics"),
    "a knock is a rod or bearing": ("N_KNOCK", None, "bearing"),
    "a screech of a vane unit is its vanes": ("N_SCREECH DUST_BLACK", "vane", "vane_failure"),
    "a roaring intake has no element": ("N_ROAR FILTER_MISSING", None, "intake_unprotected"),
    "a burnt smell is a winding": ("O_BURNT GFCI_NOW", None, "ground_fault_motor_or_cord"),
    "rotten eggs after a start is bottom water": (
        "O_H2S AFTER_RESTART",
        None,
        "stratified_water_rising",
    ),
    "gasping fish with a running system is the pond's own demand": (
        "FISH_GASP MOTOR_RUNS",
        None,
        "oxygen_demand_event",
    ),
    "water in the hose is a check valve": ("WATER_IN_LINE", None, "check_valve_leaking"),
    "a swinging needle is a reed": ("P_SWING", "piston", "reed_or_one_cup_broken"),
    "an absurd reading with normal boils is the gauge": ("P_FLAT NEW_GAUGE", None, "gauge_wrong"),
    "too few hours is power or timer": ("HOURS_SHORT", None, "power_or_timer_off"),
    "too many hours is the meter": ("HOURS_IMPOSSIBLE", None, "meter_fault_or_typo"),
    "a second hole in the ice is a leaking line": ("SECOND_HOLE", None, "line_leak_in_water"),
    "a shrinking boil and rising pressure in frost is ice": (
        "FROST P_UP B_ALL_WEAK",
        None,
        "ice_plug",
    ),
    "high pressure after winter is silted membranes": (
        "AFTER_WINTER P_UP B_ALL_WEAK",
        None,
        "membrane_fouled",
    ),
    "a loaded filter, weak boils, heat and level pressure is the filter": (
        "FILTER_LOADED F_DOWN B_ALL_WEAK RISE_HIGH P_FLAT",
        None,
        "intake_filter_loaded",
    ),
}


@pytest.mark.parametrize("pattern", PATTERNS)
def test_pattern_of_the_trade_has_its_cause_in_the_first_two(pattern):
    signs, kind, expected = PATTERNS[pattern]

    assert expected in first(signs, 2, compressor_kind=kind)


def test_nothing_found_shows_no_fault():
    found = ranked([], absent=list(Sign))

    assert (found.says, found.causes, found.first_check) == (
        "no fault shown by these readings",
        (),
        None,
    )


def test_water_in_the_cabinet_names_no_cause_and_yet_says_what_to_do():
    found = ranked(["water_in_cabinet"])

    assert "licensed electrician" in found.overrides[0]
    assert "no fault" not in found.says


def test_what_to_do_first_stands_before_any_cause_and_in_the_order_of_danger():
    found = ranked(["fish_gasping", "breaker_trips", "water_in_cabinet"])

    assert [says[:24] for says in found.overrides] == [
        "Do not touch or open the",
        "Do not reset the breaker",
        "Call the manager now. Du",
    ]


def test_dirty_intake_filter_is_no_restriction_downstream():
    listed = everything(ranked(["FILTER_LOADED", "B_ALL_WEAK", "RISE_HIGH", "P_FLAT"]))

    assert first("FILTER_LOADED B_ALL_WEAK RISE_HIGH P_FLAT") == ["intake_filter_loaded"]
    assert not listed.keys() & {"membrane_fouled", "line_crushed_or_kinked", "valve_moved"}
    against = everything(ranked(["P_UP", "FILTER_LOADED"]))["intake_filter_loaded"]
    assert "Against it: pressure up" in against.because


def test_worn_compressor_draws_less_and_never_more():
    assert "compressor_worn" not in everything(ranked(["VA_UP", "RISE_HIGH"]))
    assert first("P_DOWN VA_DOWN") == ["compressor_worn"]


def test_ice_is_never_named_without_frost():
    assert "ice_plug" not in everything(ranked(["P_UP_STEP", "B_ALL_NONE", "RELIEF_OPEN"]))


def test_cause_of_another_kind_of_compressor_is_not_listed():
    listed = everything(ranked(["P_ZERO", "B_ALL_NONE"], compressor_kind="linear"))

    assert "diaphragm_torn" in listed
    assert not listed.keys() & {"drive_or_all_cups_broken", "start_capacitor"}


def test_score_is_prior_and_weights_less_what_is_missing_and_what_speaks_against():
    found = everything(ranked(["B_ONE_WEAK", "F_DOWN", "P_DOWN"], absent=["P_UP"]))

    assert found["membrane_fouled"].score == 2 + 3 + 1 - 1.5 - 3
    assert "Looked for and not there: pressure up." in found["membrane_fouled"].because


def test_quicker_check_of_the_first_two_tells_them_apart():
    found = ranked(["P_UP", "ALL_LINES_SAME", "B_COARSE_ALL"])

    assert [cause.minutes for cause in found.causes[:2]] == [50, 1]
    assert (found.first_check.slug, found.first_check.owner_may) == ("water_level_changed", True)
    assert found.first_check.check in found.says


def test_counts_of_the_firm_raise_a_cause_and_say_so():
    plain = everything(ranked(["P_UP_STEP", "B_ONE_NONE"]))
    moved = everything(
        ranked(
            ["P_UP_STEP", "B_ONE_NONE"],
            counts={"check_valve_stuck_closed": 9, "valve_moved": 21},
        )
    )

    raised = moved["check_valve_stuck_closed"]
    assert raised.score == plain["check_valve_stuck_closed"].score + 1
    assert raised.counted == "Raised because this firm found it 9 times in 30."
    assert moved["line_crushed_or_kinked"].counted == ""


def test_one_finding_of_the_firm_moves_nothing_and_a_thousand_move_one_point_at_most():
    signs = ["P_UP", "B_ONE_WEAK", "B_COARSE_ONE"]
    plain = everything(ranked(signs))
    for slug in plain:
        once = everything(ranked(signs, counts={slug: 1}))
        often = everything(ranked(signs, counts={slug: 1000}))
        assert once[slug].score == plain[slug].score
        assert all(abs(often[other].score - plain[other].score) <= 1 for other in plain)
        assert often[slug].score == plain[slug].score + 1


def test_count_of_a_cause_that_is_not_in_the_list_changes_nothing():
    assert ranked(["P_UP"], counts={"gremlins": 40}) == ranked(["P_UP"])


@given(st.dictionaries(st.sampled_from(list(KNOWN)), st.integers(0, 60), max_size=8), some_signs)
def test_more_findings_of_a_cause_never_lower_it(counts, signs):
    before = everything(ranked(signs, counts=counts))
    for slug, cause in before.items():
        more = everything(ranked(signs, counts={**counts, slug: counts.get(slug, 0) + 5}))
        assert more[slug].score >= cause.score
        assert bool(cause.counted) == (cause.score != everything(ranked(signs))[slug].score)


@given(some_signs, some_signs, some_kind, st.sampled_from(list(KNOWN)))
def test_strong_sign_of_a_cause_never_lowers_it(present, absent, kind, slug):
    before = everything(ranked(present, absent, compressor_kind=kind))
    for strong in KNOWN[slug].strong:
        after = everything(ranked({*present, strong}, absent, compressor_kind=kind))
        if slug in before:
            assert after[slug].score >= before[slug].score


@given(some_signs, some_signs, st.sampled_from(list(Sign)), some_kind)
def test_sign_that_was_looked_for_in_vain_never_raises_a_cause(present, absent, sought, kind):
    if sought in present:
        return
    before = everything(ranked(present, absent, compressor_kind=kind))
    after = everything(ranked(present, {*absent, sought}, compressor_kind=kind))

    assert after.keys() == before.keys()
    assert all(after[slug].score <= before[slug].score for slug in before)


@given(some_signs, some_kind)
def test_unknown_is_not_absent(present, kind):
    nothing_sought = everything(ranked(present, compressor_kind=kind))
    all_sought = everything(ranked(present, set(Sign), compressor_kind=kind))

    for slug, cause in nothing_sought.items():
        missing = [one for one in KNOWN[slug].strong if one not in present]
        assert all_sought[slug].score == cause.score - 1.5 * len(missing)


@given(st.lists(st.sampled_from(list(Sign)), max_size=8), st.randoms(), some_kind)
def test_order_of_signs_never_matters(present, chance, kind):
    other = list(present)
    chance.shuffle(other)

    assert ranked(other, compressor_kind=kind) == ranked(present, compressor_kind=kind)
    codes = [one.name for one in present]
    assert ranked(codes, compressor_kind=kind) == ranked(present, compressor_kind=kind)


@given(some_signs)
def test_causes_of_one_score_stand_in_the_order_of_their_words(present):
    found = ranked(present)
    row = [(-cause.score, cause.words) for cause in found.causes + found.others]

    assert row == sorted(row)
    assert len(found.causes) == min(3, len(row))


def test_word_that_is_no_sign_is_refused_in_a_sentence():
    with pytest.raises(ValueError, match="'presure_up' is no sign"):
        ranked(["presure_up"])


def test_every_sign_has_words_and_every_cause_can_be_read_and_checked():
    assert SIGN_WORDS.keys() == set(Sign)
    assert set(Sign) > CIRCUMSTANCES
    assert causes.MARK == "judgement"
    assert len({known.words for known in KNOWN.values()}) == len(KNOWN)
    for known in KNOWN.values():
        assert all((known.words, known.means, known.why, known.check))
        assert known.who in {"owner", "technician", "electrician"}
        assert math.isfinite(known.minutes)
        assert set(known.strong) <= known.weights.keys()


def test_what_an_owner_may_check_stays_outside_the_closed_cabinet():
    for known in KNOWN.values():
        if known.who == "owner" and known.slug != "water_level_changed":
            assert "cabinet stays closed" in known.caution


@pytest.mark.parametrize("slug", ["ice_plug", "ground_fault_motor_or_cord", "plate_moved_shallow"])
def test_check_that_can_hurt_carries_its_caution(slug):
    words = {"ice_plug": "nobody steps on the ice", "plate_moved_shallow": "life jackets worn"}

    assert words.get(slug, "Nobody in the water") in KNOWN[slug].caution


def test_no_text_of_the_matrix_promises_that_something_is_without_danger():
    whole = (Path(causes.__file__).with_name("causes.toml")).read_text().lower()

    assert "safe" not in whole
    assert "%" not in whole.replace("10 % of the nameplate", "")
